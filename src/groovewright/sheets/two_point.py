"""The two-point sheet: spindle, and a grid at each null of an arm's alignment."""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress

from groovewright.geometry import Alignment
from groovewright.quantities import CannotBeDoneError
from groovewright.sheets.drawing import FINE, Drawing, Sketch
from groovewright.sheets.fiducials import draw_flag, draw_marks
from groovewright.sheets.furniture import (
    FOOT_HEIGHT,
    HEAD_BOTTOM,
    MARGIN,
    draw_foot,
    draw_heading,
)
from groovewright.sheets.grids import (
    draw_grid,
    draw_grid_label,
    draw_null,
    draw_rays,
    draw_scales,
    draw_spindle,
    draw_spindle_words,
    keep_zones_clear,
)
from groovewright.sheets.lettering import fitted
from groovewright.sheets.panel import (
    CUT_OUT,
    KEY_IN_WORDS,
    LOW_PANEL_HEIGHT,
    MEASURE,
    PANEL_HEIGHT,
    Steps,
    draw_panel,
)
from groovewright.sheets.papers import A4, Paper, PrintCorrection, SheetLabel
from groovewright.sheets.placement import Placement, Rays, Rectangle, free_rays, place

SCALE_BAND = 11.0
RULER_BAND = 15.0

_TURN = "Turn the platter until the outer dot lies under the stylus. Square the body to the grid."
_STEPS = Steps(
    beside_key=(
        MEASURE,
        CUT_OUT,
        _TURN,
        "Turn to the inner dot and look only. Slide as the key says; then square at the outer dot again.",
        "Done when both are square. Tighten; look once more.",
    ),
    with_key_in_words=(MEASURE, CUT_OUT, _TURN, KEY_IN_WORDS),
    for_one_null=(
        MEASURE,
        CUT_OUT,
        "Turn the platter until the dot lies under the stylus. Square the body to the grid.",
        "Set the distance from pivot to stylus first: with one null, no look can show an error in it.",
    ),
)


def two_point_sheet(
    *,
    alignment: Alignment,
    label: SheetLabel,
    paper: Paper = A4,
    correction: PrintCorrection | None = None,
) -> Drawing:
    """Return the two-point sheet for an alignment.

    Raises
    ------
    InputError
        The label can't be printed.
    CannotBeDoneError
        The arm has no null, or the grids don't fit on the paper.
    """
    sketch = Sketch(paper, correction or PrintCorrection())
    nulls = finite_nulls(alignment)
    placement, area = placed(sketch, nulls, free_rays(len(nulls)))
    title = "Two-point sheet" if len(nulls) == 2 else "One-point sheet"
    draw_heading(sketch, title=title, label=label, figures=arm_figures(alignment))
    draw_rulers(sketch, area)
    flag = _draw_true_parts(sketch, placement, area)
    draw_panel(sketch, area.bottom + SCALE_BAND, _STEPS, nulls=len(nulls))
    draw_foot(sketch)
    return sketch.finished(
        title=" ".join(part for part in (title, label.arm) if part),
        description=described(alignment, sketch),
        facts={**facts_of(alignment, sketch, "two-point"), **flag},
    )


def finite_nulls(alignment: Alignment) -> tuple[tuple[str, float], ...]:
    """Return name and radius of the nulls that the arm has."""
    named = (("inner", alignment.null_inner_mm), ("outer", alignment.null_outer_mm))
    nulls = tuple((name, radius) for name, radius in named if math.isfinite(radius))
    if not nulls:
        raise CannotBeDoneError(
            "this arm has no null radius as it is mounted, so there is no point at which to square it; "
            "more overhang or less offset angle gives it one"
        )
    return nulls


def placed(
    sketch: Sketch, nulls: Sequence[tuple[str, float]], rays: Sequence[Rays], *, shared_arc: bool = False
) -> tuple[Placement, Rectangle]:
    """Return the placement and its part of the sheet, which grows at the panel's cost where it has to."""
    if len(nulls) == 2:
        area = _drawing_area(sketch, PANEL_HEIGHT)
        with suppress(CannotBeDoneError):
            return place(nulls=nulls, rays=rays, area=area, shared_arc=shared_arc), area
    area = _drawing_area(sketch, LOW_PANEL_HEIGHT)
    return place(nulls=nulls, rays=rays, area=area, shared_arc=shared_arc), area


def _drawing_area(sketch: Sketch, panel_height: float) -> Rectangle:
    bottom = sketch.height_mm - MARGIN - FOOT_HEIGHT - panel_height
    return Rectangle(MARGIN + RULER_BAND, HEAD_BOTTOM + 3.0, sketch.width_mm - MARGIN, bottom - SCALE_BAND)


def draw_rulers(sketch: Sketch, area: Rectangle) -> None:
    """Draw the two 100 mm bars along the left and the lower side of the drawing."""
    corner = (MARGIN + 9.5, area.bottom + SCALE_BAND - 8.0)
    draw_scales(sketch, corner)
    draw_scale_note(sketch, area, "measure both bars: 100 mm each", row=0)


def draw_scale_note(sketch: Sketch, area: Rectangle, text: str, *, row: int) -> None:
    """Write a line to the right of the bar across the paper."""
    at = (MARGIN + 117.0, area.bottom + SCALE_BAND - 8.0 + 2.2 + 4.2 * row)
    text, size = fitted(text, size_mm=2.9, width_mm=sketch.width_mm - MARGIN - at[0], smallest_mm=2.0)
    sketch.text(at, text, size=size, color=FINE)


def _draw_true_parts(sketch: Sketch, placement: Placement, area: Rectangle) -> dict[str, float | str]:
    """Draw spindle, rays, grids, dots, marks and flag; return where the flag is."""
    draw_rays(sketch, placement)
    for grid in placement.grids:
        draw_grid(sketch, grid)
        draw_grid_label(sketch, grid)
    draw_spindle(sketch, placement.spindle)
    draw_spindle_words(sketch, placement.spindle)
    for grid in placement.grids:
        draw_null(sketch, grid)
    keep_zones_clear(sketch, placement, area, sides=True)
    draw_marks(sketch, placement, "two-point")
    return draw_flag(sketch, placement, area)


def arm_figures(alignment: Alignment) -> tuple[tuple[str, str], ...]:
    """Return the four figures of the heading."""
    return (
        ("pivot to spindle", f"{alignment.pivot_to_spindle_mm:.2f} mm"),
        ("effective length", f"{alignment.effective_length_mm:.2f} mm"),
        ("overhang", f"{alignment.overhang_mm:.2f} mm".replace("-", "\u2212")),
        ("offset angle", f"{alignment.offset_angle_deg:.2f}°"),
    )


def described(alignment: Alignment, sketch: Sketch) -> str:
    """Return one sentence for those who can't see the sheet."""
    nulls = " and ".join(f"{radius:.3f} mm ({name})" for name, radius in finite_nulls(alignment))
    return (
        f"True-scale sheet on {sketch.paper.name}: spindle target, grids at null radii {nulls}, "
        f"for {alignment.pivot_to_spindle_mm:g} mm pivot to spindle."
    )


def facts_of(alignment: Alignment, sketch: Sketch, kind: str) -> dict[str, float | str]:
    """Return what the sheet was drawn from."""
    return {
        "kind": kind,
        "paper": sketch.paper.name,
        "paper_width_mm": sketch.paper.width_mm,
        "paper_height_mm": sketch.paper.height_mm,
        "measured_x_mm": sketch.correction.measured_x_mm,
        "measured_y_mm": sketch.correction.measured_y_mm,
        "pivot_to_spindle_mm": alignment.pivot_to_spindle_mm,
        "effective_length_mm": alignment.effective_length_mm,
        "overhang_mm": alignment.overhang_mm,
        "offset_angle_deg": alignment.offset_angle_deg,
        "linear_offset_mm": alignment.linear_offset_mm,
        "null_inner_mm": alignment.null_inner_mm,
        "null_outer_mm": alignment.null_outer_mm,
    }
