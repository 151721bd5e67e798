"""The two-point sheet: spindle, and a grid at each null of an arm's alignment."""

from __future__ import annotations

import math

from groovewright.geometry import Alignment
from groovewright.quantities import CannotBeDoneError
from groovewright.sheets.drawing import FINE, Drawing, Sketch
from groovewright.sheets.furniture import (
    FOOT_HEIGHT,
    HEAD_BOTTOM,
    MARGIN,
    draw_caution,
    draw_foot,
    draw_heading,
    draw_steps,
)
from groovewright.sheets.grids import (
    draw_grid,
    draw_grid_label,
    draw_null,
    draw_ray,
    draw_scales,
    draw_spindle,
    keep_zones_clear,
)
from groovewright.sheets.lettering import fitted
from groovewright.sheets.papers import A4, Paper, PrintCorrection, SheetLabel
from groovewright.sheets.placement import Placement, Rectangle, free_rays, place
from groovewright.sheets.sign_key import KEY_HEIGHT, KEY_WIDTH, draw_sign_key

PANEL_HEIGHT = 74.0
SCALE_BAND = 11.0
RULER_BAND = 15.0

_STEPS = (
    "Measure both bars: 100 mm each. If not, have the sheet drawn again with what they measured.",
    "Cut out the spindle's circle; lay the sheet on the platter over the spindle.",
    "Turn the platter until the outer dot lies under the stylus. Square the body to the grid.",
    "Turn to the inner dot and look only. Slide as the key says; then square at the outer dot again.",
    "Done when both are square. Tighten, and look at both once more.",
)
CAUTION = (
    "Amplifier off. Stylus guard on until the stylus is to rest on the dot. The arm may swing: "
    "keep a hand on its lift and hold the platter still."
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
    area = drawing_area(sketch)
    placement = place(nulls=nulls, rays=free_rays(len(nulls)), area=area)
    draw_heading(sketch, title="Two-point sheet", label=label, figures=arm_figures(alignment))
    draw_rulers(sketch, area)
    draw_true_parts(sketch, placement, sides=True)
    draw_panel(sketch, steps=_STEPS, caution=CAUTION)
    draw_foot(sketch, datum="")
    return sketch.finished(
        title=" ".join(part for part in ("Two-point sheet", label.arm) if part),
        description=described(alignment, sketch),
        facts=facts_of(alignment, sketch, "two-point"),
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


def drawing_area(sketch: Sketch) -> Rectangle:
    """Return the part of the sheet in which the true parts are placed."""
    bottom = sketch.height_mm - MARGIN - FOOT_HEIGHT - PANEL_HEIGHT
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


def draw_true_parts(sketch: Sketch, placement: Placement, *, sides: bool) -> None:
    """Draw spindle, rays, grids and dots."""
    for grid in reversed(placement.grids):
        draw_ray(sketch, grid)
    for grid in placement.grids:
        draw_grid(sketch, grid)
        draw_grid_label(sketch, grid)
    draw_spindle(sketch, placement.spindle)
    for grid in placement.grids:
        draw_null(sketch, grid)
    keep_zones_clear(sketch, placement, sides=sides)


def draw_panel(sketch: Sketch, *, steps: tuple[str, ...], caution: str) -> None:
    """Draw key, steps and caution in the lower part of the sheet."""
    top = sketch.height_mm - MARGIN - FOOT_HEIGHT - PANEL_HEIGHT
    right = sketch.width_mm - MARGIN
    sketch.line((MARGIN, top), (right, top), width=0.5)
    draw_sign_key(sketch, (MARGIN, top + (PANEL_HEIGHT - KEY_HEIGHT) / 2.0 + 1.0))
    left = MARGIN + KEY_WIDTH + 5.0
    below = draw_steps(sketch, (left, top + 3.6), width=right - left, steps=steps)
    draw_caution(sketch, (left, below + 0.6), width=right - left, text=caution)


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
