"""The sheet's own print round a null as a photograph must show it: what is not like it isn't the sheet.

The print is known: lines of 1 mm and heavier ones of 5 mm, centre lines, the ring at the null, the ladders. Blurred as
the picture is and lit as it is nearby, it foretells every pixel in which the sheet is seen. So lines of the
sheet can be divided out of the picture, and where they don't show, something stands before them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

from groovewright.quantities import FloatArray
from groovewright.sheets.markers import LADDER_HALF_LENGTH_MM, LADDER_MIDDLES_MM, RUNG_MM
from groovewright.vision.camera import CameraPose, on_plane, project
from groovewright.vision.load import Photo
from groovewright.vision.marks import linear, sample

FINE_MM, HEAVY_MM, CENTRE_MM = 0.09, 0.2, 0.45
"""Widths of the lines of 1 mm, of 5 mm and of the centre lines, as the sheet has them."""
BORDER_MM = 0.35
RING_MM, RING_WIDTH_MM, DOT_MM = 2.0, 0.25, 0.4
HALF_LENGTH_MM = 30.0
BLURS_PX = (0.6, 0.85, 1.1, 1.4, 1.8, 2.3, 3.0, 4.0)
USUAL_BLUR_PX = 1.2
USUAL_DARKNESS = (0.45, 0.85, 0.6)
"""Of fine lines, ink and centre lines, where they can't be measured: as a share of the paper's light."""
DARKNESS_LIMITS = ((0.0, 0.9), (0.4, 1.0), (0.1, 1.0))
MEASURED_X_MM, MEASURED_Y_MM, TICK_MM = 14.0, (2.0, 29.0), 0.3
"""Where the print is compared with the picture: before the cartridge."""
LOCAL_MM = 3.0
SEEN, SEEN_BLURS_PX = (0.4, 2.5), (1.2, 3.0)
"""Where the print shows at less or more than these shares of what is usual, blurred as usual or much, the sheet isn't
seen."""
COVERED_X_MM, COVERED_Y_MM, FREE_Y_MM = (-6.0, 6.0), (-16.0, -3.0), (5.0, 24.0)
LEAST_PIXELS = 400
_OUTLIER = 3.0
_TERMS = (1, 3, 5, 7, 9)


@dataclass(frozen=True)
class GridPrint:
    """How a photograph shows a grid's print: its blur in pixels, how dark its inks are, and where its ladders stand.

    `darkness` of fine lines, ink and centre lines are shares of the paper's light; `ladder_mm` is the distance of the
    ladders' middles.
    """

    blur_px: float
    darkness: FloatArray
    ladder_mm: float


def _comb(places: FloatArray, period: float, width: float, blur: FloatArray) -> FloatArray:
    """Return the share that lines a period apart cover, blurred by a Gaussian."""
    away = (places + period / 2.0) % period - period / 2.0
    scale = 1.0 / (math.sqrt(2.0) * blur)
    # a line one period off reaches here only where blur is not small against it
    steps = (0.0,) if period > 4.0 * float(np.max(blur)) else (-period, 0.0, period)
    total = np.zeros(np.shape(places))
    for step in steps:
        total += erf((away + step + width / 2.0) * scale) - erf((away + step - width / 2.0) * scale)
    return 0.5 * total


def _line(places: FloatArray, width: float, blur: FloatArray) -> FloatArray:
    """Return the share that one line at zero covers, blurred by a Gaussian."""
    scale = 1.0 / (math.sqrt(2.0) * blur)
    return np.asarray(0.5 * (erf((places + width / 2.0) * scale) - erf((places - width / 2.0) * scale)))


def _heavy(places: FloatArray, blur: FloatArray) -> FloatArray:
    return _comb(places, 5.0, HEAVY_MM, blur) - _line(places, HEAVY_MM, blur) * (np.abs(places) < 2.5)


def _ladders(
    x: FloatArray, y: FloatArray, bx: FloatArray, by: FloatArray, ladder_mm: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return how much of black rungs, of ladders and of their borders is at places of the grid. [shape=(n,)]"""
    rungs, on, border = (np.zeros(len(x)) for _ in range(3))
    near = np.abs(x) > ladder_mm - RUNG_MM - 1.5
    if not near.any():
        return rungs, on, border
    x, y, bx, by = x[near], y[near], bx[near], by[near]
    scale = 1.0 / (math.sqrt(2.0) * bx)
    wave = sum(
        2.0 / (math.pi * n) * np.sin(n * math.pi * (y + LADDER_HALF_LENGTH_MM) / RUNG_MM)
        * np.exp(-0.5 * (n * math.pi * by / RUNG_MM) ** 2)
        for n in _TERMS
    )  # fmt: skip
    for column in (-1.0, 1.0):
        # beside both middles the colour of a rung changes, and once more from rung to rung
        across = column * (np.abs(x) - ladder_mm)
        here = 0.5 * (erf(across * scale) - erf((across - RUNG_MM) * scale))
        on[near] += here
        rungs[near] += here * (0.5 - column * np.sign(x) * wave)
    border[near] = _line(np.abs(np.abs(x) - ladder_mm) - RUNG_MM, BORDER_MM, bx)
    return rungs, on, border


def inks(places: FloatArray, blur: FloatArray, ladder_mm: float) -> FloatArray:
    """Return how much of fine lines, ink and centre lines is at places of the grid. [shape=(3, n)]

    `places` and `blur`, a standard deviation, are in mm outward and to the front. [shape=(n, 2)]
    """
    x, y = places.T
    bx, by = np.maximum(blur, 0.02).T
    fine = sum(_comb(at, 1.0, FINE_MM, b) - _comb(at, 5.0, FINE_MM, b) for at, b in ((x, bx), (y, by)))
    heavy = 1.0 - (1.0 - _heavy(x, bx)) * (1.0 - _heavy(y, by))
    centre = 1.0 - (1.0 - _line(x, CENTRE_MM, bx)) * (1.0 - _line(y, CENTRE_MM, by))
    radius, both = np.hypot(x, y), np.sqrt(bx * by)
    clear = 0.5 * (1.0 - erf((radius - RING_MM) / (math.sqrt(2.0) * both)))
    outside = 1.0 - clear
    dot = 0.5 * (1.0 - erf((radius - DOT_MM) / (math.sqrt(2.0) * both)))
    ring = _line(radius - RING_MM, RING_WIDTH_MM, both)
    rungs, on, border = _ladders(x, y, bx, by, ladder_mm)
    free = outside * (1.0 - np.clip(on, 0.0, 1.0))
    return np.array(
        [fine * free, np.clip(heavy * free + rungs + border * 0.5 + dot, 0.0, 1.0), centre * free + ring]
    )


def blur_on_sheet(pose: CameraPose, pixels: FloatArray, places: FloatArray) -> FloatArray:
    """Return what one pixel of blur is on the sheet, outward and to the front, in mm. [shape=(n, 2)]"""
    right = on_plane(pose.values, pixels + np.array([1.0, 0.0]), 0.0) - places
    down = on_plane(pose.values, pixels + np.array([0.0, 1.0]), 0.0) - places
    return np.hypot(right, down)


def expected(shown: GridPrint, pose: CameraPose, pixels: FloatArray) -> FloatArray:
    """Return the light that pixels have of the sheet, as a share of blank paper's. [shape=(n, 2) to (n,)]"""
    places = on_plane(pose.values, pixels, 0.0)
    return expected_at(shown, places, shown.blur_px * blur_on_sheet(pose, pixels, places))


def expected_at(shown: GridPrint, places: FloatArray, blur: FloatArray) -> FloatArray:
    """Return the light at places of the grid, as a share of blank paper's. [shapes (n, 2), (n, 2) to (n,)]"""
    light = 1.0 - shown.darkness @ inks(places, blur, shown.ladder_mm)
    inside = (np.abs(places[:, 1]) < HALF_LENGTH_MM) & (np.abs(places[:, 0]) < shown.ladder_mm + RUNG_MM)
    return np.where(inside, np.clip(light, 0.05, 1.0), 1.0)


def see_print(photo: Photo, pose: CameraPose, ladder_mm: float) -> GridPrint:
    """Return how a photograph shows the print before the cartridge."""
    part = _part_of(photo, pose, (-MEASURED_X_MM, MEASURED_X_MM), MEASURED_Y_MM)
    mean = _local_mean(part.light, part.inside)
    dark = 1.0 - part.light / np.maximum(mean, 1.0)
    per_px = blur_on_sheet(pose, part.pixels, part.places)
    usable = part.inside & (mean > 4.0)
    if usable.sum() < LEAST_PIXELS:
        return GridPrint(USUAL_BLUR_PX, np.array(USUAL_DARKNESS), ladder_mm)

    def layers_of(blur: float) -> FloatArray:
        layers = (layer.reshape(mean.shape) for layer in inks(part.places, blur * per_px, ladder_mm))
        return np.array([layer - _local_mean(layer, part.inside) for layer in layers])

    # a slip of paper or a tool may lie on the sheet
    seen = np.zeros(usable.shape, dtype=bool)
    for blur in SEEN_BLURS_PX:
        wanted = np.tensordot(USUAL_DARKNESS, layers_of(blur), 1)
        like, power = (_local_mean(wanted * other, usable) for other in (dark, wanted))
        seen |= (like > SEEN[0] * power) & (like < SEEN[1] * power)
    usable &= seen
    if usable.sum() < LEAST_PIXELS:
        return GridPrint(USUAL_BLUR_PX, np.array(USUAL_DARKNESS), ladder_mm)

    def fitted(blur: float) -> tuple[FloatArray, float]:
        return _darkness(layers_of(blur)[:, usable].T, dark[usable])

    noises = [fitted(blur)[1] for blur in BLURS_PX]
    k = int(np.clip(np.argmin(noises), 1, len(BLURS_PX) - 2))
    near = np.log(BLURS_PX[k - 1 : k + 2])
    a, b, _ = np.polyfit(near, noises[k - 1 : k + 2], 2)
    blur = (
        math.exp(float(np.clip(-0.5 * b / a, near[0], near[-1])))
        if a > 0.0
        else BLURS_PX[int(np.argmin(noises))]
    )
    return GridPrint(blur, fitted(blur)[0], ladder_mm)


def _darkness(parts: FloatArray, dark: FloatArray) -> tuple[FloatArray, float]:
    """Return how dark each ink is, and the scatter of the rest, without what isn't sheet."""
    weight = np.ones(len(dark))
    usual = np.array(USUAL_DARKNESS)
    found, noise = usual, 1.0
    hold = 0.02 * np.trace(parts.T @ parts) / 3.0 * np.eye(3)
    for _ in range(5):
        left = (parts * weight[:, None]).T
        found = usual + np.linalg.solve(left @ parts + hold, left @ (dark - parts @ usual))
        found = np.clip(found, *np.array(DARKNESS_LIMITS).T)
        away = np.abs(dark - parts @ found)
        noise = max(1e-3, 1.4826 * float(np.median(away)))
        weight = np.clip(1.0 - (away / (_OUTLIER * noise)) ** 2, 0.0, None)
    telling = np.abs(parts).sum(axis=1) > np.quantile(np.abs(parts).sum(axis=1), 0.6)
    away = np.abs(dark - parts @ found)[telling]
    return found, float(np.mean(np.minimum(away, 0.3)))


@dataclass(frozen=True)
class _Part:
    """A part of the grid: its places and pixels, its light, and what of it is in the picture.

    [shapes (n, 2), (n, 2), (rows, columns), (rows, columns)]
    """

    places: FloatArray
    pixels: FloatArray
    light: FloatArray
    inside: NDArray[np.bool_]


def _part_of(
    photo: Photo, pose: CameraPose, across_mm: tuple[float, float], ahead_mm: tuple[float, float]
) -> _Part:
    x, y = np.meshgrid(np.arange(*across_mm, TICK_MM), np.arange(*ahead_mm, TICK_MM))
    places = np.column_stack([x.ravel(), y.ravel()])
    pixels = project(pose.values, np.column_stack([places, np.zeros(len(places))]))
    width, height = photo.size
    inside = ((pixels > 2.0) & (pixels < [width - 3.0, height - 3.0])).all(axis=1)
    light = linear(sample(photo.gray, pixels))
    return _Part(places, pixels, light.reshape(x.shape), inside.reshape(x.shape))


def _local_mean(values: FloatArray, inside: NDArray[np.bool_]) -> FloatArray:
    size = (round(LOCAL_MM / TICK_MM) | 1,) * 2
    clear = inside.astype(np.float32)
    sums, counts = (
        cv2.boxFilter(part.astype(np.float32), cv2.CV_32F, size, normalize=False)
        for part in (values * clear, clear)
    )
    return np.asarray(sums / np.maximum(counts, 1.0), dtype=float)


def stands_here(photo: Photo, pose: CameraPose, shown: GridPrint) -> float:
    """Return how far a grid is covered behind its null and free before it, as where a cartridge stands: 1 wholly.

    An arm that only passes over covers both.
    """
    before, behind = (_shows(photo, pose, shown, span) for span in (FREE_Y_MM, COVERED_Y_MM))
    return before - behind


def _shows(photo: Photo, pose: CameraPose, shown: GridPrint, span: tuple[float, float]) -> float:
    """Return how much of the print shows in a part of the grid: 1 all, 0 nothing."""
    part = _part_of(photo, pose, COVERED_X_MM, span)
    if part.inside.sum() < LEAST_PIXELS:
        return 0.5
    wanted = expected(shown, pose, part.pixels).reshape(part.light.shape)
    mean = _local_mean(part.light, part.inside)
    found = (part.light / np.maximum(mean, 1.0) - 1.0)[part.inside]
    wanted = (wanted / np.maximum(_local_mean(wanted, part.inside), 1e-9) - 1.0)[part.inside]
    return float(np.clip(np.clip(found, -0.5, 0.5) @ wanted / max(1e-9, float(wanted @ wanted)), 0.0, 1.0))


def ladder_of(places: FloatArray) -> float:
    """Return where the ladders of a grid stand, from the saddle corners that were seen of it. [shape=(n, 3)]"""
    seen = [int((np.abs(np.abs(places[:, 0]) - middle) < 0.01).sum()) for middle in LADDER_MIDDLES_MM]
    return LADDER_MIDDLES_MM[int(np.argmax(seen))]
