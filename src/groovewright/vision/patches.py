"""Measure the flag's printed pieces in a photograph: each is moved until it lies on what the picture shows.

A saddle corner is found from the few pixels round one point; where squares are small, blur carries their
neighbours into it. A piece is compared with its whole print instead, blurred as the picture is, in linear light
(IEC 61966-2-1), and moved by least squares with a brightness and a contrast of its own (B. D. Lucas and
T. Kanade, "An iterative image registration technique", 1981). The print is made of boxes along two
directions, so its blur by a Gaussian is a sum of products of error functions.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray
from groovewright.sheets.markers import (
    FLAG_CELL_MM,
    FLAG_CODES,
    FLAG_MARKER_MM,
    flag_boxes,
    flag_marker_corners,
    flag_saddles,
)
from groovewright.vision.load import Pixels

Locate = Callable[[NDArray[np.bool_], FloatArray], FloatArray]
"""From which part (the flange?) and printed places (x, distance from the fold) to pixels."""

BLURS_PX = (0.45, 0.65, 0.9, 1.2, 1.6, 2.1, 2.8, 3.7)
LEAST_LIKENESS = 0.9
"""Correlation of a piece with its print; less means that something lies on it."""
LEAST_CONTRAST = 0.03
"""Of full white, in linear light."""
FLOOR_PX = 0.015
_REACH = 0.9
"""A saddle's piece reaches so far into the cells round it."""
_MOST_STEPS = 17
_MOVES = 4


@dataclass(frozen=True)
class Pieces:
    """Pieces of the print: part, middle and half size in mm. [shapes (n,), (n, 2), (n, 2)]"""

    on_flange: NDArray[np.bool_]
    at: FloatArray
    half: FloatArray


@dataclass(frozen=True)
class Measured:
    """Where pieces were found, the standard deviation of a coordinate, and which can be trusted.

    [shapes (n, 2), (n,), (n,)]
    """

    pixels: FloatArray
    sd_px: FloatArray
    good: NDArray[np.bool_]
    blur_px: float


def _pieces() -> Pieces:
    on, at, half = [], [], []
    for saddle in flag_saddles():
        on.append(saddle.on_flange)
        at.append(saddle.at)
        half.append((_REACH * FLAG_CELL_MM, _REACH * saddle.rung_mm))
    for code in FLAG_CODES:
        part, corners = flag_marker_corners(code) or (True, ())
        low, quarter = min(y for _, y in corners), FLAG_MARKER_MM / 4.0
        for x in (-quarter, quarter):
            for y in (low + quarter, low + 3.0 * quarter):
                on.append(part)
                at.append((x, y))
                half.append((quarter + 0.5, quarter + 0.5))
    return Pieces(np.array(on), np.array(at), np.array(half))


def _linear() -> NDArray[np.float32]:
    """Return the light, 0 to 1, that each gray level stands for (IEC 61966-2-1, 5.2)."""
    level = np.arange(256) / 255.0
    light = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4)
    return light.astype(np.float32)


_LINEAR = _linear()
PIECES = _pieces()
_BLACK, _WHITE = (np.array(boxes) for boxes in flag_boxes())


def printed(on_flange: NDArray[np.bool_], at: FloatArray, blur_mm: FloatArray) -> FloatArray:
    """Return the flag's print, 1 white to 0 black, blurred by a Gaussian. [shape=(..., 2) to (...)]

    `blur_mm` is the standard deviation along and away from the fold, one pair for each first index of `at`.
    """
    from scipy.special import erf

    flat = at.copy()
    flat[..., 1] *= np.where(on_flange, -1.0, 1.0)[(...,) + (None,) * (at.ndim - 2)]
    blur = blur_mm.reshape(len(blur_mm), *(1,) * (at.ndim - 2), 2) * math.sqrt(2.0)
    level = np.ones(at.shape[:-1])
    for boxes, sign in ((_BLACK, -1.0), (_WHITE, 1.0)):
        for x0, x1, y0, y1 in boxes:
            # only the pieces that the box can reach
            near = ((flat[..., 1].min(axis=-1) < y1 + 2.0) & (flat[..., 1].max(axis=-1) > y0 - 2.0)
                    & (flat[..., 0].min(axis=-1) < x1 + 2.0) & (flat[..., 0].max(axis=-1) > x0 - 2.0))  # fmt: skip
            if near.any():
                x, y, b = flat[near][..., 0], flat[near][..., 1], blur[near]
                wide = erf((x1 - x) / b[..., 0]) - erf((x0 - x) / b[..., 0])
                long = erf((y1 - y) / b[..., 1]) - erf((y0 - y) / b[..., 1])
                level[near] += sign * 0.25 * wide * long
    return np.asarray(level)


def measure_pieces(gray: Pixels, locate: Locate, blur_px: float | None = None) -> Measured | None:
    """Return where each piece of the flag is, near where `locate` expects it; None where nothing can be seen.

    `blur_px` is the picture's blur if it is known already; otherwise it is found.
    """
    pieces = PIECES
    n = len(pieces.at)
    middles = locate(pieces.on_flange, pieces.at)
    side = _sides(locate, pieces)
    steps = int(np.clip(np.median(2.0 * np.linalg.norm(side, axis=1).max(axis=-1)), 7, _MOST_STEPS))
    ticks = np.linspace(-1.0, 1.0, steps)
    grid = np.stack(np.meshgrid(ticks, ticks), axis=-1).reshape(-1, 2)
    places = pieces.at[:, None] + grid[None] * pieces.half[:, None]
    pixels = locate(np.repeat(pieces.on_flange, len(grid)), places.reshape(-1, 2)).reshape(n, -1, 2)
    low = np.floor(pixels.min(axis=(0, 1))).astype(int) - 12
    high = np.ceil(pixels.max(axis=(0, 1))).astype(int) + 13
    low, high = np.maximum(low, 0), np.minimum(high, [gray.shape[1], gray.shape[0]])
    if (high - low < 24).any():
        return None
    light = _LINEAR[gray[low[1] : high[1], low[0] : high[0]]]
    room = np.array([light.shape[1], light.shape[0]]) - 3.0
    inside = ((pixels - low > 2.0) & (pixels - low < room)).all(axis=(1, 2))
    # mm of the print for a pixel of the picture, along each printed direction
    spread = np.linalg.norm(np.linalg.inv(side / pieces.half[:, None, :]), axis=2)

    def moved(blur: float, shift: FloatArray, moves: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        return _register(light, pixels - low, shift, printed(pieces.on_flange, places, spread * blur), moves)

    none = np.zeros((n, 2))
    if blur_px is None:
        misfits = []
        for blur in BLURS_PX:
            _, sd, like, noise = moved(blur, none, 2)
            seen = inside & (like > LEAST_LIKENESS)
            misfits.append(float(np.median(noise[seen])) if seen.sum() >= 4 else math.inf)
        if not np.isfinite(misfits).any():
            return None
        blur_px = BLURS_PX[int(np.argmin(misfits))]
    shift, sd, like, _ = moved(blur_px, none, _MOVES)
    reach = np.linalg.norm(side, axis=1).min(axis=1)
    good = inside & (like > LEAST_LIKENESS) & (np.hypot(*shift.T) < np.maximum(1.5, 0.6 * reach)) & np.isfinite(sd)
    return Measured(middles + shift, np.hypot(sd, FLOOR_PX), good, blur_px)


def _sides(locate: Locate, pieces: Pieces) -> FloatArray:
    """Return how far half a piece reaches in the picture: columns for its two printed directions. [shape=(n, 2, 2)]"""
    sides = []
    for k in (0, 1):
        step = pieces.half * np.eye(2)[k]
        sides.append(
            0.5 * (locate(pieces.on_flange, pieces.at + step) - locate(pieces.on_flange, pieces.at - step))
        )
    return np.stack(sides, axis=-1)


def _register(
    light: NDArray[np.float32], pixels: FloatArray, start: FloatArray, print_: FloatArray, moves: int
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return each piece's shift, its standard deviation, its likeness to the print and the noise left.

    [shapes (n, 2), (n,), (n,), (n,)]; the noise is relative to the contrast.
    """
    shift = start.copy()
    n, m = print_.shape
    centred = print_ - print_.mean(axis=1, keepdims=True)
    for _ in range(moves):
        at = pixels + shift[:, None]
        value = _at(light, at)
        slope_x = _at(light, at + [0.5, 0.0]) - _at(light, at - [0.5, 0.0])
        slope_y = _at(light, at + [0.0, 0.5]) - _at(light, at - [0.0, 0.5])
        # value + slope . d = offset + contrast x print
        design = np.stack([slope_x, slope_y, -print_, -np.ones((n, m))], axis=-1)
        normal = np.einsum("nmi,nmj->nij", design, design)
        right = -np.einsum("nmi,nm->ni", design, value)
        normal += np.eye(4) * 1e-9
        solved = np.linalg.solve(normal, right[..., None])[..., 0]
        shift = shift + np.clip(solved[:, :2], -1.5, 1.5)
    value = _at(light, pixels + shift[:, None])
    away = value - value.mean(axis=1, keepdims=True)
    both = (away * centred).sum(axis=1)
    like = both / np.sqrt((away**2).sum(axis=1) * (centred**2).sum(axis=1) + 1e-12)
    contrast = both / (centred**2).sum(axis=1)
    left = away - contrast[:, None] * centred
    noise = np.sqrt((left**2).mean(axis=1))
    inverse = np.linalg.inv(normal)[:, :2, :2]
    sd = noise * np.sqrt(0.5 * np.trace(inverse, axis1=1, axis2=2))
    sd = np.where(contrast > LEAST_CONTRAST, sd, np.nan)
    return shift, sd, np.where(contrast > LEAST_CONTRAST, like, -1.0), noise / np.maximum(contrast, 1e-6)


def _at(light: NDArray[np.float32], points: FloatArray) -> FloatArray:
    flat = points.reshape(-1, 2).astype(np.float32)
    parts = [
        cv2.remap(light, part[:, :1].copy(), part[:, 1:].copy(), cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
        for part in np.array_split(flat, len(flat) // 30000 + 1)
    ]
    return np.concatenate(parts).astype(float).reshape(points.shape[:-1])
