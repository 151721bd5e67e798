"""Where the front face of the cartridge's body may be in a photograph, without a flag.

A body is a box that stands a few millimetres above the sheet. Its front face lies between two level edges of one
direction and two silhouettes: on the side that the camera doesn't see, the upright corner; on the side that it
sees, the lower edge of that side, whose direction the camera's place gives. Every such face on the plane, coarse
steps apart, is given what its four edges show and what the sheet's print says of its inside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray
from groovewright.vision.front_plane import HALF_WIDTH_MM, LOWEST_MM, SCALE, FrontPlane

LARGEST_YAW_DEG, YAW_STEP_DEG = 7.8, 1.3
STEP_MM, ACROSS_MM = 0.34, 0.5
LEFT_MM, RIGHT_MM = (-13.0, -4.0), (4.0, 13.0)
LOW_MM, TOP_MM = (-1.5, 9.0), (6.0, 21.0)
WIDTHS_MM, HEIGHTS_MM = (10.5, 22.5), (5.0, 14.5)
"""Where the edges of a face may show on the plane, how wide and how high it is."""
LEANS = np.arange(-0.40, 0.401, 0.02)
UPRIGHT_LEAN, ALONG_LEAN = 0.03, 0.05
"""How far an upright, or an edge along the side, may lean from what a level body's would."""
SEEN_LEAN = 0.004
"""An edge along the side that leans outward by more than this hides the upright before it."""
GAP = 0.35
"""What a place without an edge costs, as a share of what a place with a clear one brings."""
INSIDE_MM = 0.8
SHEET_WEIGHT, COVER_WEIGHT = 4.0, 0.6
"""What 1 mm2 of print inside a face speaks against it, and of missing print for it."""
LOWER_WEIGHT = 1.2
MOST = 8
APART_MM, MARKED_MM = 0.9, 0.7


@dataclass(frozen=True)
class Face:
    """A face as it may lie on the plane: its yaw, its sides at the lower edge, its heights, in mm, and its worth.

    `leans` are the slopes of left and right silhouette; `along` tells which of them is the lower edge of a side.
    """

    yaw_deg: float
    left_mm: float
    right_mm: float
    low_mm: float
    high_mm: float
    leans: tuple[float, float]
    along: tuple[bool, bool]
    worth: float

    @property
    def rise(self) -> float:
        """The yaw's tangent; a level edge rises on the plane by its product with the plane's pitch, backwards."""
        return math.tan(math.radians(self.yaw_deg))


def along_lean(plane: FrontPlane, yaw_deg: float, across: float, height: float) -> float:
    """Return the slope on the plane of a line that runs back along the body from a place of it."""
    x, y, h = plane.eye
    return float((math.tan(math.radians(yaw_deg)) * y + (x - across)) / max(1.0, h - height))


def _column(across: FloatArray) -> FloatArray:
    return (across + HALF_WIDTH_MM) * SCALE


def _row(height: FloatArray) -> FloatArray:
    return (height - LOWEST_MM) * SCALE


def _summed(field: FloatArray, axis: int) -> FloatArray:
    """Return sums from the start up to each place."""
    total = np.cumsum(field, axis=axis)
    pad = [(0, 0)] * field.ndim
    pad[axis] = (1, 0)
    return np.pad(total, pad)


def find_faces(plane: FrontPlane, marked: FloatArray | None = None) -> list[Face]:
    """Return what may be the body's front face, the best first.

    `marked` are places across and heights of the ends of its lower edge, where a person marked it. [shape=(2, 2)]
    """
    left, right = (np.arange(*span, ACROSS_MM) for span in (LEFT_MM, RIGHT_MM))
    low, high = (np.arange(*span, STEP_MM) for span in (LOW_MM, TOP_MM))
    silhouettes = _silhouettes(plane, np.concatenate([left, right]), low, high)
    inside = _inside(plane, left, right, low, high)
    heights = high[None, :] - low[:, None]
    fits = (heights > HEIGHTS_MM[0]) & (heights < HEIGHTS_MM[1])
    widths = right[None, :] - left[:, None]
    broad = (widths > WIDTHS_MM[0]) & (widths < WIDTHS_MM[1])
    if marked is not None:
        fits &= (np.abs(low - marked[:, 1].mean()) < MARKED_MM)[:, None]
    found: list[Face] = []
    for yaw in np.arange(-LARGEST_YAW_DEG, LARGEST_YAW_DEG + 1e-6, YAW_STEP_DEG):
        level = _levels(plane, float(yaw), left, right)
        lower, upper = (_at_heights(level, at) for at in (low, high))
        sides = [
            _side(plane, silhouettes, float(yaw), at, first, outer, low)
            for at, first, outer in ((left, 0, -1.0), (right, len(left), 1.0))
        ]
        worth = (
            np.float32(LOWER_WEIGHT) * lower[:, None]
            + np.maximum(upper, np.float32(0.0))[None, :]
            + sides[0][0][:, :, :, None]
            + sides[1][0][:, :, None, :]
            + inside
        )
        worth = np.where(fits[:, :, None, None] & broad[None, None], worth, np.float32(-99.0))
        flat = worth.ravel()
        for k in np.argpartition(flat, -3 * MOST)[-3 * MOST :]:
            if flat[k] < 0.0:
                continue
            b, t, i, j = np.unravel_index(int(k), worth.shape)
            leans = tuple(float(LEANS[side[1][b, t, n]]) for side, n in zip(sides, (i, j), strict=True))
            kinds = tuple(bool(side[2][b, t, n]) for side, n in zip(sides, (i, j), strict=True))
            found.append(
                Face(
                    float(yaw), float(left[i]), float(right[j]), float(low[b]), float(high[t]),
                    (leans[0], leans[1]), (kinds[0], kinds[1]), float(flat[k]),
                )
            )  # fmt: skip
    return _different(sorted(found, key=lambda face: -face.worth))


def _different(found: list[Face]) -> list[Face]:
    """Return the best faces that aren't nearly the same."""
    chosen: list[Face] = []
    for face in found:
        if all(
            max(
                abs(face.low_mm - other.low_mm),
                abs(face.high_mm - other.high_mm),
                abs(face.left_mm - other.left_mm),
                abs(face.right_mm - other.right_mm),
            )
            > APART_MM
            for other in chosen
        ):
            chosen.append(face)
            if len(chosen) == MOST:
                break
    return chosen


def _levels(plane: FrontPlane, yaw_deg: float, left: FloatArray, right: FloatArray) -> FloatArray:
    """Return what a level edge at each row's height is worth between each pair of sides. [shape=(rows, l, r)]"""
    rows, columns = plane.up.shape
    slope = -math.tan(math.radians(yaw_deg)) * plane.pitch_mm
    matrix = np.array([[1.0, 0.0, 0.0], [slope, 1.0, -slope * 0.5 * (columns - 1)]], dtype=np.float32)
    sheared = cv2.warpAffine(
        plane.up.astype(np.float32), matrix, (columns, rows), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    )
    total = _summed(np.asarray(sheared, dtype=np.float32), 1)
    i, j = (np.clip(np.rint(_column(at)).astype(int), 0, columns) for at in (left, right))
    sums = total[:, None, j] - total[:, i, None]
    lengths = (j[None, :] - i[:, None])[None]
    return np.asarray((np.abs(sums) - GAP * lengths) / SCALE, dtype=np.float32)


def _at_heights(level: FloatArray, heights: FloatArray) -> FloatArray:
    """Return the best level edge near each height. [shape=(heights, l, r)]"""
    r = np.rint(_row(heights)).astype(int)
    return np.asarray(np.max([level[np.clip(r + k, 0, len(level) - 1)] for k in (-1, 0, 1)], axis=0))


def _silhouettes(plane: FrontPlane, at: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Return what lines from a place at a lower height up to an upper one are worth.

    [shape=(leans, lower heights, upper heights, places)]
    """
    rows, columns = plane.across.shape
    out = np.empty((len(LEANS), len(low), len(high), len(at)), dtype=np.float32)
    field = plane.across.astype(np.float32)
    b, t = (np.clip(np.rint(_row(h)).astype(int), 0, rows) for h in (low, high))
    for k, lean in enumerate(LEANS):
        matrix = np.array([[1.0, lean, 0.0], [0.0, 1.0, 0.0]], dtype=np.float32)
        sheared = cv2.warpAffine(
            field, matrix, (columns, rows), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        )
        total = _summed(np.asarray(sheared, dtype=np.float32), 0)
        # a line with this lean that is at a place at a lower height starts farther inside or outside at row 0
        start = np.rint(_column(at)[None, :] - lean * b[:, None]).astype(int)
        good = (start >= 1) & (start < columns - 1)
        start = np.clip(start, 1, columns - 2)
        best = None
        for off in (-1, 0, 1):
            column = start[:, None, :] + off
            sums = np.abs(total[t[None, :, None], column] - total[b[:, None, None], column])
            best = sums if best is None else np.maximum(best, sums)
        length = np.maximum(t[None, :, None] - b[:, None, None], 0)
        out[k] = np.where(good[:, None, :], (best - GAP * length) / SCALE, -5.0)
    return np.asarray(out, dtype=np.float32)


def _side(
    plane: FrontPlane,
    table: FloatArray,
    yaw_deg: float,
    at: FloatArray,
    first: int,
    outer: float,
    low: FloatArray,
) -> tuple[FloatArray, NDArray[np.intp], NDArray[np.bool_]]:
    """Return what a silhouette at each place is worth, its lean, and whether it runs along the body's side.

    [shapes (lower heights, upper heights, places)]
    """
    along = np.array([[along_lean(plane, yaw_deg, a, h) for a in at] for h in low])
    seen = outer * along > SEEN_LEAN
    off_along = np.abs(LEANS[:, None, None] - along[None])
    allowed = np.where(seen[None], off_along < ALONG_LEAN, np.abs(LEANS)[:, None, None] < UPRIGHT_LEAN + 1e-9)
    worth = np.where(allowed[:, :, None, :], table[:, :, :, first : first + len(at)], np.float32(-9.0))
    best = np.argmax(worth, axis=0)
    value = np.take_along_axis(worth, best[None], axis=0)[0]
    kinds = np.broadcast_to(seen[:, None, :], value.shape)
    return np.maximum(value, np.float32(-5.0)), best, kinds


def _inside(
    plane: FrontPlane, left: FloatArray, right: FloatArray, low: FloatArray, high: FloatArray
) -> FloatArray:
    """Return what the sheet's print says of each face's inside. [shape=(l heights, u heights, left, right)]"""
    rows, columns = plane.sheet.shape
    field = np.where(plane.sheet > 0.0, -SHEET_WEIGHT * plane.sheet, -COVER_WEIGHT * plane.sheet) / SCALE**2
    total = _summed(_summed(field, 0), 1)
    b, t = (np.clip(np.rint(_row(h)).astype(int), 0, rows) for h in (low + INSIDE_MM, high - INSIDE_MM))
    i, j = (
        np.clip(np.rint(_column(x)).astype(int), 0, columns) for x in (left + INSIDE_MM, right - INSIDE_MM)
    )
    part = total[t][None, :, :] - total[b][:, None, :]
    return np.asarray(part[:, :, None, j] - part[:, :, i, None], dtype=np.float32)
