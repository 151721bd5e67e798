"""Find the sheet's coded markers and measure its saddle corners.

The codes are found in a small copy of the picture, which takes a fraction of the time; saddle corners are
then measured in the full picture, where the geometry says that they must be. A corner that doesn't show two
black and two white squares the right way round is hidden by something and is left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray
from groovewright.sheets.markers import FLANGE_CODE, PANEL_CODE, marker_corners
from groovewright.vision.camera import project
from groovewright.vision.load import Pixels

SEARCH_SIZE = 1700
"""Longer side of the copy in which codes are looked for, in pixels."""
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
    step = max(1.0, max(gray.shape) / SEARCH_SIZE)
    small = gray
    if step > 1.0:
        size = (round(gray.shape[1] / step), round(gray.shape[0] / step))
        small = np.asarray(cv2.resize(gray, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    found = _detect(small, gray.shape[1] / small.shape[1])
    if step > 1.0 and sum(code.code < FLANGE_CODE for code in found) < 4:
        found = _detect(gray, 1.0)
    return found


def _detect(gray: Pixels, scale: float) -> list[Code]:
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    parameters.cornerRefinementWinSize = 3
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    corners, codes, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(gray)
    if codes is None:
        return []
    return [
        Code(int(code), (np.asarray(c, dtype=float).reshape(4, 2) + 0.5) * scale - 0.5)
        for code, c in zip(np.ravel(codes), corners, strict=True)
        if marker_corners(int(code)) is not None or int(code) in (FLANGE_CODE, PANEL_CODE)
    ]


def first_map(codes: list[Code], null: str) -> tuple[FloatArray, int] | None:
    """Return the map of a grid's millimetres to pixels from its markers, and how many agree with it."""
    flat, seen = [], []
    for code in codes:
        where = marker_corners(code.code)
        if where is not None and where[0] == null:
            flat.append(where[1])
            seen.append(code.corners)
    if not flat:
        return None
    source, target = np.array(flat).reshape(-1, 2), np.array(seen).reshape(-1, 2)
    reach = max(4.0, 0.15 * float(np.median([math.sqrt(abs(cv2.contourArea(c.astype(np.float32)))) for c in seen])))
    homography, mask = cv2.findHomography(source, target, cv2.RANSAC, reach, maxIters=2000, confidence=0.999)
    if homography is None or mask is None:
        return None
    agreeing = int(np.asarray(mask).reshape(-1, 4).sum(axis=1).__ge__(3).sum())
    return (np.asarray(homography, dtype=float), agreeing) if agreeing else None


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
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return the saddle corners' pixels and which of them can be trusted. [shapes (n, 2), (n,)]

    `slack` is how far a corner may lie from where `values` draw it, in sides of a square.
    """
    expected = project(values, target.places)
    dx = project(values, target.places + 0.5 * target.side_x) - project(values, target.places - 0.5 * target.side_x)
    dy = project(values, target.places + 0.5 * target.side_y) - project(values, target.places - 0.5 * target.side_y)
    cell = np.minimum(np.hypot(*dx.T), np.hypot(*dy.T))
    # the height of the square's parallelogram, which a flat view makes smaller than its sides
    cell = np.minimum(cell, np.abs(dx[:, 0] * dy[:, 1] - dx[:, 1] * dy[:, 0]) / np.maximum(np.hypot(*dx.T), np.hypot(*dy.T)))
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
    return found, good & _right_colours(gray, found, dx, dy, target.black_first)


def _right_colours(
    gray: Pixels, found: FloatArray, dx: FloatArray, dy: FloatArray, black_first: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Return which corners have their two black and two white squares the right way round."""
    near, levels = (0.28, 0.55), []
    for a, b in ((-1, -1), (1, 1), (1, -1), (-1, 1)):
        ring = [sample(gray, found + reach * (a * dx + b * dy) * 0.8) for reach in near]
        levels.append(np.array(ring))
    first, second = np.array(levels[:2]), np.array(levels[2:])
    dark = np.where(black_first, first, second)
    bright = np.where(black_first, second, first)
    contrast = bright.mean(axis=(0, 1)) - dark.mean(axis=(0, 1))
    gap = bright.min(axis=(0, 1)) - dark.max(axis=(0, 1))
    return np.asarray((contrast > LEAST_CONTRAST) & (gap > 0.35 * contrast))


def sample(gray: Pixels, points: FloatArray) -> FloatArray:
    """Return the gray levels at places between pixels (bilinear); 0 outside. [shape=(..., 2) to (...)]"""
    flat = points.reshape(-1, 1, 2).astype(np.float32)
    levels = [
        cv2.remap(gray, part[..., 0].copy(), part[..., 1].copy(), cv2.INTER_LINEAR)
        for part in np.array_split(flat, max(1, len(flat) // 30000 + 1))
        if len(part)
    ]
    return np.concatenate(levels).astype(float).reshape(points.shape[:-1])
