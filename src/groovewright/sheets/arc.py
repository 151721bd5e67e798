"""The arc sheet: one arm's stylus arc about its pivot, with a grid at each null on it.

With the spindle at the origin, the pivot straight up at the distance d and y down the paper, the stylus at
the groove radius r has y = (L^2 - r^2 - d^2) / (2 d), which is the law of cosines in the triangle pivot,
spindle, stylus. Everything may be turned about the spindle so that it fits on the paper.
"""

from __future__ import annotations

import itertools
import math

from groovewright.geometry import Alignment
from groovewright.quantities import CannotBeDoneError
from groovewright.sheets.drawing import FINE, INK, SIGNAL, Drawing, Point, Sketch
from groovewright.sheets.fiducials import draw_flag, draw_marks
from groovewright.sheets.furniture import draw_foot, draw_heading
from groovewright.sheets.grids import (
    draw_grid,
    draw_grid_label,
    draw_null,
    draw_rays,
    draw_spindle,
    draw_spindle_words,
    keep_zones_clear,
)
from groovewright.sheets.panel import CUT_OUT, KEY_IN_WORDS, MEASURE, Steps, draw_panel
from groovewright.sheets.papers import A4, Paper, PrintCorrection, SheetLabel
from groovewright.sheets.placement import Placement, Rectangle, arc_rays
from groovewright.sheets.two_point import (
    SCALE_BAND,
    arm_figures,
    described,
    draw_rulers,
    draw_scale_note,
    facts_of,
    finite_nulls,
    placed,
)

OUTERMOST_MM = 152.0
"""Where the arc ends if the paper is wide enough: a 30 cm record's edge (301 mm across, common practice)."""

_AIM = "Turn it until the long line points at the pivot's centre, and hold it there with removable tape."
_ARC = "From dot to dot the stylus keeps to the arc. Beyond it: slide back. Short of it: slide forward."
_STEPS = Steps(
    beside_key=(
        MEASURE,
        CUT_OUT,
        _AIM,
        _ARC,
        "Square the body at the outer dot, look at the inner one, use the key. Done when both are square.",
    ),
    with_key_in_words=(MEASURE, CUT_OUT, _AIM, KEY_IN_WORDS),
    for_one_null=(
        MEASURE,
        CUT_OUT,
        _AIM,
        "The stylus keeps to the arc. Beyond it: slide back. Short of it: slide forward.",
        "Square the body at the dot. Tighten; look once more.",
    ),
)


def arc_sheet(
    *,
    alignment: Alignment,
    label: SheetLabel,
    paper: Paper = A4,
    correction: PrintCorrection | None = None,
) -> Drawing:
    """Return the arc sheet for one arm.

    Raises
    ------
    InputError
        The label can't be printed.
    CannotBeDoneError
        The arm has no null, or the grids don't fit on the paper.
    """
    sketch = Sketch(paper, correction or PrintCorrection())
    nulls = finite_nulls(alignment)
    rays = [math.degrees(math.asin(_down(alignment, radius) / radius)) for _, radius in nulls]
    try:
        placement, area = placed(sketch, nulls, arc_rays(rays), shared_arc=True)
    except CannotBeDoneError as error:
        raise CannotBeDoneError(f"{error}; or a two-point sheet, which can turn the grids apart") from None
    draw_heading(sketch, title="Arc sheet", label=label, figures=arm_figures(alignment))
    draw_rulers(sketch, area)
    curve = f"curve: the stylus, {alignment.effective_length_mm:.2f} mm from the pivot"
    draw_scale_note(sketch, area, curve, row=1)
    _draw_pivot_line(sketch, placement, alignment, area)
    draw_rays(sketch, placement)
    for grid in placement.grids:
        draw_grid(sketch, grid)
        draw_grid_label(sketch, grid)
    draw_marks(sketch, placement, "arc")
    _draw_arc(sketch, placement, alignment, area)
    draw_spindle(sketch, placement.spindle)
    draw_spindle_words(sketch, placement.spindle, above=placement.turn_deg > 0.0)
    for grid in placement.grids:
        draw_null(sketch, grid)
    keep_zones_clear(sketch, placement, area, sides=False)
    flag = draw_flag(sketch, placement, area, _lines_taken(placement, alignment))
    draw_panel(sketch, area.bottom + SCALE_BAND, _STEPS, nulls=len(nulls))
    draw_foot(sketch)
    pivot = _from_spindle(placement, _pivot_direction(placement), alignment.pivot_to_spindle_mm)
    x, y = sketch.on_paper(pivot)
    return sketch.finished(
        title=" ".join(part for part in ("Arc sheet", label.arm) if part),
        description=described(alignment, sketch),
        facts={**facts_of(alignment, sketch, "arc"), "pivot_x_mm": x, "pivot_y_mm": y, **flag},
    )


def _down(alignment: Alignment, radius_mm: float) -> float:
    d, length = alignment.pivot_to_spindle_mm, alignment.effective_length_mm
    return (length**2 - radius_mm**2 - d**2) / (2.0 * d)


def _pivot_direction(placement: Placement) -> Point:
    angle = math.radians(placement.turn_deg)
    return math.sin(angle), -math.cos(angle)


def _from_spindle(placement: Placement, direction: Point, distance: float) -> Point:
    x, y = placement.spindle
    return x + direction[0] * distance, y + direction[1] * distance


def _on_arc(placement: Placement, alignment: Alignment, radius_mm: float) -> Point:
    """Return where the stylus is at a groove radius."""
    down = _down(alignment, radius_mm)
    right = math.sqrt(max(0.0, radius_mm**2 - down**2))
    px, py = _pivot_direction(placement)
    x, y = placement.spindle
    return x - py * right - px * down, y + px * right - py * down


def _draw_arc(sketch: Sketch, placement: Placement, alignment: Alignment, area: Rectangle) -> None:
    pivot = _from_spindle(placement, _pivot_direction(placement), alignment.pivot_to_spindle_mm)
    start = _on_arc(placement, alignment, abs(alignment.overhang_mm))
    outermost = placement.grids[-1].null_radius_mm
    radius = max(OUTERMOST_MM, outermost + 8.0)
    end = _on_arc(placement, alignment, radius)
    while radius > outermost + 0.5 and not (end[0] <= area.right and area.top <= end[1] <= area.bottom):
        radius -= 0.5
        end = _on_arc(placement, alignment, radius)
    sketch.arc(pivot, alignment.effective_length_mm, start, end, width=0.35, color=SIGNAL, name="arc")


def _lines_taken(placement: Placement, alignment: Alignment) -> list[tuple[Point, ...]]:
    """Return boxes round the arc and round the pivot's line with its figures, as corners."""
    across = (-_pivot_direction(placement)[1], _pivot_direction(placement)[0])
    along = _pivot_direction(placement)
    boxes = [
        tuple(
            _beside(placement.spindle, across, along, right, ahead)
            for right, ahead in ((left, low), (edge, low), (edge, high), (left, high))
        )
        # the figures and words stand beside the line on its way to the pivot only
        for left, edge, low, high in ((-14.0, 26.0, -15.0, 2000.0), (-14.0, 1.5, -90.0, -15.0))
    ]
    start = abs(alignment.overhang_mm)
    radii = [start + k / 12.0 * (OUTERMOST_MM + 8.0 - start) for k in range(13)]
    points = [_on_arc(placement, alignment, radius) for radius in radii]
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        boxes.append(((x0, y0 - 2.0), (x1, y1 - 2.0), (x1, y1 + 2.0), (x0, y0 + 2.0)))
    return boxes


def _draw_pivot_line(sketch: Sketch, placement: Placement, alignment: Alignment, area: Rectangle) -> None:
    """Draw the line through the spindle at which the pivot is sighted, with a rule of what is left to it."""
    px, py = _pivot_direction(placement)
    x, y = placement.spindle
    ahead = min(
        (y - area.top) / -py,
        (area.right - x) / px if px > 0 else math.inf,
        (x - area.left) / -px if px < 0 else math.inf,
    )
    back = min((area.bottom - y) / -py, 60.0 + abs(alignment.overhang_mm))
    distance = alignment.pivot_to_spindle_mm
    tip = _from_spindle(placement, (px, py), ahead)
    sketch.line(
        _from_spindle(placement, (px, py), -back), _from_spindle(placement, (px, py), -13.5), width=0.25
    )
    sketch.line(_from_spindle(placement, (px, py), 13.5), tip, width=0.25)
    across = (-py, px)
    sketch.outline(
        (tip, _beside(tip, across, (px, py), 1.6, -4.5), _beside(tip, across, (px, py), -1.6, -4.5)), fill=INK
    )
    first = 10 * math.ceil((distance - ahead + 9.0) / 10.0)
    words = 25.0 if placement.turn_deg > 0.0 else 16.0
    last = 10 * math.floor((distance - words) / 10.0)
    for left in range(first, last + 1, 10):
        point = _from_spindle(placement, (px, py), distance - left)
        sketch.line(
            _beside(point, across, (px, py), -1.6, 0.0),
            _beside(point, across, (px, py), 1.6, 0.0),
            width=0.25,
        )
        sketch.text(
            _beside(point, across, (px, py), -2.6, -0.9),
            str(left),
            size=2.5,
            anchor="end",
            color=FINE,
            turn_deg=placement.turn_deg,
        )
    for k, (text, bold) in enumerate(
        (("to the pivot", True), ("figures: mm from", False), ("the pivot's centre", False))
    ):
        sketch.text(
            _beside(tip, across, (px, py), 3.4, -3.4 - 4.0 * k),
            text,
            size=2.9,
            bold=bold,
            turn_deg=placement.turn_deg,
        )


def _beside(point: Point, across: Point, along: Point, right: float, ahead: float) -> Point:
    return (
        point[0] + across[0] * right + along[0] * ahead,
        point[1] + across[1] * right + along[1] * ahead,
    )
