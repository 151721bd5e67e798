"""How a flag is folded, from the band round its fold as a whole, where its panel is seen nearly from its edge.

A panel that is a few pixels high has no pieces that could be measured one by one. But flange and panel meet in the
fold, and beside the flange, which is well known, even a few rows of pixels say how the fold runs. So the band is drawn
as the flag's values have it (both parts' print, cut off at the fold and at the panel's upper edge, blurred as the
picture is) and compared with the picture, each part with a white and a black level of its own; Gauss and Newton's steps
mend the values within what the rest of the picture and what is usual leave open.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from groovewright.quantities import FloatArray
from groovewright.sheets.markers import (
    FLAG_WIDTH_MM,
    FLANGE_DEPTH_MM,
    PANEL_HEIGHT_MM,
    TAB_HEIGHT_MM,
    flag_boxes,
)
from groovewright.vision.camera import camera_position, project, rays
from groovewright.vision.flag_shape import flag_points
from groovewright.vision.load import Pixels
from groovewright.vision.patches import light_of

_PER_MM = 20
"""Of the drawn print: every box of it begins and ends on a whole pixel."""
_SIDE_MM = 0.7
"""So far inside the strip's sides the band ends."""
_TOP_MM = PANEL_HEIGHT_MM + TAB_HEIGHT_MM
FLANGE_REACH_MM, MOST_FLANGE_PX, MOST_PANEL_PX = 1.6, 14.0, 70.0
BEYOND_BLURS = 3.0
"""How much of flange, panel and what lies beyond it the band takes in; the last in standard deviations of blur."""
STEP_PX, ACROSS_PX = 1.25, 0.3
SEAM_PX = 1.0
"""Width of the line that a fold itself shows, bright or dark: it is round, and dips into shade."""
LEAST_DEG, DOUBT_DEG = 0.3, 2.0
"""The camera stands so far before the panel, or more: from behind it hides the fold. Before the band is measured, that
may be wrong by so much."""
LEAST_LENGTH_PX = 40.0
LEAST_LIKENESS = 0.95
"""Correlation of panel, tab and what lies beyond with their drawing; less means that something else is there."""
FEWEST_SAMPLES = 400
SCALE = np.array([1.0, 1.0, 1.0, 0.01, 0.01, 0.01, 0.01, 0.01, 1.0])
YAW, PITCH, SKEW = 3, 4, 7
PITCHES = np.linspace(-0.9, 0.9, 10)
"""Places among the flag's values, and where the pitch is looked for, in standard deviations."""
LEAST_HIGH_PX = 5.0
FLOOR_DEG, FLAT_DEG = 0.045, 0.4
"""A panel is so many pixels high in the picture, or more; of its yaw the drawing doesn't tell FLOOR_DEG, and where it
is h pixels high FLAT_DEG / h beside it (measured on 42 photographs that look from 1 to 16 degrees to the front)."""
_RIDGE, _STEPS, _MOST_SD, _FINE = 1e-4, 15, 5.0, 0.03
MISFIT = 2.0
"""By how much more the drawing errs than its noise scatters: its blur and light are not quite the picture's."""


@dataclass(frozen=True)
class _Band:
    """Light of the picture, and the camera's rays, at a lattice round the fold. [shapes (m, n), (3,), (m, n, 3)]"""

    light: FloatArray
    centre: FloatArray
    ways: FloatArray
    step_px: float
    px_per_mm: float
    blur_px: float


def _drawn() -> FloatArray:
    """Return the strip's print, 1 white, 0 black: rows from the flange's end towards the tab."""
    height, width = (round(_PER_MM * v) for v in (FLANGE_DEPTH_MM + _TOP_MM, FLAG_WIDTH_MM))
    print_ = np.ones((height, width))
    for level, boxes in zip((0.0, 1.0), flag_boxes(), strict=True):
        for x0, x1, y0, y1 in boxes:
            a, b = (round(_PER_MM * (x + FLAG_WIDTH_MM / 2.0)) for x in (x0, x1))
            c, d = (round(_PER_MM * (y + FLANGE_DEPTH_MM)) for y in (y0, y1))
            print_[c:d, a:b] = level
    return print_


_SUMS = cv2.integral(_drawn(), sdepth=cv2.CV_64F)
"""The print's sums over all rows and columns before each."""


def mended_by_fold(
    gray: Pixels, values: FloatArray, flag: FloatArray, covariance: FloatArray, blur_px: float
) -> tuple[FloatArray, FloatArray] | None:
    """Return the flag's values and covariance, mended by the band round its fold; None where that can't be seen.

    `covariance` [shape=(9, 9)] is what the rest of the picture and what is usual say of the flag.
    """
    band = _band(gray, values, flag, blur_px)
    if band is None:
        return None
    # in steps that are as likely one as the other, and independent, so that flange and panel move as one piece
    size, ways = np.linalg.eigh(covariance / np.outer(SCALE, SCALE))
    root = SCALE[:, None] * ways * np.sqrt(np.maximum(size, 0.0))

    def flag_at(steps: FloatArray) -> FloatArray:
        return np.asarray(flag + root @ steps)

    # the panel's height in the picture goes with the pitch: the nearest first, so that its print falls on itself
    tilted = [
        np.linalg.lstsq(root, covariance[PITCH] / math.sqrt(covariance[PITCH, PITCH]) * share, rcond=None)[0]
        for share in PITCHES
    ]
    steps = min(tilted, key=lambda steps: _mean_left(band, flag_at(steps)))
    for _ in range(2):
        if not math.isfinite(_mean_left(band, flag_at(steps))):
            return None
        inside = _inside(band, flag_at(steps))
        steps, information, like = _fitted(band, flag_at, steps, inside)
    if like < LEAST_LIKENESS or np.abs(steps).max() > _MOST_SD:
        return None
    mended = flag_at(steps)
    high_px = PANEL_HEIGHT_MM * math.sin(math.radians(_before_deg(band.centre, mended))) * band.px_per_mm
    if high_px < LEAST_HIGH_PX:
        return None
    # an error of the drawing turns the fold, and the yaw with it
    turned = np.zeros(len(flag))
    turned[[YAW, SKEW]] = math.radians(math.hypot(FLOOR_DEG, FLAT_DEG / high_px))
    return mended, root @ np.linalg.inv(information) @ root.T + np.outer(turned, turned)


def _mean_left(band: _Band, flag: FloatArray) -> float:
    """Return the mean square of what the drawing leaves of the band; infinite where the fold can't be seen."""
    if _before_deg(band.centre, flag) < LEAST_DEG:
        return math.inf
    inside = _inside(band, flag)
    if inside.sum() < FEWEST_SAMPLES:
        return math.inf
    return _left(band, flag, inside)[0] / float(inside.sum())


def _left(
    band: _Band, flag: FloatArray, inside: np.ndarray
) -> tuple[float, FloatArray, FloatArray, FloatArray]:
    """Return what the drawing leaves of the band (sum of squares, and each sample), the parts, and their levels."""
    light = band.light[inside]
    if _before_deg(band.centre, flag) < LEAST_DEG:
        return math.inf, light, np.empty((0, 0)), np.empty(0)
    parts = _parts(band, flag)[:, inside]
    levels = np.linalg.solve(parts @ parts.T + _RIDGE * light.size * np.eye(len(parts)), parts @ light)
    left = light - levels @ parts
    return float(left @ left), left, parts, levels


def _fitted(
    band: _Band,
    flag_at: Callable[[FloatArray], FloatArray],
    steps: FloatArray,
    inside: np.ndarray,
) -> tuple[FloatArray, FloatArray, float]:
    """Return the steps from what is known that fit the band best, their information, and the panel's likeness."""
    damping = 1e-2
    size, left, parts, levels = _left(band, flag_at(steps), inside)
    # neighbouring samples share pixels: so many of them make up one
    share = min(1.0, band.step_px * ACROSS_PX) / MISFIT**2
    for _ in range(_STEPS):
        slopes = np.array(
            [
                (levels @ _parts(band, flag_at(steps + step))[:, inside] - levels @ parts) / _FINE
                for step in _FINE * np.eye(len(steps))
            ]
        )
        # what a level of a part would do as well says nothing of the flag
        both = parts @ parts.T + _RIDGE * left.size * np.eye(len(parts))
        slopes = slopes - (slopes @ parts.T) @ np.linalg.solve(both, parts)
        weight = share / max(size / left.size, 1e-8)
        known = weight * slopes @ slopes.T
        information = known + np.eye(len(steps))
        for _ in range(5):
            move = np.linalg.solve(
                information + damping * np.diag(np.diag(known)), weight * slopes @ left - steps
            )
            there = steps + move
            after = _left(band, flag_at(there), inside)
            gain = weight * (size - after[0]) + float(steps @ steps - there @ there)
            if gain > 0.0:
                break
            damping *= 8.0
        else:
            break
        steps, (size, left, parts, levels), damping = there, after, damping / 8.0
        if gain < 0.05:
            break
    panel = parts[2:6].sum(axis=0) > 0.3
    light = band.light[inside][panel]
    # the picture's noise, which the flange shows, is no unlikeness
    excess = float((left[panel] ** 2).mean() - (left[~panel] ** 2).mean()) / float(light.var() + 1e-12)
    like = 1.0 - max(0.0, excess)
    return steps, information, math.sqrt(max(0.0, like))


def _band(gray: Pixels, values: FloatArray, flag: FloatArray, blur_px: float) -> _Band | None:
    """Return the lattice round the fold: along it with the last index, from the flange on with the first."""
    half = FLAG_WIDTH_MM / 2.0 - _SIDE_MM
    skew, shift = flag[SKEW], flag[8]
    fold = np.array([[x, shift + x * math.tan(skew)] for x in (-half, half)])
    panel = np.zeros(2, dtype=bool)
    ends = project(values, flag_points(flag, panel, fold))
    centre = camera_position(values)
    way, length = ends[1] - ends[0], float(np.hypot(*(ends[1] - ends[0])))
    flange = project(values, flag_points(flag, ~panel, np.column_stack([fold[:, 0], [FLANGE_REACH_MM] * 2])))
    top = project(values, flag_points(flag, panel, np.column_stack([fold[:, 0], [_TOP_MM] * 2])))
    across = np.array([-way[1], way[0]]) / max(length, 1e-9)
    if (flange.mean(axis=0) - ends.mean(axis=0)) @ across > 0.0:
        across = -across
    before = _before_deg(centre, flag)
    if before < LEAST_DEG - DOUBT_DEG or length < LEAST_LENGTH_PX:
        return None
    back = min(MOST_FLANGE_PX, float(-((flange - ends) @ across).mean()))
    height = float(((top - ends) @ across).max())
    if before < DOUBT_DEG:
        # it may lie back more than it seems
        height = max(height, 0.0) + math.radians(DOUBT_DEG) * _TOP_MM * length / (2.0 * half)
    ahead = min(MOST_PANEL_PX, height + BEYOND_BLURS * blur_px)
    columns, rows = int(length / STEP_PX), int((back + ahead) / ACROSS_PX)
    if columns < 40 or rows < 12:
        return None
    along = np.linspace(0.0, 1.0, columns)
    off = -back + ACROSS_PX * np.arange(rows)
    pixels = ends[0] + along[None, :, None] * way + off[:, None, None] * across
    low, high = np.floor(pixels.min(axis=(0, 1))) - 3, np.ceil(pixels.max(axis=(0, 1))) + 4
    if (low < 0).any() or (high > gray.shape[::-1]).any():
        return None
    (a, b), (c, d) = low.astype(int), high.astype(int)
    at = (pixels - low).astype(np.float32)
    light = cv2.remap(light_of(gray[b:d, a:c]), at[..., 0], at[..., 1], cv2.INTER_CUBIC)
    ways = rays(values, pixels.reshape(-1, 2)).reshape(rows, columns, 3)
    return _Band(
        np.asarray(light, dtype=float), centre, ways, length / (columns - 1), length / (2.0 * half), blur_px
    )


def _before_deg(centre: FloatArray, flag: FloatArray) -> float:
    """Return by how much the camera stands before the panel's plane, on the side of its print."""
    corner, right, up, flange = flag_points(
        flag,
        np.array([False, False, False, True]),
        np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.0, 1.0]]),
    )
    face = np.cross(right - corner, up - corner)
    face *= np.sign(face @ (flange - corner))
    return math.degrees(math.asin(float(face @ (centre - corner)) / float(np.linalg.norm(centre - corner))))


def _on_part(band: _Band, flag: FloatArray, *, flange: bool) -> tuple[FloatArray, FloatArray]:
    """Return where rays meet the plane of a part, as printed: x, and y from the fold towards the tab."""
    three = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    corner, right, up = flag_points(flag, np.full(3, flange), three)
    right, up = right - corner, up - corner
    normal = np.cross(right, up)
    slant = band.ways @ normal
    far = (normal @ (corner - band.centre)) / np.where(np.abs(slant) < 1e-9, 1e-9, slant)
    hit = band.centre + far[..., None] * band.ways - corner
    return hit @ right, (hit @ up) * (-1.0 if flange else 1.0)


def _inside(band: _Band, flag: FloatArray) -> np.ndarray:
    """Return which samples lie between the strip's sides and not beyond the panel's print. [shape=(m, n)]

    On the tab are words, and behind it is what nobody knows.
    """
    half = FLAG_WIDTH_MM / 2.0 - _SIDE_MM
    (flange_x, _), (panel_x, panel_y) = (_on_part(band, flag, flange=part) for part in (True, False))
    return np.asarray((np.abs(flange_x) < half) & (np.abs(panel_x) < half) & (panel_y < PANEL_HEIGHT_MM))


def _parts(band: _Band, flag: FloatArray) -> FloatArray:
    """Return what each level adds to the band. [shape=(14, m, n)]

    White and black of the flange and of the panel, tab, what is beyond it, the fold's own line on white and black, and
    how the light on white rises across the strip and away from the fold.
    """
    slope = math.tan(flag[SKEW])
    (fx, fy), (px, py) = (_on_part(band, flag, flange=part) for part in (True, False))
    past = fy - flag[8] - slope * fx
    flange = _until(past)
    rows = 0.5 * SEAM_PX / ACROSS_PX * np.abs(np.gradient(past, axis=0))
    seam = _until(past - rows) - _until(past + rows)
    panel = (1.0 - flange) * _until(py - PANEL_HEIGHT_MM)
    tab = (1.0 - flange) * _until(py - _TOP_MM) - panel
    white, other = _print_at(fx, fy), _print_at(px, py)
    aside = px / (0.5 * FLAG_WIDTH_MM)
    parts = (
        white * flange,
        (1.0 - white) * flange,
        other * panel,
        (1.0 - other) * panel,
        tab,
        1.0 - flange - panel - tab,
        seam * white,
        seam * (1.0 - white),
        white * flange * aside,
        white * flange * (fy / FLANGE_REACH_MM),
        other * panel * aside,
        other * panel * (py / PANEL_HEIGHT_MM - 0.5),
        tab * aside,
        (1.0 - flange - panel - tab) * aside,
    )
    # a mean over a step blurs too
    along, across = (
        math.sqrt(max(band.blur_px**2 - step**2 / 12.0, 0.04)) for step in (band.step_px, ACROSS_PX)
    )
    return np.array(
        [
            cv2.GaussianBlur(
                part, (0, 0), sigmaX=along / band.step_px, sigmaY=across / ACROSS_PX,
                borderType=cv2.BORDER_REPLICATE,
            )
            for part in parts
        ]
    )  # fmt: skip


def _until(past: FloatArray) -> FloatArray:
    """Return how much of each sample lies before a limit, which rows cross as `past` grows through zero."""
    step = np.abs(np.gradient(past, axis=0)) + 1e-6
    return np.asarray(np.clip(0.5 - past / step, 0.0, 1.0))


def _print_at(x: FloatArray, y: FloatArray) -> FloatArray:
    """Return the print at printed places, each the mean of what lies between it and its neighbours half way."""
    column, row = (x + FLAG_WIDTH_MM / 2.0) * _PER_MM, (y + FLANGE_DEPTH_MM) * _PER_MM
    wide, high = (
        np.maximum(0.5 * np.abs(np.gradient(at, axis=axis)), 0.5) for at, axis in ((column, 1), (row, 0))
    )
    total = sum(a * b * _sum_to(column + a * wide, row + b * high) for a in (-1.0, 1.0) for b in (-1.0, 1.0))
    return np.asarray(total / (4.0 * wide * high), dtype=float)


def _sum_to(column: FloatArray, row: FloatArray) -> FloatArray:
    """Return the print's sum over all before a column and a row, on a border that goes on for ever as it is white."""
    inner, outer = np.clip(column, 0.0, _SUMS.shape[1] - 1.0), np.clip(row, 0.0, _SUMS.shape[0] - 1.0)
    # remap keeps 1/32 of a pixel only: the sums lie on planes between four places
    i, j = (np.minimum(v.astype(int), n - 2) for v, n in ((outer, _SUMS.shape[0]), (inner, _SUMS.shape[1])))
    p, q = outer - i, inner - j
    return np.asarray(
        (1.0 - p) * ((1.0 - q) * _SUMS[i, j] + q * _SUMS[i, j + 1])
        + p * ((1.0 - q) * _SUMS[i + 1, j] + q * _SUMS[i + 1, j + 1])
    )
