"""Draw what a camera reads: strips and ladders round a grid, and the flag to cut out."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray
from groovewright.sheets.drawing import FINE, INK, PAPER_WHITE, Point, Sketch
from groovewright.sheets.identity import WORDS, SheetIdentity, identity_words
from groovewright.sheets.markers import (
    CELL_MM,
    CODES,
    FLAG_WIDTH_MM,
    FLANGE_DEPTH_MM,
    LADDER_HALF_LENGTH_MM,
    LADDER_MIDDLES_MM,
    MARKER_MM,
    PANEL_HEIGHT_MM,
    RUNG_MM,
    SQUARE_MM,
    TAB_HEIGHT_MM,
    Box,
    flag_boxes,
    ladder_rungs,
    strip_squares,
    word_cells,
)
from groovewright.sheets.placement import GridPlace, Placement, Rectangle, spindle_target

FLAG_HEIGHT_MM = FLANGE_DEPTH_MM + PANEL_HEIGHT_MM + TAB_HEIGHT_MM
FLAG_ROOM_MM = (FLAG_WIDTH_MM + 22.5, FLAG_HEIGHT_MM + 1.0)
FLAG_ALONE_MM = (FLAG_WIDTH_MM + 7.0, FLAG_HEIGHT_MM + 0.5)
"""Room for the flag with its words, and with its fold marks only."""

FLAG_GAP_MM = 1.0
"""How far the flag's room stays from everything else."""


def draw_marks(sketch: Sketch, placement: Placement, kind: str) -> None:
    """Draw strips and ladders of every grid that has room for them."""
    if len(placement.grids) < 2:
        kind = "one-point"
    for grid in placement.grids:
        if grid.shape.with_zones:
            others = [other.null_radius_mm for other in placement.grids if other is not grid]
            identity = SheetIdentity(kind, grid.null_radius_mm, others[0] if others else None)
            for front in (True, False):
                _draw_strip(sketch, grid, identity_words(identity), front=front)
            for sign, reach in ((-1.0, grid.reach_in), (1.0, grid.reach_out)):
                _draw_ladder(sketch, grid, sign, reach)


def _draw_strip(sketch: Sketch, grid: GridPlace, words: Sequence[int], *, front: bool) -> None:
    black: list[Box] = []
    white: list[Box] = []
    for square in strip_squares(grid.name, front=front):
        x, y = square.middle
        half = SQUARE_MM / 2.0
        if x - half < -grid.reach_in - 1e-6 or x + half > grid.reach_out + 1e-6:
            continue
        if square.black:
            black.append((x - half, x + half, y - half, y + half))
            white += word_cells(words[square.column % WORDS], x, y, CELL_MM)
        else:
            black.append((x - MARKER_MM / 2.0, x + MARKER_MM / 2.0, y - MARKER_MM / 2.0, y + MARKER_MM / 2.0))
            white += word_cells(CODES[square.code], x, y, MARKER_MM / 6.0)
    name = f"marks-{grid.name}-{'front' if front else 'back'}"
    if black:
        sketch.outlines([grid.box(*box) for box in black], fill=INK, name=name)
        sketch.outlines([grid.box(*box) for box in white], fill=PAPER_WHITE, name=f"{name}-cells")


def _draw_ladder(sketch: Sketch, grid: GridPlace, sign: float, reach: float) -> None:
    """Draw the ladder along one side of a grid, where the grid reaches as far as one stands."""
    middle = next((m for m in LADDER_MIDDLES_MM if reach >= m + RUNG_MM), None)
    if middle is None:
        return
    half = LADDER_HALF_LENGTH_MM
    sketch.outlines(
        [grid.box(sign * middle - RUNG_MM, sign * middle + RUNG_MM, -half, half)], fill=PAPER_WHITE
    )
    rungs = [
        grid.box(x, x + RUNG_MM, y, y + RUNG_MM) for (x, y), black in ladder_rungs(sign * middle) if black
    ]
    sketch.outlines(rungs, fill=INK, name=f"marks-{grid.name}-{'out' if sign > 0 else 'in'}")
    sketch.outline(
        grid.box(sign * middle - RUNG_MM, sign * middle + RUNG_MM, -half, half), width=0.35, color=INK
    )


def draw_flag(
    sketch: Sketch, placement: Placement, area: Rectangle, taken: Sequence[Sequence[Point]] = ()
) -> dict[str, float | str]:
    """Draw the flag to cut out where there is room; return where its upper left corner is on the paper."""
    zones = [[sketch.off_paper(corner) for corner in zone] for zone in sketch.zones.values()]
    place, words = _free_place(placement, area, [*taken, *zones], FLAG_ROOM_MM), True
    if place is None:
        place, words = _free_place(placement, area, [*taken, *zones], FLAG_ALONE_MM), False
    if place is None:
        return {}
    left, top = place[0] + 3.5, place[1]
    fold = top + FLANGE_DEPTH_MM
    # on the strip the flange lies above the fold when seen from the panel's foot: y grows towards the tab
    middle = left + FLAG_WIDTH_MM / 2.0

    def box(x0: float, x1: float, y0: float, y1: float) -> tuple[Point, ...]:
        return (
            (middle + x0, fold + y0),
            (middle + x1, fold + y0),
            (middle + x1, fold + y1),
            (middle + x0, fold + y1),
        )

    black, white = flag_boxes()
    sketch.outlines([box(*b) for b in black], fill=INK, name="flag-marks")
    sketch.outlines([box(*b) for b in white], fill=PAPER_WHITE, name="flag-cells")
    half = FLAG_WIDTH_MM / 2.0
    sketch.outline(box(-half, half, -FLANGE_DEPTH_MM, PANEL_HEIGHT_MM + TAB_HEIGHT_MM), width=0.2, color=FINE)
    for sign in (-1.0, 1.0):
        sketch.line((middle + sign * (half + 0.6), fold), (middle + sign * (half + 3.0), fold), width=0.3)
    sketch.text((middle, fold + PANEL_HEIGHT_MM + 2.3), "tape", size=2.6, anchor="middle", color=FINE)
    for k, (text, bold) in enumerate(
        (("flag", True), ("cut out,", False), ("fold up", False)) if words else ()
    ):
        y = (top + 4.0, top + 8.0, fold + 1.0)[k]
        sketch.text((left + FLAG_WIDTH_MM + 4.0, y), text, size=2.9, bold=bold)
    x, y = sketch.on_paper((left, top))
    return {"flag_x_mm": x, "flag_y_mm": y}


def _free_place(
    placement: Placement, area: Rectangle, taken: Sequence[Sequence[Point]], room_mm: Point
) -> Point | None:
    """Return the upper left corner of a free place for the flag, nearest the lower left of the drawing."""
    width, height = room_mm
    blocked: list[Sequence[Point]] = [spindle_target(placement.spindle), *taken]
    for grid in placement.grids:
        blocked += [grid.whole(), _ray(placement, grid)]
    tops = np.arange(math.ceil(area.bottom - height), math.ceil(area.top), -1.0)
    lefts = np.arange(math.ceil(area.left + 1.0), math.floor(area.right - width))
    top, left = (grid.ravel() for grid in np.meshgrid(tops, lefts, indexing="ij"))
    free = np.ones(left.size, dtype=bool)
    for polygon in blocked:
        free &= _clear_of(np.asarray(polygon, dtype=float), left, top, width, height)
    found = np.flatnonzero(free)
    return (float(left[found[0]]), float(top[found[0]])) if found.size else None


def _clear_of(
    polygon: FloatArray, left: FloatArray, top: FloatArray, width: float, height: float
) -> NDArray[np.bool_]:
    """Return which upright rectangles stay `FLAG_GAP_MM` clear of a convex polygon, by separating axes.

    [shapes (corners, 2), (n,), (n,) to (n,)]
    """
    ways = np.roll(polygon, -1, axis=0) - polygon
    lengths = np.hypot(*ways.T)
    normals = np.column_stack([ways[:, 1], -ways[:, 0]])[lengths > 0.0] / lengths[lengths > 0.0, None]
    clear = np.zeros(left.size, dtype=bool)
    for nx, ny in (*normals, (1.0, 0.0), (0.0, 1.0)):
        middle = nx * (left + width / 2.0) + ny * (top + height / 2.0)
        reach = 0.5 * (width * abs(nx) + height * abs(ny)) + FLAG_GAP_MM
        there = polygon @ np.array([nx, ny])
        clear |= (there.min() >= middle + reach) | (there.max() <= middle - reach)
    return clear


def _ray(placement: Placement, grid: GridPlace) -> tuple[Point, ...]:
    (x0, y0), (x1, y1) = placement.spindle, grid.centre
    length = math.hypot(x1 - x0, y1 - y0)
    nx, ny = 0.5 * (y1 - y0) / length, -0.5 * (x1 - x0) / length
    return (x0 + nx, y0 + ny), (x1 + nx, y1 + ny), (x1 - nx, y1 - ny), (x0 - nx, y0 - ny)
