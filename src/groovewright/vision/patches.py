"""Measure the flag's printed pieces in a photograph: each is moved until it lies on what the picture shows.

A saddle corner is found from the few pixels round one point; where squares are small, blur carries their
neighbours into it. A piece is compared with its whole print instead, blurred as the picture is, in linear light, and
moved by least squares with a brightness, a contrast and a fall of light of its own (B. D. Lucas and T. Kanade, "An
iterative image registration technique", 1981). The print is made of boxes along two directions, so its blur by a
Gaussian is a sum of products of error functions. Ink spreads beyond what is printed (dot gain): by how much is found
first, from all pieces together. It leaves saddle corners where they are but moves the rims of markers outward.
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
from groovewright.vision.marks import light_of

Locate = Callable[[NDArray[np.bool_], FloatArray], FloatArray]
"""From which part (the flange?) and printed places (x, distance from the fold) to pixels."""

BLURS_PX = (0.5, 0.8, 1.2, 1.7, 2.3, 3.0, 4.0, 5.2)
LEAST_LIKENESS = 0.95
"""Correlation of a piece with its print; less means that something lies on it."""
LEAST_CONTRAST = 0.03
"""Of full white, in linear light."""
FLOOR_PX, FLAT_PX = 0.018, 0.12
LEAST_HALF_PX = 2.0
"""Of a piece's place, what its own fit doesn't tell: so much, and where half its height in the picture is h pixels,
FLAT_PX / h^2 beside it (measured: what made the intervals of views from 6 to 20 degrees hold)."""
MOST_GAIN_MM = 0.08
"""Farther ink doesn't spread beyond an edge that is printed (common: 0.01 to 0.05 mm)."""
_REACH = 0.7
"""A saddle's piece reaches so far into the cells round it: farther, and what lies beyond the fold and the strip's own
sides blurs into it (0.9 gave guided photographs 1.3 times the error, and traced ones twice)."""
_MOST_STEPS = 25
_SMOOTH = 0.6
"""The picture is smoothed by this share of the distance between samples, so that no edge falls between two."""
_MOVES, _STILL_PX = 4, 0.01
"""How often a piece is moved at most, and what is no move any more."""


@dataclass(frozen=True)
class Pieces:
    """Pieces of the print: part, middle and half size in mm. [shapes (n,), (n, 2), (n, 2)]"""

    on_flange: NDArray[np.bool_]
    at: FloatArray
    half: FloatArray


@dataclass(frozen=True)
class Measured:
    """Where pieces were found, the standard deviation of a coordinate, which can be trusted, and half their heights.

    [shapes (n, 2), (n,), (n,), (n,)]; heights are negative where a back is seen. `gain_mm` is how far ink has spread
    beyond each edge that is printed.
    """

    pixels: FloatArray
    sd_px: FloatArray
    good: NDArray[np.bool_]
    half_px: FloatArray
    blur_px: float
    gain_mm: float


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


PIECES = _pieces()


@dataclass(frozen=True)
class _Ends:
    """Where the print's boxes end along one direction, each place once, and which are each box's two."""

    edges: FloatArray
    low: NDArray[np.intp]
    high: NDArray[np.intp]


def _ends(low: FloatArray, high: FloatArray) -> _Ends:
    edges, which = np.unique(np.concatenate([low, high]), return_inverse=True)
    return _Ends(edges, which[: len(low)], which[len(low) :])


@dataclass(frozen=True)
class _Boxes:
    """Boxes along the print's two directions, and what each adds for steps of the error function, from -1 to 1."""

    wide: _Ends
    long: _Ends
    ink: FloatArray


def _boxes(places: FloatArray, ink: FloatArray) -> _Boxes:
    return _Boxes(_ends(places[:, 0], places[:, 1]), _ends(places[:, 2], places[:, 3]), 0.25 * ink)


_BLACK, _WHITE = (np.round(boxes, 6) for boxes in flag_boxes())
_PRINT = _boxes(
    np.concatenate([_BLACK, _WHITE]), np.concatenate([-np.ones(len(_BLACK)), np.ones(len(_WHITE))])
)
_THIN_MM = 0.01


def _rims() -> _Boxes:
    """Return what ink that spreads by 1 mm adds to the print, to first order: thin boxes where black and white meet."""
    x, y = _PRINT.wide.edges, _PRINT.long.edges
    black = np.zeros((len(y) + 1, len(x) + 1), dtype=bool)
    for boxes, ink in ((_BLACK, True), (_WHITE, False)):
        for box in boxes:
            (a, b), (c, d) = np.searchsorted(x, box[:2]) + 1, np.searchsorted(y, box[2:]) + 1
            black[c:d, a:b] = ink
    inside = black[1:-1, 1:-1]
    # the paper ends at the outermost upright edges, and ink can't spread there
    upright = [
        (x[j + 1] - _THIN_MM, x[j + 1] + _THIN_MM, y[i], y[i + 1])
        for i, j in np.argwhere(inside[:, 1:] != inside[:, :-1])
    ]
    level = [
        (x[j], x[j + 1], y[i] - _THIN_MM, y[i] + _THIN_MM)
        for i, j in np.argwhere(black[1:, 1:-1] != black[:-1, 1:-1])
    ]
    places = np.array(upright + level)
    return _boxes(places, np.full(len(places), -0.5 / _THIN_MM))


_RIMS = _rims()


def printed(ticks: FloatArray, spread: FloatArray, chosen: NDArray[np.intp]) -> FloatArray:
    """Return the print of some pieces, 1 white to 0 black, blurred by a Gaussian (see `_drawn`). [shape=(k, m, m)]"""
    return 1.0 + _drawn(_PRINT, ticks, spread, chosen)


def spread_ink(ticks: FloatArray, spread: FloatArray, chosen: NDArray[np.intp]) -> FloatArray:
    """Return what ink that spreads by 1 mm adds to the print of some pieces, to first order, as `printed` does."""
    return _drawn(_RIMS, ticks, spread, chosen)


def _drawn(boxes: _Boxes, ticks: FloatArray, spread: FloatArray, chosen: NDArray[np.intp]) -> FloatArray:
    """Return boxes in some pieces, blurred by a Gaussian. [shape=(k, m, m)]

    `ticks` [shape=(m,)], from -1 to 1, are the places in each piece: along the fold with the last index, away
    from it with the one before. `spread` [shape=(k, 2, 2)] is the Gaussian's covariance in halves of a piece.
    What of it runs aslant is added by three points (Gauss and Hermite's rule; M. Abramowitz, I. Stegun,
    Handbook of Mathematical Functions, 25.4.46).
    """
    half = PIECES.half[chosen]
    wide, long, both = spread[:, 0, 0], spread[:, 1, 1], spread[:, 0, 1]
    ratio = np.sqrt(wide / long)
    slant = np.sqrt(np.abs(both))[:, None] * np.column_stack([np.sqrt(ratio), np.sign(both) / np.sqrt(ratio)])
    blur = np.sqrt(np.column_stack([wide, long]) - slant**2) * half
    middles = PIECES.at[chosen]
    level = np.zeros((len(chosen), len(ticks), len(ticks)))
    for at, weight in ((0.0, 2.0 / 3.0), (math.sqrt(3.0), 1.0 / 6.0), (-math.sqrt(3.0), 1.0 / 6.0)):
        at_middles = middles + at * slant * half
        level += weight * _along_two(boxes, at_middles, half, PIECES.on_flange[chosen], ticks, blur)
    return level


def _along_two(
    boxes: _Boxes,
    middles: FloatArray,
    half: FloatArray,
    on_flange: NDArray[np.bool_],
    ticks: FloatArray,
    blur_mm: FloatArray,
) -> FloatArray:
    """Return boxes on lattices round some places, blurred along their own two directions. [shape=(k, m, m)]"""
    from scipy.special import erf

    per_mm = 1.0 / (math.sqrt(2.0) * blur_mm)
    outward = np.where(on_flange, -1.0, 1.0)[:, None]
    x = per_mm[:, :1] * (middles[:, :1] + half[:, :1] * ticks)
    y = per_mm[:, 1:] * outward * (middles[:, 1:] + half[:, 1:] * ticks)

    def covered(places: FloatArray, per: FloatArray, ends: _Ends) -> FloatArray:
        steps = erf(ends.edges[:, None, None] * per[None, :, None] - places[None])
        return np.asarray(steps[ends.high] - steps[ends.low])

    wide, long = covered(x, per_mm[:, 0], boxes.wide), covered(y, per_mm[:, 1], boxes.long)
    return np.asarray(
        np.matmul((long * boxes.ink[:, None, None]).transpose(1, 2, 0), wide.transpose(1, 0, 2))
    )


def measure_pieces(gray: Pixels, locate: Locate, before: Measured | None = None) -> Measured | None:
    """Return where each piece of the flag is, near where `locate` expects it; None where nothing can be seen.

    The picture's blur and how far ink has spread are those of what was measured `before`, or else found.
    """
    n = len(PIECES.at)
    nodes = _nodes(locate)
    side = 0.5 * np.stack([nodes[:, 1, 2] - nodes[:, 1, 0], nodes[:, 2, 1] - nodes[:, 0, 1]], axis=-1)
    across = float(np.median(2.0 * np.linalg.norm(side, axis=1).max(axis=-1)))
    steps = int(np.clip(across, 7, _MOST_STEPS))
    ticks = np.linspace(-1.0, 1.0, steps)
    pixels = _between(nodes, ticks)
    low = np.maximum(np.floor(pixels.min(axis=(0, 1))) - 12, 0).astype(int)
    high = np.minimum(np.ceil(pixels.max(axis=(0, 1))) + 13, gray.shape[::-1]).astype(int)
    if (high - low < 24).any():
        return None
    smooth = _SMOOTH * max(1.0, across / steps)
    light = np.asarray(
        cv2.GaussianBlur(light_of(gray[low[1] : high[1], low[0] : high[0]]), (0, 0), smooth), dtype=np.float32
    )
    pixels -= low
    inside = ((pixels > 2.0) & (pixels < np.array(light.shape[::-1]) - 3.0)).all(axis=(1, 2))
    inverse = np.asarray(np.linalg.inv(side), dtype=float)
    spread = inverse @ inverse.transpose(0, 2, 1)
    if before is not None:
        blur_px = before.blur_px
    else:
        # every other sample tells it as well
        few = pixels.reshape(n, steps, steps, 2)[:, ::2, ::2].reshape(n, -1, 2)
        blur_px = _blur_of(light, few, ticks[::2], inverse, spread, np.flatnonzero(inside), smooth)
    everything = np.arange(n)
    # what is drawn for the samples' sake blurs too
    spread = spread * (blur_px**2 + smooth**2)
    level, ink = (draw(ticks, spread, everything) for draw in (printed, spread_ink))
    if before is not None:
        found = _register(light, pixels, level + before.gain_mm * ink, ticks, inverse, _MOVES)
    else:
        found = _register(light, pixels, level, ticks, inverse, _MOVES, ink)
    reach = np.linalg.norm(side, axis=1).min(axis=1)
    near = np.hypot(*found.shift.T) < np.maximum(1.5, 0.6 * reach)
    half_px = _half_height(side)
    good = inside & (half_px > LEAST_HALF_PX) & (found.like > LEAST_LIKENESS) & near & np.isfinite(found.sd)
    floor = np.hypot(FLOOR_PX, FLAT_PX / np.maximum(half_px, LEAST_HALF_PX) ** 2)
    gain = before.gain_mm if before is not None else _typical(found.gain_mm[good])
    return Measured(nodes[:, 1, 1] + found.shift, np.hypot(found.sd, floor), good, half_px, blur_px, gain)


def _typical(gains_mm: FloatArray) -> float:
    """Return how far ink has spread, from what each piece says of it."""
    return float(np.clip(np.median(gains_mm), -MOST_GAIN_MM, MOST_GAIN_MM)) if len(gains_mm) else 0.0


def _blur_of(
    light: NDArray[np.float32],
    pixels: FloatArray,
    ticks: FloatArray,
    inverse: FloatArray,
    spread: FloatArray,
    usable: NDArray[np.intp],
    smooth: float,
) -> float:
    """Return the blur, beside the smoothing, with which some of the pieces are most like their print."""
    some = usable[:: max(1, len(usable) // 10)]
    likeness = [
        np.sort(
            _register(
                light,
                pixels[some],
                printed(ticks, spread[some] * (blur**2 + smooth**2), some),
                ticks,
                inverse[some],
                2,
            ).like
        )[-max(1, len(some) // 2) :].mean()
        for blur in BLURS_PX
    ]
    k = int(np.clip(np.argmax(likeness), 1, len(BLURS_PX) - 2))
    a, b, _ = np.polyfit(np.log(BLURS_PX[k - 1 : k + 2]), likeness[k - 1 : k + 2], 2)
    peak = -0.5 * b / a if a < 0.0 else math.log(BLURS_PX[int(np.argmax(likeness))])
    return float(np.clip(math.exp(peak), BLURS_PX[0], BLURS_PX[-1]))


def _nodes(locate: Locate) -> FloatArray:
    """Return the pixels of three by three places of each piece, its ends and middles. [shape=(n, 3, 3, 2)]

    The place along the fold goes with the third index, that away from it with the second.
    """
    three = np.array([-1.0, 0.0, 1.0])
    steps = np.stack(np.meshgrid(three, three), axis=-1).reshape(-1, 2)
    places = PIECES.at[:, None] + steps[None] * PIECES.half[:, None]
    return locate(np.repeat(PIECES.on_flange, 9), places.reshape(-1, 2)).reshape(-1, 3, 3, 2)


def _between(nodes: FloatArray, ticks: FloatArray) -> FloatArray:
    """Return pixels of a lattice from -1 to 1 in each piece, by parabolas through its nodes. [shape=(n, m m, 2)]

    A piece is small beside its distance: what a parabola leaves of the perspective is below 0.001 pixel.
    """
    shares = np.column_stack([0.5 * ticks * (ticks - 1.0), 1.0 - ticks**2, 0.5 * ticks * (ticks + 1.0)])
    rows = np.einsum("ma,nabc->nmbc", shares, nodes)
    return np.asarray(np.einsum("kb,nmbc->nmkc", shares, rows).reshape(len(nodes), -1, 2))


def _half_height(side: FloatArray) -> FloatArray:
    """Return half the height of each piece in the picture, in pixels; negative where its back is seen. [shape=(n,)]"""
    away = np.where(PIECES.on_flange, -1.0, 1.0)
    area = away * (side[:, 0, 0] * side[:, 1, 1] - side[:, 0, 1] * side[:, 1, 0])
    return np.asarray(area / np.linalg.norm(side, axis=1).max(axis=1))


@dataclass(frozen=True)
class _Fit:
    """Each piece's shift in pixels, its standard deviation, its likeness to the print, and how far its ink has spread.

    [shapes (n, 2), (n,), (n,), (n,)]
    """

    shift: FloatArray
    sd: FloatArray
    like: FloatArray
    gain_mm: FloatArray


def _register(
    light: NDArray[np.float32],
    pixels: FloatArray,
    level: FloatArray,
    ticks: FloatArray,
    inverse: FloatArray,
    moves: int,
    ink: FloatArray | None = None,
) -> _Fit:
    """Return pieces moved by least squares; `inverse` takes pixels to halves of a piece. [shape=(n, 2, 2)]

    `ink` is what spreading by 1 mm adds to their print, where by how much it does isn't known.
    """
    n = len(level)
    down, across = np.gradient(level, ticks[1] - ticks[0], axis=(1, 2))
    slope = np.stack([across.reshape(n, -1), down.reshape(n, -1)], axis=-1) @ inverse
    print_ = level.reshape(n, -1)
    # where a piece lies shifted by d, light = offset + contrast x (print - slope . d)
    # the light itself may rise or fall over the piece: under a headshell, near the fold, in a soft shadow
    x, y = (place.reshape(1, -1) for place in np.meshgrid(ticks, ticks))
    spreads = [] if ink is None else [ink.reshape(n, -1)]
    looks = np.stack([print_, np.ones_like(print_), print_ * x, print_ * y, *spreads], axis=-1)
    design = np.concatenate([-slope, looks], axis=-1)
    turned = design.transpose(0, 2, 1)
    normal = np.linalg.inv(turned @ design + 1e-9 * np.eye(design.shape[-1]))
    shift = np.zeros((n, 2))
    for _ in range(moves):
        value = _at(light, pixels + shift[:, None])
        solved = (normal @ (turned @ value[..., None]))[..., 0]
        contrast = np.where(solved[:, 2] > LEAST_CONTRAST, solved[:, 2], np.inf)
        step = np.clip(solved[:, :2] / contrast[:, None], -1.5, 1.5)
        shift = shift + step
        if np.abs(step).max() < _STILL_PX:
            break
    left = value - (design @ solved[..., None])[..., 0]
    away = value - value.mean(axis=1, keepdims=True)
    like = 1.0 - (left**2).sum(axis=1) / ((away**2).sum(axis=1) + 1e-12)
    noise = np.sqrt((left**2).mean(axis=1)) / contrast
    sd = noise * np.sqrt(0.5 * (normal[:, 0, 0] + normal[:, 1, 1]))
    seen = np.isfinite(contrast)
    gain = np.zeros(n) if ink is None else solved[:, -1] / contrast
    return _Fit(
        shift, np.where(seen, sd, np.nan), np.where(seen, np.sqrt(np.clip(like, 0.0, None)), -1.0), gain
    )


def _at(light: NDArray[np.float32], points: FloatArray) -> FloatArray:
    """Return the light at places between pixels (cubic). [shape=(n, m, 2) to (n, m)]"""
    at = points.astype(np.float32)
    return np.asarray(
        cv2.remap(light, at[..., 0], at[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE),
        dtype=float,
    )
