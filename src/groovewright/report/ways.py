"""Which way to move: points in or out, slide, turn; as drawings that need no degree of accuracy."""

from __future__ import annotations

from groovewright.report.body import draw_body, turned
from groovewright.report.picture import FINE, INK, PAPER, SIGNAL, arrow, blank_picture, finished_picture
from groovewright.report.point_view import draw_grid, draw_spindle_side
from groovewright.sheets.drawing import Drawing, Point, Sketch

WIDTH, HEIGHT = 80.0, 92.0
SHOWN_DEG = 14.0
SCALE = 1.5
LEAST_MM, LEAST_DEG = 0.05, 0.05
"""Smaller parts of a move are not drawn, as they are not said."""


def way_to_slide(*, points_in: bool) -> Drawing:
    """Return a look at the inner point, squared at the outer one, and which way to slide.

    Squared at the outer null: front out at the inner one is too much overhang, slide back; front in, slide
    forward (common practice in the trade).
    """
    sketch = blank_picture(WIDTH, HEIGHT)
    seen, move = ("points in", "slide forward") if points_in else ("points out", "slide back")
    stylus = (42.0, 48.0)
    sketch.text((3.0, 6.5), f"Front {seen}:", size=5.4)
    sketch.text((3.0, 14.0), move, size=6.4, bold=True, color=SIGNAL)
    draw_grid(sketch, stylus, SCALE)
    draw_body(sketch, stylus, SHOWN_DEG if points_in else -SHOWN_DEG, scale=SCALE)
    draw_spindle_side(sketch, (3.0, stylus[1]))
    top, bottom = (72.0, 36.0), (72.0, 64.0)
    arrow(sketch, *((top, bottom) if points_in else (bottom, top)), width=3.0)
    sketch.text((42.0, 86.5), "front", size=4.6, color=FINE, anchor="middle")
    return finished_picture(
        sketch,
        title=f"Front {seen}: {move}",
        description=f"At the inner point, after squaring at the outer one, the front {seen}: {move}.",
    )


def turn_to_square() -> Drawing:
    """Return the cartridge square over the grid, with the ways it can be turned."""
    sketch = blank_picture(WIDTH, HEIGHT)
    stylus = (42.0, 48.0)
    sketch.text((3.0, 6.5), "Outer point:", size=5.4)
    sketch.text((3.0, 14.0), "turn it square", size=6.4, bold=True, color=SIGNAL)
    draw_grid(sketch, stylus, SCALE)
    draw_body(sketch, stylus, 0.0, scale=SCALE)
    for side in (-1.0, 1.0):
        _draw_turn(sketch, stylus, 10.0 * side, 30.0 * side, 11.6 * SCALE)
    draw_spindle_side(sketch, (3.0, stylus[1]))
    sketch.text((42.0, 86.5), "front", size=4.6, color=FINE, anchor="middle")
    return finished_picture(
        sketch,
        title="Turn it square at the outer point",
        description="The sides of the cartridge run along the lines of the grid, its stylus on the dot.",
    )


def move_view(*, slide_mm: float, turn_deg: float) -> Drawing:
    """Return one move of the cartridge in its slots: slide forward and turn clockwise are positive."""
    sketch = blank_picture(WIDTH, HEIGHT)
    stylus = (36.0, 52.0)
    slide, turn = abs(slide_mm) >= LEAST_MM, abs(turn_deg) >= LEAST_DEG
    lines = move_lines(slide_mm, turn_deg)
    for row, line in enumerate(lines):
        sketch.text((3.0, 6.5 + 7.4 * row), line, size=5.6, bold=True, color=SIGNAL if slide or turn else INK)
    draw_body(sketch, stylus, 0.0, scale=SCALE)
    if turn:
        side = 1.0 if turn_deg > 0 else -1.0
        _draw_turn(sketch, stylus, 6.0 * side, 34.0 * side, 13.5 * SCALE)
    if slide:
        ends: tuple[Point, Point] = ((66.0, 38.0), (66.0, 64.0))
        arrow(sketch, *(ends if slide_mm > 0 else ends[::-1]), width=3.0)
    draw_spindle_side(sketch, (3.0, stylus[1]))
    sketch.text((stylus[0], 78.5), "front", size=4.6, color=FINE, anchor="middle")
    sketch.text((3.0, 89.5), "Seen from above.", size=4.4, color=FINE)
    return finished_picture(sketch, title="The next move", description="; ".join(lines) + ".")


def move_lines(slide_mm: float, turn_deg: float) -> list[str]:
    """Return the move in one or two short lines."""
    lines = []
    if abs(slide_mm) >= LEAST_MM:
        lines.append(f"Slide {abs(slide_mm):.1f} mm {'forward' if slide_mm > 0 else 'back'}")
    if abs(turn_deg) >= LEAST_DEG:
        lines.append(f"Turn the front {abs(turn_deg):.1f}° {'in' if turn_deg > 0 else 'out'}")
    return lines or ["Leave it as it stands"]


def _draw_turn(sketch: Sketch, about: Point, start_deg: float, end_deg: float, radius: float) -> None:
    """Draw a curved arrow in front of the cartridge, from one angle to another."""
    count = 24
    step = (end_deg - start_deg) / count
    neck = end_deg - (7.0 if step > 0 else -7.0)
    angles = [start_deg + (neck - start_deg) * k / count for k in range(count + 1)]
    outer = [turned((0.0, radius + 1.1), about, angle) for angle in angles]
    inner = [turned((0.0, radius - 1.1), about, angle) for angle in reversed(angles)]
    tip = turned((0.0, radius), about, end_deg)
    wide = [turned((0.0, radius + 3.4), about, neck), tip, turned((0.0, radius - 3.4), about, neck)]
    sketch.outline([*outer, *wide, *inner], fill=SIGNAL)


def sheet_on_platter() -> Drawing:
    """Return the sheet on the spindle with its two dots, and the stylus over the outer one."""
    sketch = blank_picture(WIDTH, HEIGHT)
    centre = (28.0, 46.0)
    sketch.circle(centre, 25.0, width=0.5, color=INK, fill=PAPER)
    sketch.outline([(16.0, 33.0), (77.0, 33.0), (77.0, 61.0), (16.0, 61.0)], width=0.5, color=INK, fill=PAPER)
    for x, name in ((46.0, "inner"), (66.0, "outer")):
        sketch.strokes(
            [((x + k, 39.0), (x + k, 55.0)) for k in (-6, -3, 0, 3, 6)]
            + [((x - 6.0, 47.0 + k), (x + 6.0, 47.0 + k)) for k in (-8, -4, 0, 4, 8)],
            width=0.2,
            color=FINE,
        )
        sketch.dot((x, 47.0), 1.0, color=SIGNAL)
        sketch.text((x, 59.6), name, size=4.2, anchor="middle")
    sketch.circle(centre, 1.9, width=0.5, color=INK, fill=PAPER)
    sketch.text((28.0, 55.6), "spindle", size=4.2, anchor="middle", color=FINE)
    sketch.text((3.0, 6.5), "Sheet on the spindle,", size=5.4)
    sketch.text((3.0, 13.4), "stylus on a dot", size=5.4, bold=True, color=SIGNAL)
    return finished_picture(
        sketch,
        title="Sheet on the platter",
        description="The sheet's hole fits on the spindle; the stylus rests on one of its two dots.",
    )


def scale_check() -> Drawing:
    """Return the two bars of the sheet being measured with a ruler."""
    sketch = blank_picture(WIDTH, HEIGHT)
    sketch.text((3.0, 6.5), "Measure both bars:", size=5.4)
    sketch.text((3.0, 14.0), "100 mm each", size=6.4, bold=True, color=SIGNAL)
    sketch.outline([(10.0, 24.0), (72.0, 24.0), (72.0, 84.0), (10.0, 84.0)], width=0.5, color=INK, fill=PAPER)
    for k in range(11):
        length = 3.4 if k in (0, 5, 10) else 2.0
        sketch.line((17.0 + 4.6 * k, 76.0), (17.0 + 4.6 * k, 76.0 + length), width=0.35, color=INK)
        sketch.line((17.0, 76.0 - 4.2 * k), (17.0 - length, 76.0 - 4.2 * k), width=0.35, color=INK)
    sketch.line((17.0, 76.0), (63.0, 76.0), width=0.6, color=SIGNAL)
    sketch.line((17.0, 76.0), (17.0, 34.0), width=0.6, color=SIGNAL)
    ruler = [(21.0, 64.0), (70.0, 64.0), (70.0, 74.4), (21.0, 74.4)]
    sketch.outline(ruler, width=0.35, color=FINE, fill=PAPER)
    sketch.strokes(
        [((22.0 + 2.3 * k, 74.4), (22.0 + 2.3 * k, 72.4)) for k in range(21)], width=0.2, color=FINE
    )
    sketch.text((45.5, 70.6), "ruler", size=4.2, color=FINE, anchor="middle")
    return finished_picture(
        sketch,
        title="Scale check",
        description="The bar across and the bar along the sheet each measure 100 mm if it is printed true.",
    )
