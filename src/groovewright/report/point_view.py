"""One point of the sheet from close by: the cartridge over the grid, its turn drawn larger than it is."""

from __future__ import annotations

from groovewright.report.body import draw_body, turned
from groovewright.report.picture import (
    FINE,
    INK,
    LINE,
    PALE,
    PAPER,
    SIGNAL,
    arrow,
    blank_picture,
    finished_picture,
)
from groovewright.report.words import yaw_words
from groovewright.sheets.drawing import Drawing, Point, Sketch

WIDTH, HEIGHT = 80.0, 92.0
TIMES = 6.0
"""How many times its size a turn is drawn: half a degree could not be seen."""
MOST_DEG = 38.0
STYLUS: Point = (44.0, 50.0)
SCALE = 1.55


def point_view(name: str, *, yaw_deg: float, yaw_sd_deg: float, radius_mm: float | None = None) -> Drawing:
    """Return one point: how the cartridge stands over its grid, with the 95 % fan of where it may point.

    Parameters
    ----------
    name : str
        What the point is called: 'outer point'.
    yaw_deg, yaw_sd_deg : number
        Positive: the front points in, towards the spindle.
    """
    sketch = blank_picture(WIDTH, HEIGHT)
    title = f"{name[0].upper()}{name[1:]}" + ("" if radius_mm is None else f", {radius_mm:.1f} mm")
    sketch.text((3.0, 6.0), title, size=5.0, bold=True)
    words = yaw_words(yaw_deg)
    sketch.text((3.0, 12.4), f"{words} ± {yaw_sd_deg:.1f}°", size=5.0, color=SIGNAL, bold=True)
    draw_grid(sketch, STYLUS, SCALE)
    _draw_fan(sketch, yaw_deg, 2.0 * yaw_sd_deg)
    draw_body(sketch, STYLUS, _drawn(yaw_deg), scale=SCALE)
    draw_spindle_side(sketch, (3.0, STYLUS[1]))
    sketch.text((3.0, 90.0), f"Turn drawn {TIMES:g} times; fan: 95 %.", size=4.2, color=FINE)
    return finished_picture(
        sketch,
        title=title,
        description=f"The cartridge from above {words}, with a standard uncertainty of {yaw_sd_deg:.2f}°.",
        drawn_deg=_drawn(yaw_deg),
    )


def draw_grid(sketch: Sketch, at: Point, scale: float) -> None:
    """Draw the grid of the sheet under a cartridge, its middle line in the signal colour."""
    x, y = at
    half, top, bottom = 11.5 * scale, -21.0 * scale, 19.0 * scale
    steps = [k * 3.8 * scale for k in range(-3, 4)]
    rows = [k * 3.8 * scale for k in range(-5, 6)]
    sketch.strokes([((x + k, y + top), (x + k, y + bottom)) for k in steps], width=0.18, color=LINE)
    sketch.strokes([((x - half, y + k), (x + half, y + k)) for k in rows], width=0.18, color=LINE)
    sketch.line((x, y + top), (x, y + bottom), width=0.4, color=SIGNAL)


def draw_spindle_side(sketch: Sketch, at: Point) -> None:
    """Draw which way the spindle lies."""
    x, y = at
    arrow(sketch, (x + 15.0, y), (x + 1.0, y), width=0.8, color=FINE)
    sketch.text((x, y - 3.4), "to the", size=4.6, color=FINE)
    sketch.text((x, y + 6.8), "spindle", size=4.6, color=FINE)


def _drawn(yaw_deg: float) -> float:
    return max(-MOST_DEG, min(MOST_DEG, TIMES * yaw_deg))


def _draw_fan(sketch: Sketch, yaw_deg: float, half_width_deg: float) -> None:
    """Draw where the front may point: from the stylus forward, between both ends of the interval."""
    ends = [_drawn(yaw_deg + side * half_width_deg) for side in (-1.0, 1.0)]
    reach = 17.5 * SCALE
    steps = [ends[0] + (ends[1] - ends[0]) * k / 16.0 for k in range(17)]
    rim = [turned((0.0, reach), STYLUS, angle) for angle in steps]
    sketch.outline([STYLUS, *rim], width=0.25, color=INK, fill=PALE)
    middle = turned((0.0, reach), STYLUS, _drawn(yaw_deg))
    sketch.line(STYLUS, middle, width=0.5, color=INK)
    sketch.circle(middle, 0.9, width=0.4, color=INK, fill=PAPER)
