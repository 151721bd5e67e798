"""Level, drawn: the skating force over the record with the force set against it, and the cartridge's lean."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

from groovewright.report.picture import (
    FINE,
    INK,
    LINE,
    PALE,
    PAPER,
    SIGNAL,
    blank_picture,
    finished_picture,
)
from groovewright.sheets.drawing import Drawing, Point, Sketch

WIDTH = 120.0
LEFT, RIGHT, TOP, BOTTOM = 12.0, 114.0, 22.0, 56.0
TIMES = 6.0
"""How many times its size a lean is drawn."""


def _draw_scale(sketch: Sketch, most_mN: float, height: Callable[[float], float]) -> None:
    """Draw three or four ticks of a round number of mN."""
    step = next((size for size in (0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0) if most_mN / size <= 4.5), 50.0)
    for place in range(1, int(most_mN / step) + 1):
        y = height(place * step)
        sketch.line((LEFT - 1.6, y), (LEFT, y), width=0.4, color=INK)
        sketch.text((LEFT - 2.6, y + 1.4), f"{place * step:g}", size=3.9, anchor="end")
    sketch.text((LEFT + 1.4, TOP - 1.0), "mN", size=3.9, color=FINE)


def skating_view(
    forces: Sequence[tuple[float, float]], *, wanted_mN: float, sd_mN: float, setting: str = ""
) -> Drawing:
    """Return the skating force from the outermost to the innermost groove, and the one that is set against it.

    Parameters
    ----------
    forces : sequence of (groove radius in mm, force in mN)
    """
    sketch = blank_picture(WIDTH, 74.0)
    sketch.text((3.0, 6.0), "Skating, and what is set against it", size=5.0, bold=True)
    radii = [radius for radius, _ in forces]
    most = 1.35 * max([abs(force) for _, force in forces] + [wanted_mN + 2 * sd_mN, 0.1])

    def at(radius: float, force: float) -> Point:
        along = (max(radii) - radius) / (max(radii) - min(radii) or 1.0)
        return LEFT + along * (RIGHT - LEFT), BOTTOM - max(0.0, force) / most * (BOTTOM - TOP)

    band = [at(max(radii), wanted_mN + 2 * sd_mN), at(min(radii), wanted_mN + 2 * sd_mN),
            at(min(radii), wanted_mN - 2 * sd_mN), at(max(radii), wanted_mN - 2 * sd_mN)]  # fmt: skip
    sketch.outline(band, fill=PALE)
    sketch.line((LEFT, BOTTOM), (RIGHT, BOTTOM), width=0.5, color=INK)
    sketch.line((LEFT, TOP), (LEFT, BOTTOM), width=0.5, color=INK)
    points = [at(radius, force) for radius, force in forces]
    sketch.strokes(list(pairwise(points)), width=0.8, color=INK)
    sketch.line(at(max(radii), wanted_mN), at(min(radii), wanted_mN), width=1.1, color=SIGNAL)
    said = f"anti-skating {wanted_mN:.1f} ± {sd_mN:.1f} mN" + (f", set to {setting[:24]}" if setting else "")
    sketch.text((3.0, 13.6), said, size=5.0, color=SIGNAL, bold=True)
    for radius, anchor in ((max(radii), "start"), (min(radii), "end")):
        sketch.text((at(radius, 0.0)[0], BOTTOM + 5.4), f"{radius:.0f} mm", size=3.9, anchor=anchor)
    _draw_scale(sketch, most, lambda force: at(max(radii), force)[1])
    sketch.text((0.5 * (LEFT + RIGHT), BOTTOM + 5.4), "groove radius", size=3.9, color=FINE, anchor="middle")
    sketch.line((3.0, 68.6), (10.0, 68.6), width=0.8, color=INK)
    sketch.text((12.0, 70.0), "skating force, pulls in", size=4.0)
    sketch.line((62.0, 68.6), (69.0, 68.6), width=1.1, color=SIGNAL)
    sketch.text((71.0, 70.0), "set against it; band 95 %", size=4.0)
    return finished_picture(
        sketch,
        title="Skating, and what is set against it",
        description=f"{said}; the skating force is {forces[0][1]:.1f} mN at {forces[0][0]:.0f} mm and "
        f"{forces[-1][1]:.1f} mN at {forces[-1][0]:.0f} mm.",
    )


def lean_view(*, lean_deg: float, sd_deg: float, side_known: bool) -> Drawing:
    """Return the cartridge from the front, leaning as it was measured, drawn larger than it is."""
    sketch = blank_picture(WIDTH, 64.0)
    sketch.text((3.0, 6.0), "Azimuth, seen from the front", size=5.0, bold=True)
    side = "" if side_known else ", to which side is not known"
    sketch.text(
        (3.0, 13.6), f"leans {abs(lean_deg):.1f}° ± {sd_deg:.1f}°{side}", size=5.0, color=SIGNAL, bold=True
    )
    tip = (60.0, 54.0)
    sketch.line((14.0, tip[1]), (106.0, tip[1]), width=0.7, color=INK)
    sketch.text((106.0, 59.6), "record", size=3.8, color=FINE, anchor="end")
    sketch.line((tip[0], 18.0), (tip[0], tip[1]), width=0.3, color=LINE)
    drawn = max(-30.0, min(30.0, TIMES * lean_deg))
    _draw_front(sketch, tip, drawn)
    sketch.text((3.0, 62.0), f"Lean drawn {TIMES:g} times as large.", size=3.5, color=FINE)
    return finished_picture(
        sketch,
        title="Azimuth, seen from the front",
        description=f"The cartridge leans {abs(lean_deg):.1f} degrees, standard uncertainty {sd_deg:.1f}{side}.",
    )


def _draw_front(sketch: Sketch, tip: Point, angle_deg: float) -> None:
    cosine, sine = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))

    def at(x: float, y: float) -> Point:
        return tip[0] + x * cosine - y * sine, tip[1] + x * sine + y * cosine

    sketch.outline([at(-17, -31), at(17, -31), at(17, -27), at(-17, -27)], width=0.5, color=INK, fill=PAPER)
    sketch.outline([at(-13, -27), at(13, -27), at(13, -15), at(8, -8), at(-8, -8), at(-13, -15)],
                   width=0.6, color=INK, fill=PALE)  # fmt: skip
    for x in (-9.0, 9.0):
        sketch.line(at(x, -33), at(x, -27), width=1.6, color=INK)
    sketch.line(at(0, -8), at(0, 0), width=1.0, color=SIGNAL)
    sketch.line(at(0, -36), at(0, -8), width=0.35, color=FINE)
    sketch.dot(tip, 0.9, color=INK)
