"""Where the front of the cartridge's body may be in a photograph from above, or from behind, without a flag.

From there its front face doesn't show, but the front's level edge does, against the sheet before it, and a few
millimetres of its two sides. Level lines keep their direction on any level plane, whatever their height: on one
at the middle of a body's height its outline is part of a rectangle that is turned by the yaw. Before that the sheet's
print shows, inside it doesn't; the headshell's edge has the body before it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray
from groovewright.vision.camera import CameraPose
from groovewright.vision.face import LARGEST_YAW_DEG, LEFT_MM, RIGHT_MM
from groovewright.vision.front_plane import HALF_WIDTH_MM, SCALE, Drawn, draw
from groovewright.vision.grid_print import GridPrint
from groovewright.vision.load import Photo

LEVEL_MM = 9.0
"""Half way up a body above the sheet (common practice: 3 to 5 mm to its foot, 12 to 17 to its top)."""
AHEAD_MM, DRAWN_MM = (-3.5, 9.5), (-9.0, 15.0)
"""Where the front's edge may show on the plane, and what is drawn of it, to the front."""
WIDTHS_MM = (7.5, 22.5)
"""How wide a front is, between corners that may be cut."""
YAW_STEP_DEG, ACROSS_MM = 0.65, 0.5
GAP, FRONT_WEIGHT = 0.35, 1.2
"""What a place without an edge costs, as a share of what a clear one brings, and the weight of the front's edge."""
SIDES_MM, INSIDE_MM, BEFORE_MM = (0.4, 3.4), (1.4, 5.0), (1.4, 4.5)
"""How far back the sides and what lies between them are looked at, and how far ahead the sheet."""
SHEET_WEIGHT, COVER_WEIGHT = 2.0, 0.6
BEYOND_MM = 3.0
MARGIN_MM, APART_MM, WIDER_MM = 0.8, 0.7, 4.0
MOST = 8


@dataclass(frozen=True)
class FrontLine:
    """A level front edge as it may lie on the plane: its yaw, how far ahead and where its corners are, its worth.

    `ahead_mm`, `left_mm` and `right_mm` count in axes that are turned by the yaw.
    """

    yaw_deg: float
    ahead_mm: float
    left_mm: float
    right_mm: float
    worth: float

    def places(self, across: FloatArray, ahead: FloatArray) -> FloatArray:
        """Return places on the plane, given in the turned axes, in the grid's frame (z down). [shape=(n, 3)]"""
        c, s = math.cos(math.radians(self.yaw_deg)), math.sin(math.radians(self.yaw_deg))
        return np.column_stack(
            [c * across - s * ahead, s * across + c * ahead, np.full(len(across), -LEVEL_MM)]
        )


def _to_grid(across: FloatArray, ahead: FloatArray) -> FloatArray:
    return np.column_stack([across, ahead, np.full(np.shape(across), -LEVEL_MM)])


def find_front_lines(
    photo: Photo, pose: CameraPose, shown: GridPrint, marked: FloatArray | None = None
) -> list[FrontLine]:
    """Return what may be the front's edge, the best first.

    `marked` is the middle of it on the plane, where a person marked it. [shape=(2,)]
    """
    drawn = draw(photo, pose, shown, _to_grid, (-HALF_WIDTH_MM, HALF_WIDTH_MM), DRAWN_MM)
    left, right = (np.arange(*span, ACROSS_MM) for span in (LEFT_MM, RIGHT_MM))
    widths = right[None, :] - left[:, None]
    broad = (widths > WIDTHS_MM[0]) & (widths < WIDTHS_MM[1])
    ahead = np.arange(*AHEAD_MM, 1.0 / SCALE)
    found: list[FrontLine] = []
    for yaw in np.arange(-LARGEST_YAW_DEG, LARGEST_YAW_DEG + 1e-6, YAW_STEP_DEG):
        turned = Drawn(*(_turned(field, float(yaw)) for field in (drawn.across, drawn.up, drawn.sheet)))
        worth = _worth(turned, ahead, left, right)
        worth = np.where(broad[None], worth, -99.0)
        if marked is not None:
            s, c = math.sin(math.radians(yaw)), math.cos(math.radians(yaw))
            worth[np.abs(ahead - (c * marked[1] - s * marked[0])) > APART_MM] = -99.0
        flat = worth.reshape(len(ahead), -1)
        for f, k in enumerate(np.argmax(flat, axis=1)):
            i, j = divmod(int(k), len(right))
            at = (float(ahead[f]), float(left[i]), float(right[j]))
            found.append(FrontLine(float(yaw), *at, float(flat[f, k])))
    chosen: list[FrontLine] = []
    for line in sorted(found, key=lambda one: -one.worth):
        # at the limit of what is searched it is a line that is turned farther
        if abs(line.yaw_deg) < LARGEST_YAW_DEG - 0.5 * YAW_STEP_DEG and all(
            abs(line.ahead_mm - other.ahead_mm) > APART_MM or _wider(line, other) > WIDER_MM
            for other in chosen
        ):
            chosen.append(line)
    return chosen[:MOST]


def _wider(one: FrontLine, other: FrontLine) -> float:
    """Return how much farther one of two lines goes on at an end, in mm."""
    return max(abs(one.left_mm - other.left_mm), abs(one.right_mm - other.right_mm))


def _turned(field: FloatArray, yaw_deg: float) -> FloatArray:
    """Return a field of the plane in axes that are turned by a yaw about the null."""
    rows, columns = field.shape
    c, s = math.cos(math.radians(yaw_deg)), math.sin(math.radians(yaw_deg))
    middle = np.array([HALF_WIDTH_MM, -DRAWN_MM[0]]) * SCALE
    matrix = np.array([[c, -s], [s, c]])
    affine = np.column_stack([matrix, middle - matrix @ middle]).astype(np.float32)
    return np.asarray(
        cv2.warpAffine(
            field.astype(np.float32), affine, (columns, rows), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        ),
        dtype=float,
    )


def _summed(field: FloatArray, axis: int) -> FloatArray:
    pad = [(0, 0)] * field.ndim
    pad[axis] = (1, 0)
    return np.pad(np.cumsum(field, axis=axis), pad)


def _worth(
    drawn: Drawn,
    ahead: FloatArray,
    left: FloatArray,
    right: FloatArray,
) -> FloatArray:
    """Return what speaks for a front edge at each place between each pair of corners. [shape=(ahead, l, r)]"""
    rows, columns = drawn.up.shape

    def row(at: FloatArray) -> NDArray[np.intp]:
        return np.asarray(np.clip(np.rint((at - DRAWN_MM[0]) * SCALE).astype(int), 0, rows), dtype=np.intp)

    def column(at: FloatArray) -> NDArray[np.intp]:
        return np.asarray(
            np.clip(np.rint((at + HALF_WIDTH_MM) * SCALE).astype(int), 0, columns), dtype=np.intp
        )

    def between(total: FloatArray, back: FloatArray, front: FloatArray) -> FloatArray:
        part = total[row(front)] - total[row(back)]
        return np.asarray(part[:, None, column(right - MARGIN_MM)] - part[:, column(left + MARGIN_MM), None])

    level = _summed(drawn.up, 1)[np.clip(row(ahead), 0, rows - 1)]
    i, j = column(left), column(right)
    front = (np.abs(level[:, None, j] - level[:, i, None]) - GAP * (j[None, :] - i[:, None])[None]) / SCALE
    # a front's edge ends at its corners
    farther = [np.abs(level[:, column(at)] - level[:, column(at + out)]) / SCALE
               for at, out in ((left, -BEYOND_MM), (right, BEYOND_MM))]  # fmt: skip
    front = front - farther[0][:, :, None] - farther[1][:, None, :]
    beside = _summed(drawn.across, 0)
    total = beside[row(ahead - SIDES_MM[0])] - beside[row(ahead - SIDES_MM[1])]
    strong = np.max(
        [np.abs(total[:, np.clip(np.arange(columns) + k, 0, columns - 1)]) for k in (-1, 0, 1)], axis=0
    )
    sides = np.maximum(strong / SCALE - GAP * (SIDES_MM[1] - SIDES_MM[0]), 0.0)
    sheet = drawn.sheet
    shows = np.where(sheet > 0.0, -SHEET_WEIGHT * sheet, -COVER_WEIGHT * sheet) / SCALE**2
    inside = between(_summed(_summed(shows, 0), 1), ahead - INSIDE_MM[1], ahead - INSIDE_MM[0])
    free = np.where(sheet > 0.0, COVER_WEIGHT * sheet, SHEET_WEIGHT * sheet) / SCALE**2
    before = between(_summed(_summed(free, 0), 1), ahead + BEFORE_MM[0], ahead + BEFORE_MM[1])
    pair = sides[:, np.minimum(i, columns - 1), None] + sides[:, None, np.minimum(j, columns - 1)]
    return np.asarray(FRONT_WEIGHT * front + pair + inside + before)
