"""The true parts of a sheet: spindle target, grids at the nulls, scale bars."""

from __future__ import annotations

import math

from groovewright.sheets.drawing import FINE, INK, PAPER_WHITE, SIGNAL, Point, Sketch
from groovewright.sheets.lettering import fitted
from groovewright.sheets.placement import (
    LABEL_DEPTH,
    SIDE_ZONE_DEPTH,
    ZONE_DEPTH,
    ZONE_GAP,
    GridPlace,
    Placement,
    Rectangle,
    overlapping,
    spindle_target,
)

HOLE_DIAMETER = 7.24
"""Centre hole of a record, +0.09/-0 mm (JIS S 8502:1973; IEC 60098 has the same, from memory)."""
DOT_RADIUS = 0.4
CLEAR_RADIUS = 2.0
"""Round the dot the grid is left out, so that a stylus finds it and a camera measures it."""
SCALE_LENGTH = 100.0


def draw_spindle(sketch: Sketch, centre: Point) -> None:
    """Draw the circle to cut out for the spindle, its hairlines and its ring."""
    x, y = centre
    sketch.circle(centre, 11.0, width=0.2, color=FINE)
    for reach in (-1.0, 1.0):
        sketch.line((x + 0.8 * reach, y), (x + 12.5 * reach, y), width=0.15)
        sketch.line((x, y + 0.8 * reach), (x, y + 12.5 * reach), width=0.15)
    sketch.circle(centre, HOLE_DIAMETER / 2.0, width=0.25, name="spindle")
    sketch.dot(centre, 0.25)


def draw_spindle_words(sketch: Sketch, centre: Point, *, above: bool = False) -> None:
    """Write what the circle is for, to the left below the target or above it."""
    x, y = centre
    top = y - 18.2 if above else y + 15.4
    sketch.text((x - 2.5, top), "cut out", size=2.9, anchor="end")
    sketch.text((x - 2.5, top + 3.8), f"{HOLE_DIAMETER:g} mm", size=2.9, anchor="end", color=FINE)


def draw_rays(sketch: Sketch, placement: Placement) -> None:
    """Draw the centre line from the spindle's target to each grid, but through no other grid's zone."""
    for grid in placement.grids:
        start, end = grid.at(13.5 - grid.null_radius_mm, 0.0), grid.at(-grid.reach_in - 0.5, 0.0)
        zones = [zone for other in placement.grids if other is not grid for zone in _zones(other).values()]
        if not any(overlapping((start, end), zone, 0.5) for zone in zones):
            sketch.line(start, end, width=0.15, color=INK, dash="6 1.2 1 1.2")


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
        turn_deg=grid.ray_deg,
    )
    text, size = fitted(
        f"{grid.name} {grid.null_radius_mm:.2f} mm",
        size_mm=4.2,
        width_mm=grid.reach_in + grid.reach_out - 1.0,
        smallest_mm=2.4,
        bold=True,
    )
    sketch.text(
        grid.at(middle, half + 7.4), text, size=size, bold=True, anchor="middle", turn_deg=grid.ray_deg
    )


def keep_zones_clear(sketch: Sketch, placement: Placement, area: Rectangle, *, sides: bool) -> None:
    """Name the places round each grid that stay clear for marks that a machine reads.

    Those before and behind a grid are part of its shape; beside it they are named where there is room.
    """
    for grid in placement.grids:
        for name, zone in _zones(grid).items():
            sketch.keep_clear(name, zone)
    if sides:
        kept: list[tuple[Point, ...]] = []
        for grid in placement.grids:
            _keep_sides_clear(sketch, placement, area, grid, kept)


def _zones(grid: GridPlace) -> dict[str, tuple[Point, ...]]:
    """Return the zones before and behind a grid, by name."""
    if not grid.shape.with_zones:
        return {}
    front = grid.shape.half_length + LABEL_DEPTH + ZONE_GAP
    back = -grid.shape.half_length - ZONE_GAP
    spans = {"front": (front, front + ZONE_DEPTH), "back": (back - ZONE_DEPTH, back)}
    return {
        f"{grid.name}-{name}": grid.box(-grid.reach_in, grid.reach_out, low, high)
        for name, (low, high) in spans.items()
    }


def _keep_sides_clear(
    sketch: Sketch, placement: Placement, area: Rectangle, grid: GridPlace, kept: list[tuple[Point, ...]]
) -> None:
    half = grid.shape.half_length
    sides = {
        "in": (-grid.reach_in - ZONE_GAP - SIDE_ZONE_DEPTH, -grid.reach_in - ZONE_GAP),
        "out": (grid.reach_out + ZONE_GAP, grid.reach_out + ZONE_GAP + SIDE_ZONE_DEPTH),
    }
    taken = [spindle_target(placement.spindle)]
    for other in placement.grids:
        taken.append((placement.spindle, other.centre))
        if other is not grid:
            taken.append(other.whole())
    for name, (low, high) in sides.items():
        for part, start, end in (("front", 1.0, half), ("back", -half, -1.0)):
            zone = grid.box(low, high, start, end)
            on_area = all(area.left <= x <= area.right and area.top <= y <= area.bottom for x, y in zone)
            if on_area and not any(overlapping(zone, other, 0.5) for other in (*taken, *kept)):
                sketch.keep_clear(f"{grid.name}-{name}-{part}", zone)
                kept.append(zone)


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
