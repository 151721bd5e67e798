"""Find the sheet's coded markers and measure its saddle corners.

The codes are found in a small copy of the picture, which takes a fraction of the time; saddle corners are
then measured in the full picture, where the geometry says that they must be. A corner that doesn't show two
black and two white squares the right way round is hidden by something and is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray
from groovewright.sheets.markers import FLAG_CODES, NULL_NAMES, marker_corners
from groovewright.vision.camera import project
from groovewright.vision.load import Pixels

SEARCH_SIZE = 1900
"""Longer side of the copy in which codes are looked for, in pixels: about, since whole steps take least time."""
ENOUGH_CODES = 6
"""With fewer at one grid, the full picture is searched too."""
ENLARGED_BELOW = 3600
"""A smaller picture is searched once more at twice its size: its codes have modules of few pixels."""
LEAST_CONTRAST = 18.0
"""Of 255: less between black and white squares is not measured."""
_WINDOWS = (2, 3, 4, 5, 7, 9, 12)


@dataclass(frozen=True)
class Code:
    """One coded marker as it was found: its code and its four corners in pixels of the full picture."""

    code: int
    corners: FloatArray


def find_codes(gray: Pixels) -> list[Code]:
    """Return every marker of the house's codes in a picture."""
    step = max(1, round(max(gray.shape) / SEARCH_SIZE))
    small = gray
    if step > 1:
        height, width = (size - size % step for size in gray.shape)
        size = (width // step, height // step)
        small = np.asarray(
            cv2.resize(gray[:height, :width], size, interpolation=cv2.INTER_AREA), dtype=np.uint8
        )
    found = _detect(small, float(step))
    if step > 1 and max(_count(found, null) for null in NULL_NAMES) < ENOUGH_CODES:
        found = _detect(gray, 1.0)
    if max(gray.shape) < ENLARGED_BELOW and max(_count(found, null) for null in NULL_NAMES) < ENOUGH_CODES:
        found = max(found, _detect(_doubled(gray), 0.5), key=len)
    return found


def _doubled(gray: Pixels) -> Pixels:
    return np.asarray(cv2.resize(gray, None, fx=2.0, fy=2.0, interpolation=cv2.INTER_CUBIC), dtype=np.uint8)


def _count(codes: list[Code], null: str) -> int:
    return sum((where := marker_corners(code.code)) is not None and where[0] == null for code in codes)


def _detect(gray: Pixels, scale: float) -> list[Code]:
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_CONTOUR
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    corners, codes, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(gray)
    if not len(corners):
        return []
    return [
        Code(int(code), (np.asarray(c, dtype=float).reshape(4, 2) + 0.5) * scale - 0.5)
        for code, c in zip(np.ravel(codes), corners, strict=True)
        if marker_corners(int(code)) is not None or int(code) in FLAG_CODES
    ]


@dataclass(frozen=True)
class FirstMap:
    """The map of a grid's millimetres to pixels from its markers, the corners that agree, and how many markers.

    `flat` and `pixels` are those corners, [shapes (n, 2), (n, 2)].
    """

    homography: FloatArray
    flat: FloatArray
    pixels: FloatArray
    markers: int


def first_map(codes: Sequence[Code], null: str) -> FirstMap | None:
    """Return the map of a grid from its markers, without those that disagree; None where there are none."""
    flat, seen = [], []
    for code in codes:
        where = marker_corners(code.code)
        if where is not None and where[0] == null:
            flat.append(where[1])
            seen.append(code.corners)
    if not flat:
        return None
    source, target = np.array(flat).reshape(-1, 2), np.array(seen).reshape(-1, 2)
    areas = [abs(cv2.contourArea(corners.astype(np.float32))) for corners in seen]
    reach = max(3.5, 0.12 * math.sqrt(float(np.median(areas))))
    homography, mask = cv2.findHomography(source, target, cv2.RANSAC, reach, maxIters=2000, confidence=0.999)
    if not np.any(mask):
        return None
    agree = np.asarray(mask).ravel() > 0
    markers = int((agree.reshape(-1, 4).sum(axis=1) >= 3).sum())
    if not markers:
        return None
    return FirstMap(np.asarray(homography, dtype=float), source[agree], target[agree], markers)


@dataclass(frozen=True)
class Target:
    """Saddle corners to look for: their place in mm (z down), two sides of a square, and their colours.

    [shapes (n, 3), (n, 3), (n, 3), (n,)]
    """

    places: FloatArray
    side_x: FloatArray
    side_y: FloatArray
    black_first: NDArray[np.bool_]


def measure_saddles(
    gray: Pixels, values: FloatArray, target: Target, slack: float = 0.35
) -> tuple[FloatArray, NDArray[np.bool_], FloatArray]:
    """Return the saddle corners' pixels, which can be trusted, and their squares' sizes in pixels.

    [shapes (n, 2), (n,), (n,)]

    `slack` is how far a corner may lie from where `values` draw it, in sides of a square.
    """
    expected = project(values, target.places)
    dx = project(values, target.places + 0.5 * target.side_x) - project(
        values, target.places - 0.5 * target.side_x
    )
    dy = project(values, target.places + 0.5 * target.side_y) - project(
        values, target.places - 0.5 * target.side_y
    )
    cell = np.minimum(np.hypot(*dx.T), np.hypot(*dy.T))
    # the height of the square's parallelogram, which a flat view makes smaller than its sides
    cell = np.minimum(
        cell, np.abs(dx[:, 0] * dy[:, 1] - dx[:, 1] * dy[:, 0]) / np.maximum(np.hypot(*dx.T), np.hypot(*dy.T))
    )
    height, width = gray.shape
    margin = cell + 4.0
    good = (
        (expected > margin[:, None]).all(axis=1)
        & (expected[:, 0] < width - 1 - margin)
        & (expected[:, 1] < height - 1 - margin)
        & (cell >= 4.0)
    )
    found = expected.copy()
    window = np.clip(np.floor(0.42 * cell), 2, _WINDOWS[-1]).astype(int)
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.005)
    for size in _WINDOWS:
        next_size = next((s for s in _WINDOWS if s > size), 10**6)
        chosen = np.flatnonzero(good & (window >= size) & (window < next_size))
        if len(chosen):
            points = expected[chosen].astype(np.float32).reshape(-1, 1, 2)
            refined = cv2.cornerSubPix(gray, points, (size, size), (-1, -1), criteria)
            found[chosen] = np.asarray(refined, dtype=float).reshape(-1, 2)
    good &= np.hypot(*(found - expected).T) < np.maximum(1.5, slack * cell)
    return found, good & _right_colours(gray, found, dx, dy, target.black_first), cell


def _right_colours(
    gray: Pixels, found: FloatArray, dx: FloatArray, dy: FloatArray, black_first: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Return which corners have their two black and two white squares the right way round."""
    levels = []
    for a, b in ((-1, -1), (1, 1), (1, -1), (-1, 1)):
        levels.append([sample(gray, found + reach * (a * dx + b * dy)) for reach in (0.25, 0.4)])
    corners = np.array(levels)
    dark = np.where(black_first, corners[:2], corners[2:])
    bright = np.where(black_first, corners[2:], corners[:2])
    contrast = bright[:, 1].mean(axis=0) - dark[:, 1].mean(axis=0)
    gap = bright[:, 1].min(axis=0) - dark[:, 1].max(axis=0)
    near = bright[:, 0].min(axis=0) - dark[:, 0].max(axis=0)
    return np.asarray((contrast > LEAST_CONTRAST) & (gap > 0.35 * contrast) & (near > 0.0))


def sample(gray: Pixels, points: FloatArray) -> FloatArray:
    """Return the gray levels at places between pixels (bilinear); 0 outside. [shape=(..., 2) to (...)]"""
    flat = points.reshape(-1, 1, 2).astype(np.float32)
    levels = [
        cv2.remap(gray, part[..., 0].copy(), part[..., 1].copy(), cv2.INTER_LINEAR)
        for part in np.array_split(flat, max(1, len(flat) // 30000 + 1))
        if len(part)
    ]
    return np.concatenate(levels).astype(float).reshape(points.shape[:-1])
