"""The true parts of a sheet: spindle target, grids at the nulls, scale bars."""

from __future__ import annotations

import math

from groovewright.sheets.drawing import FINE, INK, PAPER_WHITE, SIGNAL, Point, Sketch
from groovewright.sheets.placement import (
    LABEL_DEPTH,
    SIDE_ZONE_DEPTH,
    ZONE_DEPTH,
    ZONE_GAP,
    GridPlace,
    Placement,
    overlapping,
    spindle_target,
)

HOLE_DIAMETER = 7.24
"""Centre hole of a record, +0.09/-0 mm (JIS S 8502:1973; IEC 60098 has the same, from memory)."""
DOT_RADIUS = 0.4
CLEAR_RADIUS = 2.0
"""Round the dot the grid is left out, so that a stylus finds it and a camera measures it."""
SCALE_LENGTH = 100.0


def draw_spindle(sketch: Sketch, centre: Point, *, words_above: bool = False) -> None:
    """Draw the circle to cut out for the spindle, its hairlines, its ring and its words to the left."""
    x, y = centre
    sketch.circle(centre, 11.0, width=0.2, color=FINE)
    for reach in (-1.0, 1.0):
        sketch.line((x + 0.8 * reach, y), (x + 12.5 * reach, y), width=0.15)
        sketch.line((x, y + 0.8 * reach), (x, y + 12.5 * reach), width=0.15)
    sketch.circle(centre, HOLE_DIAMETER / 2.0, width=0.25, name="spindle")
    sketch.dot(centre, 0.25)
    top = y - 18.2 if words_above else y + 15.4
    sketch.text((x - 2.5, top), "cut out", size=2.9, anchor="end")
    sketch.text((x - 2.5, top + 3.8), f"{HOLE_DIAMETER:g} mm", size=2.9, anchor="end", color=FINE)


def draw_ray(sketch: Sketch, grid: GridPlace) -> None:
    """Draw the centre line from the spindle's target to the far side of the grid."""
    start = grid.at(13.5 - grid.null_radius_mm, 0.0)
    sketch.line(start, grid.at(-grid.reach_in - 0.5, 0.0), width=0.15, color=INK, dash="6 1.2 1 1.2")


def draw_grid(sketch: Sketch, grid: GridPlace) -> None:
    """Draw one grid: lines every millimetre, heavier every five, centre lines, border, and the dot."""
    reach_in, reach_out, half = grid.reach_in, grid.reach_out, grid.shape.half_length
    sketch.outline(grid.box(-reach_in, reach_out, -half, half), fill=PAPER_WHITE)
    for step, width, color in ((1, 0.09, "#8d959d"), (5, 0.2, INK)):
        along = [k for k in range(-math.floor(reach_in), math.floor(reach_out) + 1) if _heavy(k, step)]
        across = [k for k in range(-math.floor(half), math.floor(half) + 1) if _heavy(k, step)]
        segments = [(grid.at(k, -half), grid.at(k, half)) for k in along]
        segments += [(grid.at(-reach_in, k), grid.at(reach_out, k)) for k in across]
        sketch.strokes(segments, width=width, color=color)
    sketch.outline(grid.box(-reach_in, reach_out, -half, half), width=0.35)
    for sign in (-1.0, 1.0):
        sketch.line(grid.at(0.0, sign * CLEAR_RADIUS), grid.at(0.0, sign * half), width=0.45, color=SIGNAL)
    sketch.line(grid.at(-CLEAR_RADIUS, 0.0), grid.at(-reach_in, 0.0), width=0.45, color=SIGNAL)
    sketch.line(grid.at(CLEAR_RADIUS, 0.0), grid.at(reach_out, 0.0), width=0.45, color=SIGNAL)


def draw_null(sketch: Sketch, grid: GridPlace) -> None:
    """Draw the dot at the null on its clear ground. Painted last, so that nothing crosses it."""
    sketch.circle(grid.centre, CLEAR_RADIUS, width=0.25, color=SIGNAL, fill=PAPER_WHITE)
    sketch.dot(grid.centre, DOT_RADIUS, name=f"null-{grid.name}")


def draw_grid_label(sketch: Sketch, grid: GridPlace) -> None:
    """Write the null's name and radius at the front of its grid, with the mark that shows the front."""
    half = grid.shape.half_length
    middle = (grid.reach_out - grid.reach_in) / 2.0
    sketch.outline((grid.at(-2.0, half), grid.at(2.0, half), grid.at(0.0, half + 2.8)), fill=SIGNAL)
    sketch.text(
        grid.at(max(3.2, middle - 20.0), half + 3.0),
        "front",
        size=2.6,
        color=SIGNAL,
        turn_deg=grid.azimuth_deg,
    )
    sketch.text(
        grid.at(middle, half + 7.4),
        f"{grid.name} {grid.null_radius_mm:.2f} mm",
        size=4.2 if grid.reach_in + grid.reach_out >= 38.0 else 3.3,
        bold=True,
        anchor="middle",
        turn_deg=grid.azimuth_deg,
    )


def keep_zones_clear(sketch: Sketch, placement: Placement, *, sides: bool) -> None:
    """Name the places round each grid that stay clear for marks that a machine reads."""
    for grid in placement.grids:
        half = grid.shape.half_length
        if grid.shape.with_zones:
            front = half + LABEL_DEPTH + ZONE_GAP
            sketch.keep_clear(
                f"{grid.name}-front",
                grid.box(-grid.reach_in, grid.reach_out, front, front + ZONE_DEPTH),
            )
            back = -half - ZONE_GAP
            sketch.keep_clear(
                f"{grid.name}-back", grid.box(-grid.reach_in, grid.reach_out, back - ZONE_DEPTH, back)
            )
        if sides:
            _keep_sides_clear(sketch, placement, grid)


def _keep_sides_clear(sketch: Sketch, placement: Placement, grid: GridPlace) -> None:
    half = grid.shape.half_length
    sides = {
        "in": (-grid.reach_in - ZONE_GAP - SIDE_ZONE_DEPTH, -grid.reach_in - ZONE_GAP),
        "out": (grid.reach_out + ZONE_GAP, grid.reach_out + ZONE_GAP + SIDE_ZONE_DEPTH),
    }
    target = spindle_target(placement.spindle)
    for name, (low, high) in sides.items():
        for part, start, end in (("front", 2.0, half), ("back", -half, -2.0)):
            zone = grid.box(low, high, start, end)
            others = [other.whole() for other in placement.grids if other is not grid]
            on_paper = all(
                8.0 <= px <= sketch.width_mm - 8.0 and 8.0 <= py <= sketch.height_mm - 8.0 for px, py in zone
            )
            taken = [sketch.zones[key] for key in sketch.zones if key.startswith(("inner", "outer"))]
            drawn = tuple(sketch.on_paper(point) for point in zone)
            if (
                on_paper
                and not any(overlapping(zone, other, 0.5) for other in (target, *others))
                and not any(overlapping(drawn, other, 0.5) for other in taken)
            ):
                sketch.keep_clear(f"{grid.name}-{name}-{part}", zone)


def draw_scales(sketch: Sketch, corner: Point) -> None:
    """Draw the 100 mm bars across and up from one corner, ticks and figures outside."""
    x, y = corner
    for k in range(101):
        length = 3.4 if k % 10 == 0 else 2.4 if k % 5 == 0 else 1.5
        width = 0.3 if k % 100 == 0 else 0.15
        sketch.line((x + k, y), (x + k, y + length), width=width)
        sketch.line((x, y - k), (x - length, y - k), width=width)
    for k in range(10, 101, 10):
        sketch.text((x + k, y + 6.2), str(k), size=2.4, anchor="middle", color=FINE)
        sketch.text((x - 4.2, y - k + 0.85), str(k), size=2.4, anchor="end", color=FINE)
    sketch.text((x - 4.2, y + 6.2), "0", size=2.4, anchor="end", color=FINE)
    sketch.line(corner, (x + SCALE_LENGTH, y), width=0.3, name="scale-x")
    sketch.line((x, y - SCALE_LENGTH), corner, width=0.3, name="scale-y")


def _heavy(k: int, step: int) -> bool:
    """Return whether line k belongs to this weight; the centre lines are drawn on their own."""
    if k == 0:
        return False
    return k % 5 == 0 if step == 5 else k % 5 != 0
