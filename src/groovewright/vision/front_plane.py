"""Straight edges of the cartridge's front or side, searched where one direction is one column.

The picture is drawn anew on an upright plane of the grid that the face nearly lies in. Lines that run along
the face or upright keep their direction there, however far before or behind the plane they are, so that few
directions have to be searched: uprights within a few degrees, level edges within the yaw that is looked for.
A run of steps of one sign along such a direction is a segment (the largest sum of a run: J. B. Kadane).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray
from groovewright.vision.camera import CameraPose, on_plane, project
from groovewright.vision.edge import DISPLAY_CURVE
from groovewright.vision.load import Photo

LOWEST_MM, HIGHEST_MM = -8.0, 20.0
"""What is searched, up the plane."""
LEAST_SCALE, MOST_SCALE = 6.0, 9.0
"""Pixels for each millimetre of the plane."""
WEAK_STEP, STRONG_STEP = 1.5, 6.0
"""Steps of linear light, of 255: a weaker one counts as none, a stronger one no more than this."""
GAP = 0.3
"""What a place without a step costs a run, as a share of what a place with a strong one brings."""
LEAST_WORTH_MM = 0.5
BESIDE = 0.6
"""What a pixel beside the middle of an edge brings, as a share."""
APART_MM = 0.35
"""Of parallel segments nearer than this, one is kept."""
FEWEST_PIXELS = 12
LINE_SHARE = 0.05
"""A heavy line that shows is darker than the paper beside it by at least so much."""
_HEAVY_MM = 5.0
_STRIDE = 6


@dataclass(frozen=True)
class Facing:
    """Which face is looked at: its direction turned from the front, clockwise, and where its plane stands, in mm.

    `half_width_mm` is what is searched to both sides.
    """

    turn_deg: float
    plane_mm: float
    half_width_mm: float

    def to_grid(self, across: FloatArray, height: FloatArray) -> FloatArray:
        """Return places of the plane in the grid's frame (z down). [shapes (n,), (n,) to (n, 3)]"""
        c, s = math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))
        return np.column_stack([c * across - s * self.plane_mm, s * across + c * self.plane_mm, -height])


@dataclass(frozen=True)
class Segment:
    """A straight run of steps on the plane: its ends, left or lower first, its sign, and how much it is worth.

    `ends` holds the place across and the height in mm [shape=(2, 2)]; `sign` is +1 where it is brighter to the
    right or above. `worth` is its length in mm, weighted with the size of its steps.
    """

    ends: FloatArray
    sign: float
    worth: float


@dataclass(frozen=True)
class FrontPlane:
    """The picture on the plane: linear light, pixels for each mm, and what the sheet's heavy lines cover.

    Row 0 is at `HIGHEST_MM`, column 0 at minus half the width; `pitch_mm` is how far apart the sheet's lines
    of 1 mm along the face appear up the plane.
    """

    facing: Facing
    levels: FloatArray
    scale: float
    sheet: NDArray[np.bool_]
    pitch_mm: float
    lines: NDArray[np.bool_]
    paper: FloatArray

    def sheet_shows(self, left: float, right: float, low: float, high: float) -> float:
        """Return how much darker the sheet's heavy lines are than what lies beside them, as a share, in a part.

        Where something lies over the sheet there is no difference; nan where no line runs.
        """
        rows = slice(
            max(0, round((HIGHEST_MM - high) * self.scale)), max(0, round((HIGHEST_MM - low) * self.scale))
        )
        columns = slice(
            max(0, round((left + self.facing.half_width_mm) * self.scale)),
            max(0, round((right + self.facing.half_width_mm) * self.scale)),
        )
        lines = self.lines[rows, columns]
        if lines.sum() < FEWEST_PIXELS:
            return math.nan
        return float(1.0 - self.levels[rows, columns][lines].mean() / self.paper[rows, columns][lines].mean())


def draw_plane(photo: Photo, pose: CameraPose, facing: Facing) -> FrontPlane:
    """Return the picture as the upright plane of a face shows it."""
    nearby = project(pose.values, facing.to_grid(np.array([0.0, 1.0]), np.array([5.0, 5.0])))
    per_mm = float(np.hypot(*(nearby[1] - nearby[0])))
    scale = float(np.clip(per_mm, LEAST_SCALE, MOST_SCALE))
    columns, rows = round(2.0 * facing.half_width_mm * scale), round((HIGHEST_MM - LOWEST_MM) * scale)
    # the map is smooth: worked out at every sixth place and filled in between
    across = np.arange(0, columns + _STRIDE, _STRIDE) / scale - facing.half_width_mm
    height = HIGHEST_MM - np.arange(0, rows + _STRIDE, _STRIDE) / scale
    a, h = np.meshgrid(across, height)
    pixels = project(pose.values, facing.to_grid(a.ravel(), h.ravel()))
    coarse = np.column_stack([pixels, on_plane(pose.values, pixels, 0.0)]).astype(np.float32)
    u, v = np.meshgrid(
        np.arange(columns, dtype=np.float32) / _STRIDE, np.arange(rows, dtype=np.float32) / _STRIDE
    )
    fine = [
        cv2.remap(np.ascontiguousarray(coarse[:, k].reshape(a.shape)), u, v, cv2.INTER_LINEAR)
        for k in range(4)
    ]
    shown = cv2.remap(photo.gray, fine[0], fine[1], cv2.INTER_LINEAR)
    levels = (255.0 * (np.arange(256) / 255.0) ** DISPLAY_CURVE).astype(np.float32)[shown]
    towards = float(facing.to_grid(np.array([0.0]), np.array([5.0]))[0, :2] @ pose.position()[:2])
    distance = towards / max(1e-9, abs(facing.plane_mm)) - abs(facing.plane_mm)
    pitch = float(np.clip(pose.height_mm() / max(1.0, distance), 0.5, 6.0))
    away = np.minimum(*(np.abs((f + _HEAVY_MM / 2.0) % _HEAVY_MM - _HEAVY_MM / 2.0) for f in fine[2:]))
    blurred = 1.0 / max(1.0, per_mm)
    covered = away < 0.12 + blurred
    window = 2 * round((0.12 + blurred) * scale) + 5
    clear = (~covered).astype(np.float32)
    sums, counts = (
        cv2.boxFilter(part, cv2.CV_32F, (window, window), normalize=False) for part in (levels * clear, clear)
    )
    paper = np.where(counts > 0.2 * window**2, sums / np.maximum(counts, 1.0), 0.0)
    lines = (away < 0.08 + 0.3 / max(1.0, per_mm)) & (paper > 0.0)
    # where something lies over the sheet its lines are not there to be left out
    part = 2 * round(0.75 * scale) + 1
    darker, count = (
        cv2.boxFilter(
            np.where(lines, what, 0.0).astype(np.float32), cv2.CV_32F, (part, part), normalize=False
        )
        for what in (1.0 - levels / np.maximum(paper, 1.0), np.ones_like(levels))
    )
    shows = darker > LINE_SHARE * np.maximum(count, 1.0)
    return FrontPlane(facing, levels, scale, covered & shows, pitch, lines, paper)


def uprights(
    plane: FrontPlane, steps: FloatArray, slopes: FloatArray, band: tuple[float, float], shortest_mm: float
) -> list[Segment]:
    """Return upright segments within a band of heights, the worthiest first.

    `steps` are those across, of `upright_steps`; `slopes` the leans to the right that are searched.
    """
    first, last = (int(np.clip(round((HIGHEST_MM - h) * plane.scale), 0, len(steps))) for h in band[::-1])
    if last - first < 4:
        return []
    rows = slice(first, last)
    return [
        _segment(plane, np.array([[c0, last - 1 - r0], [c1, last - 1 - r1]]), sign, worth)
        for c0, r0, c1, r1, sign, worth in _runs(
            steps[rows][::-1].T, plane.sheet[rows][::-1].T, slopes, plane.scale, shortest_mm
        )
    ]


def upright_steps(plane: FrontPlane) -> FloatArray:
    """Return the steps across the plane, as `uprights` takes them."""
    return _steps(plane, axis=1)


def level_edges(plane: FrontPlane, slopes: FloatArray, shortest_mm: float) -> list[Segment]:
    """Return segments along the face, the worthiest first; `slopes` are the rises to the right."""
    return [
        _segment(plane, np.array([[c0, r0], [c1, r1]]), sign, worth)
        for r0, c0, r1, c1, sign, worth in _runs(
            -_steps(plane, axis=0), plane.sheet, -slopes, plane.scale, shortest_mm
        )
    ]


def _segment(plane: FrontPlane, places: FloatArray, sign: float, worth: float) -> Segment:
    ends = np.column_stack(
        [places[:, 0] / plane.scale - plane.facing.half_width_mm, HIGHEST_MM - places[:, 1] / plane.scale]
    )
    return Segment(ends, sign, worth)


def _steps(plane: FrontPlane, axis: int) -> FloatArray:
    """Return the size of the steps along an axis in units of a strong one.

    A step is the mean level of a window after a place less that before it. The windows are as long as the
    sheet's fine lines are apart, so that these don't count; its heavy ones are left out.
    """
    half = max(1, round(0.5 * plane.scale * (1.0 if axis == 1 else plane.pitch_mm)))
    window = 2 * half + 1
    shown = (~plane.sheet).astype(np.float32)
    size = (window, 3) if axis == 1 else (3, window)
    sums = cv2.boxFilter(plane.levels * shown, cv2.CV_32F, size, normalize=False)
    counts = cv2.boxFilter(shown, cv2.CV_32F, size, normalize=False)
    mean, seen = sums / np.maximum(counts, 1.0), counts >= 0.2 * window * 3
    step = np.roll(mean, -half - 1, axis) - np.roll(mean, half + 1, axis)
    step[~(np.roll(seen, -half - 1, axis) & np.roll(seen, half + 1, axis))] = 0.0
    rim = [slice(None), slice(None)]
    for part in (slice(0, window + 1), slice(-window - 1, None)):
        rim[axis] = part
        step[tuple(rim)] = 0.0
    # the window's length widens an edge: its middle alone, and the pixels beside it, count
    strength = np.abs(step)
    near = np.ones((1, 2 * half + 1) if axis == 1 else (2 * half + 1, 1), np.uint8)
    middle = ((strength >= cv2.dilate(strength, near)) & (strength > WEAK_STEP)).astype(np.uint8)
    beside = cv2.dilate(middle, np.ones((1, 3) if axis == 1 else (3, 1), np.uint8))
    return np.asarray(np.clip(step / STRONG_STEP, -1.0, 1.0) * (BESIDE * beside + (1.0 - BESIDE) * middle))


def _runs(
    steps: FloatArray, unseen: NDArray[np.bool_], slopes: FloatArray, scale: float, shortest_mm: float
) -> list[tuple[float, float, float, float, float, float]]:
    """Return the best runs along the second axis that shift along the first by a slope.

    Each as first place (across, along), last place, sign and worth; slopes are about the middle.
    """
    across, along = steps.shape
    middle = 0.5 * (along - 1)
    # along first, so that what is compared lies together
    table = np.empty((along, len(slopes), across), dtype=np.float32)
    seen = np.empty(table.shape, dtype=bool)
    single, hidden = (
        np.ascontiguousarray(steps, dtype=np.float32),
        np.ascontiguousarray(unseen, dtype=np.uint8),
    )
    for k, slope in enumerate(slopes):
        table[:, k] = _sheared(single, float(slope), cv2.INTER_LINEAR).T
        seen[:, k] = _sheared(hidden, float(slope), cv2.INTER_NEAREST).T == 0
    found = []
    for sign in (1.0, -1.0):
        worth, first, last = _best_run((np.float32(sign) * table - np.float32(GAP)) * seen)
        worth /= scale
        reach = max(2, round(APART_MM * scale))
        best = cv2.dilate(worth.max(axis=0)[None], np.ones((1, 2 * reach + 1), np.uint8))
        for s, a in zip(*np.nonzero((worth == best) & (worth > LEAST_WORTH_MM)), strict=True):
            begin, end = float(first[s, a]), float(last[s, a])
            if end - begin >= shortest_mm * scale:
                begins, ends = a + slopes[s] * (begin - middle), a + slopes[s] * (end - middle)
                found.append((float(begins), begin, float(ends), end, sign, float(worth[s, a])))
    return sorted(found, key=lambda run: -run[-1])


def _sheared(picture: NDArray[Any], slope: float, between: int) -> NDArray[Any]:
    """Return a picture with each place along moved across, so that a line of this slope lies level."""
    across, along = picture.shape
    matrix = np.array([[1.0, 0.0, 0.0], [slope, 1.0, -slope * 0.5 * (along - 1)]], dtype=np.float32)
    return np.asarray(cv2.warpAffine(picture, matrix, (along, across), flags=between | cv2.WARP_INVERSE_MAP))


def _best_run(
    gain: NDArray[np.float32],
) -> tuple[NDArray[np.float32], NDArray[np.int32], NDArray[np.int32]]:
    """Return the largest sum of a run along the first axis, and its first and last place."""
    best: NDArray[np.float32] = np.zeros(gain.shape[1:], dtype=np.float32)
    run: NDArray[np.float32] = np.zeros_like(best)
    first: NDArray[np.int32] = np.zeros(gain.shape[1:], dtype=np.int32)
    last, since = np.zeros_like(first), np.zeros_like(first)
    for k, here in enumerate(gain):
        since[run <= 0.0] = k
        np.maximum(run, 0.0, out=run)
        run += here
        better = run > best
        np.copyto(best, run, where=better)
        np.copyto(first, since, where=better)
        np.copyto(last, np.int32(k), where=better)
    return best, first, last
