"""The tracking error over the record: as aimed at, and as the cartridge was left, with its 95 % band."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np

from groovewright.geometry import Alignment, yaw_deg
from groovewright.geometry.sensitivity import yaw_slopes
from groovewright.quantities import FloatArray, GrooveRange, Reading
from groovewright.report.picture import FINE, INK, LINE, PALE, SIGNAL, blank_picture, finished_picture
from groovewright.report.words import signed
from groovewright.sheets.drawing import Drawing, Point, Sketch

WIDTH, NARROW, HEIGHT = 170.0, 104.0, 88.0
LEFT, MARGIN, TOP, BOTTOM = 17.0, 4.0, 16.0, 66.0


def error_from_yaws(
    aim: Alignment, radius_mm: FloatArray, outer: Reading, inner: Reading
) -> tuple[FloatArray, FloatArray]:
    """Return the tracking error and its standard uncertainty in degrees. [each shape=(n,)]

    To the first order a yaw error is that of the length times its slope at the radius, plus that of the
    angle; the yaws at both nulls fix the two, so that error(r) = error of the aim + w yaw_outer +
    (1 - w) yaw_inner with w = (s(r) - s(r_inner)) / (s(r_outer) - s(r_inner)), s the slope of yaw by
    length. The two yaws are taken as independent. Derivation: docs/papers.md.
    """
    d, length = aim.pivot_to_spindle_mm, aim.effective_length_mm

    def slope(radius: float | FloatArray) -> FloatArray:
        return np.asarray(yaw_slopes(d, length, radius).per_length_deg_per_mm)

    inmost = slope(aim.null_inner_mm)
    share = (slope(radius_mm) - inmost) / (slope(aim.null_outer_mm) - inmost)
    error = (
        yaw_deg(d, length, aim.offset_angle_deg, radius_mm) + share * outer.value + (1 - share) * inner.value
    )
    return error, np.hypot(share * outer.sd, (1.0 - share) * inner.sd)


def error_chart(
    aim: Alignment, grooves: GrooveRange, outer: Reading, inner: Reading, *, width_mm: float = WIDTH
) -> Drawing:
    """Return the chart: radius from the outermost to the innermost groove, error in degrees.

    `width_mm` is that of the picture: `WIDTH` for paper, `NARROW` for a telephone's screen.
    """
    radius = np.linspace(grooves.outer_mm, grooves.inner_mm, 121)
    wanted = yaw_deg(aim.pivot_to_spindle_mm, aim.effective_length_mm, aim.offset_angle_deg, radius)
    left, sd = error_from_yaws(aim, radius, outer, inner)
    top = float(np.max(np.abs([left + 2 * sd, left - 2 * sd, wanted])))
    limit = math.ceil(2.0 * top) / 2.0
    sketch = blank_picture(width_mm, HEIGHT)
    right = width_mm - MARGIN

    def at(r: float, degrees: float) -> Point:
        along = (grooves.outer_mm - r) / (grooves.outer_mm - grooves.inner_mm)
        return LEFT + along * (right - LEFT), 0.5 * (TOP + BOTTOM) - degrees / limit * 0.5 * (BOTTOM - TOP)

    band = [at(r, e + 2 * s) for r, e, s in zip(radius, left, sd, strict=True)]
    band += [at(r, e - 2 * s) for r, e, s in zip(radius[::-1], left[::-1], sd[::-1], strict=True)]
    sketch.outline(band, fill=PALE)
    _draw_axes(sketch, at, grooves, limit)
    for null, name in ((aim.null_outer_mm, "outer point"), (aim.null_inner_mm, "inner point")):
        if grooves.inner_mm <= null <= grooves.outer_mm:
            x = at(null, 0.0)[0]
            sketch.line((x, TOP), (x, BOTTOM), width=0.25, color=SIGNAL, dash="1.6 1.2")
            sketch.text((x, TOP - 1.6), name, size=3.4, color=FINE, anchor="middle")
    points = [at(r, e) for r, e in zip(radius, wanted, strict=True)]
    sketch.strokes(list(zip(points[:-1:4], points[2::4], strict=False)), width=0.5, color=INK)
    points = [at(r, e) for r, e in zip(radius, left, strict=True)]
    sketch.strokes(pairwise(points), width=0.9, color=SIGNAL)
    _draw_key(sketch, right)
    worst = float(np.max(np.abs(left)))
    return finished_picture(
        sketch,
        title="Tracking error over the record",
        description=f"As left at most {worst:.1f}°, as aimed at most {float(np.max(np.abs(wanted))):.1f}°.",
        worst_deg=worst,
    )


def _draw_axes(
    sketch: Sketch, place: Callable[[float, float], Point], grooves: GrooveRange, limit: float
) -> None:
    right = sketch.width_mm - MARGIN
    step = 0.5 if limit <= 1.5 else 1.0 if limit <= 4.0 else 2.0 if limit <= 8.0 else 5.0
    ticks = int(limit / step)
    for k in range(-ticks, ticks + 1):
        y = place(grooves.outer_mm, k * step)[1]
        sketch.line((LEFT, y), (right, y), width=0.45 if k == 0 else 0.15, color=INK if k == 0 else LINE)
        text = f"{signed(k * step, 1)}°" if k else "0°"
        sketch.text((LEFT - 2.0, y + 1.3), text, size=3.6, anchor="end")
    apart = 10 if right - LEFT > 100.0 else 20
    for r in range(math.ceil(grooves.inner_mm / apart) * apart, int(grooves.outer_mm) + 1, apart):
        x = place(float(r), 0.0)[0]
        sketch.line((x, BOTTOM), (x, BOTTOM + 1.6), width=0.3, color=INK)
        sketch.text((x, BOTTOM + 5.6), str(r), size=3.6, anchor="middle")
    sketch.line((LEFT, BOTTOM), (right, BOTTOM), width=0.3, color=INK)
    middle = 0.5 * (LEFT + right)
    sketch.text((middle, BOTTOM + 10.8), "groove radius in mm, outermost at the left", size=3.6, color=FINE,
                anchor="middle")  # fmt: skip


def _draw_key(sketch: Sketch, right: float) -> None:
    sketch.text((LEFT, 5.0), "Tracking error over the record", size=4.6, bold=True)
    wide = right - LEFT > 100.0
    x, y = (LEFT if wide else 4.0), HEIGHT - 2.4
    sketch.line((x, y - 1.2), (x + 9.0, y - 1.2), width=0.9, color=SIGNAL)
    sketch.text((x + 11.0, y), "as left", size=3.6)
    sketch.outline([(x + 28, y - 3.2), (x + 37, y - 3.2), (x + 37, y + 0.8), (x + 28, y + 0.8)], width=0.2,
                   color=LINE, fill=PALE)  # fmt: skip
    sketch.text((x + 39.0, y), "its 95 % band", size=3.6)
    for k in range(4):
        sketch.line((x + 68.0 + 2.6 * k, y - 1.2), (x + 69.4 + 2.6 * k, y - 1.2), width=0.5, color=INK)
    sketch.text((x + 80.0, y), "as aimed at", size=3.6)
    if wide:
        sketch.text((right, y), "+ front points in", size=3.6, color=FINE, anchor="end")
