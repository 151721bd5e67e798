"""Find the sheet's coded markers and measure its saddle corners.

The codes are found in a small copy of the picture, which takes a fraction of the time, and in the full one only
where that was not enough. Saddle corners are then measured in the full picture, where the geometry says that they
must be. A corner that doesn't show two black and two white squares the right way round is hidden by something and
is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray
from groovewright.sheets.markers import FLAG_CODES, marker_corners
from groovewright.vision.camera import project
from groovewright.vision.load import Pixels

SEARCH_SIZE = 1900
"""Longer side of the copy in which codes are looked for, in pixels: about, since whole steps take least time."""
ENLARGED_BELOW = 3600
"""A smaller picture is searched at twice its size as well, with patience: its codes have modules of few pixels."""
DISPLAY_CURVE = 2.2
"""Pictures are stored with about this exponent (IEC 61966-2-1); its exact curve read flags no better and no worse."""
SMALLEST_PERIMETER = 0.015
"""Of a code, as a share of the picture's longer side; the smallest, from 450 mm away, have about 0.025."""
QUICK_WINDOWS, PATIENT_WINDOWS = (7, 21, 14), (5, 25, 10)
"""Sides in pixels of the neighbourhoods against which a pixel counts as black: first, last and step."""
LEAST_CONTRAST = 18.0
"""Of 255: less between black and white squares is not measured."""
_WINDOWS = (2, 3, 4, 5, 7, 9, 12)


@dataclass(frozen=True)
class Code:
    """One coded marker as it was found: its code and its four corners in pixels of the full picture."""

    code: int
    corners: FloatArray


def find_codes(gray: Pixels) -> list[Code]:
    """Return the markers of the house's codes that are found at once: in a small copy of the picture."""
    step = max(1, round(max(gray.shape) / SEARCH_SIZE))
    if step == 1:
        return _detect(gray, 1.0, QUICK_WINDOWS)
    height, width = (size - size % step for size in gray.shape)
    small = cv2.resize(gray[:height, :width], (width // step, height // step), interpolation=cv2.INTER_AREA)
    return _detect(np.asarray(small, dtype=np.uint8), float(step), QUICK_WINDOWS)


def find_codes_with_patience(gray: Pixels) -> list[Code]:
    """Return the markers found in the full picture, or in a small one at twice its size, where that shows more."""
    found = _detect(gray, 1.0, PATIENT_WINDOWS)
    if max(gray.shape) >= ENLARGED_BELOW:
        return found
    doubled = cv2.resize(gray, None, fx=2.0, fy=2.0, interpolation=cv2.INTER_CUBIC)
    return max(found, _detect(np.asarray(doubled, dtype=np.uint8), 0.5, PATIENT_WINDOWS), key=len)


def _detect(gray: Pixels, scale: float, windows: tuple[int, int, int]) -> list[Code]:
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_CONTOUR
    low, high, step = windows
    parameters.adaptiveThreshWinSizeMin, parameters.adaptiveThreshWinSizeMax = low, high
    parameters.adaptiveThreshWinSizeStep = step
    parameters.minMarkerPerimeterRate = SMALLEST_PERIMETER
    # modules of few pixels: read in their middles alone, and a border half of which blur has greyed still counts
    parameters.perspectiveRemoveIgnoredMarginPerCell = 0.25
    parameters.maxErroneousBitsInBorderRate = 0.5
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


def linear(gray: FloatArray) -> FloatArray:
    """Return gray levels as linear light, both 0 to 255: about the curve of IEC 61966-2-1. [shape=(...)]"""
    return np.asarray(255.0 * (np.asarray(gray, dtype=float) / 255.0) ** DISPLAY_CURVE)


_LIGHT = (linear(np.arange(256.0)) / 255.0).astype(np.float32)


def light_of(gray: Pixels) -> NDArray[np.float32]:
    """Return whole gray levels as linear light, 0 to 1, by the curve of `linear`. [shape=(...)]"""
    return np.asarray(_LIGHT[gray])
