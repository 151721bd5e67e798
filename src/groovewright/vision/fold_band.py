"""The band round a flag's fold as a picture: where its samples lie, and what is drawn there for a flag's values.

Every sample's ray meets the flange, or past the fold the panel, its tab, or what lies beyond.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

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
from groovewright.vision.marks import light_of

_PER_MM = 20
"""Of the drawn print: every box of it begins and ends on a whole pixel."""
_HALF_MM = FLAG_WIDTH_MM / 2.0 - 0.7
"""The band ends so far inside the strip's sides."""
TOP_MM = PANEL_HEIGHT_MM + TAB_HEIGHT_MM
FLANGE_REACH_MM, MOST_FLANGE_PX, MOST_PANEL_PX = 1.6, 14.0, 70.0
BEYOND_BLURS = 3.0
"""How much of flange, panel and what lies beyond it the band takes in; the last in standard deviations of blur."""
PAST_BLURS, THIN_PX = 0.7, 8.0
"""Where a panel is less high, so much of what lies past it is compared too."""
STEP_PX, ACROSS_PX = 1.25, 0.5
SEAM_PX = 1.0
"""Width of the line that a fold itself shows, bright or dark: it is round, and dips into shade."""
LEAST_DEG, DOUBT_DEG = 0.3, 2.0
"""The camera stands so far before the panel, or more: from behind it hides the fold. Before the band is measured, that
may be wrong by so much."""
LEAST_LENGTH_PX = 40.0
SKEW, SHIFT, ROUND = 7, 8, 9
"""Places among the flag's values."""
KNOTS, FEW_KNOTS = 9, 3
"""Of the tab, which carries words, and of what is beyond, the light is free at so many places along the fold."""
PICTURES = 8


@dataclass(frozen=True)
class Band:
    """Light of the picture, and the camera's rays, at a lattice round the fold. [shapes (m, n), (3,), (m, n, 3)]

    `fields` are slow changes of light over the lattice, [shape=(k, m, n)], and `of` which picture each is for; `sums`
    are those of the print over all rows and columns before each, as its ink has spread.
    """

    light: FloatArray
    centre: FloatArray
    ways: FloatArray
    step_px: float
    px_per_mm: float
    blur_px: float
    fields: FloatArray
    of: NDArray[np.intp]
    sums: FloatArray


def _drawn() -> FloatArray:
    """Return the strip's print, 1 white, 0 black: rows from the flange's end towards the tab."""
    height, width = (round(_PER_MM * v) for v in (FLANGE_DEPTH_MM + TOP_MM, FLAG_WIDTH_MM))
    print_ = np.ones((height, width))
    for level, boxes in zip((0.0, 1.0), flag_boxes(), strict=True):
        for x0, x1, y0, y1 in boxes:
            a, b = (round(_PER_MM * (x + FLAG_WIDTH_MM / 2.0)) for x in (x0, x1))
            c, d = (round(_PER_MM * (y + FLANGE_DEPTH_MM)) for y in (y0, y1))
            print_[c:d, a:b] = level
    return print_


def _sums(gain_mm: float) -> FloatArray:
    """Return the print's sums over all rows and columns before each, once ink has spread beyond every edge."""
    sharp = _drawn()
    # what lies within a pixel beyond an edge darkens by the share of it that ink covers
    spread = sharp + gain_mm * _PER_MM * (cv2.erode(sharp, np.ones((3, 3))) - sharp)
    return np.asarray(cv2.integral(spread, sdepth=cv2.CV_64F), dtype=float)


def band_round(
    gray: Pixels, values: FloatArray, flag: FloatArray, blur_px: float, gain_mm: float
) -> Band | None:
    """Return the lattice round the fold: along it with the last index, from the flange on with the first.

    `gain_mm` is how far the print's ink has spread.
    """
    skew, shift = flag[SKEW], flag[SHIFT]
    fold = np.array([[x, shift + x * math.tan(skew)] for x in (-_HALF_MM, _HALF_MM)])
    panel = np.zeros(2, dtype=bool)
    ends = project(values, flag_points(flag, panel, fold))
    centre = camera_position(values)
    way, length = ends[1] - ends[0], float(np.hypot(*(ends[1] - ends[0])))
    flange = project(values, flag_points(flag, ~panel, np.column_stack([fold[:, 0], [FLANGE_REACH_MM] * 2])))
    top = project(values, flag_points(flag, panel, np.column_stack([fold[:, 0], [TOP_MM] * 2])))
    across = np.array([-way[1], way[0]]) / max(length, 1e-9)
    if (flange.mean(axis=0) - ends.mean(axis=0)) @ across > 0.0:
        across = -across
    before, px_per_mm = before_deg(centre, flag), length / (2.0 * _HALF_MM)
    if before < LEAST_DEG - DOUBT_DEG or length < LEAST_LENGTH_PX:
        return None
    back = min(MOST_FLANGE_PX, float(-((flange - ends) @ across).mean()))
    height = float(((top - ends) @ across).max())
    if before < DOUBT_DEG:
        # it may lie back more than it seems
        height = max(height, 0.0) + math.radians(DOUBT_DEG) * TOP_MM * px_per_mm
    ahead = min(MOST_PANEL_PX, height + BEYOND_BLURS * blur_px)
    columns, rows = int(length / STEP_PX), int((back + ahead) / ACROSS_PX)
    if columns < 40 or rows < 12:
        return None
    along = np.linspace(0.0, 1.0, columns)
    off = np.asarray(-back + ACROSS_PX * np.arange(rows), dtype=float)
    pixels = ends[0] + along[None, :, None] * way + off[:, None, None] * across
    low, high = np.floor(pixels.min(axis=(0, 1))) - 3, np.ceil(pixels.max(axis=(0, 1))) + 4
    if (low < 0).any() or (high > gray.shape[::-1]).any():
        return None
    (a, b), (c, d) = low.astype(int), high.astype(int)
    at = (pixels - low).astype(np.float32)
    light = cv2.remap(light_of(gray[b:d, a:c]), at[..., 0], at[..., 1], cv2.INTER_CUBIC)
    ways = rays(values, pixels.reshape(-1, 2)).reshape(rows, columns, 3)
    fields, of = _fields(2.0 * along - 1.0, off, KNOTS if height < THIN_PX else FEW_KNOTS)
    return Band(
        np.asarray(light, dtype=float),
        centre,
        ways,
        length / (columns - 1),
        px_per_mm,
        blur_px,
        fields,
        of,
        _sums(gain_mm),
    )


def _fields(along: FloatArray, off: FloatArray, knots: int) -> tuple[FloatArray, NDArray[np.intp]]:
    """Return how the light of each picture may change over the lattice, along from -1 to 1, and for which each is.

    Shadows of body and headshell lie on the flange, and the light falls off towards the fold.
    """
    u, v = np.broadcast_arrays(along[None], (off / np.abs(off).max())[:, None])
    places = np.linspace(-1.0, 1.0, knots)
    hats = [np.clip(1.0 - np.abs(u - at) * (knots - 1) / 2.0, 0.0, None) for at in places]
    one = np.ones_like(u)
    each = (
        [*(u**k for k in range(5)), *(v * u**k for k in range(3))], [one, u], [one, u, u**2, v], [one], hats, hats,
        [one], [one],
    )  # fmt: skip
    of = np.repeat(np.arange(PICTURES), [len(some) for some in each])
    return np.array([field for some in each for field in some]), of


def before_deg(centre: FloatArray, flag: FloatArray) -> float:
    """Return by how much the camera stands before the panel's plane, on the side of its print."""
    corner, right, up, flange = flag_points(
        flag,
        np.array([False, False, False, True]),
        np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.0, 1.0]]),
    )
    face = np.cross(right - corner, up - corner)
    face *= np.sign(face @ (flange - corner))
    return math.degrees(math.asin(float(face @ (centre - corner)) / float(np.linalg.norm(centre - corner))))


def _on_part(band: Band, flag: FloatArray, *, flange: bool) -> tuple[FloatArray, FloatArray]:
    """Return where rays meet the plane of a part, as printed: x, and y from the fold towards the tab."""
    three = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    corner, right, up = flag_points(flag, np.full(3, flange), three)
    right, up = right - corner, up - corner
    normal = np.cross(right, up)
    slant = band.ways @ normal
    far = (normal @ (corner - band.centre)) / np.where(np.abs(slant) < 1e-9, 1e-9, slant)
    hit = band.centre + far[..., None] * band.ways - corner
    return hit @ right, (hit @ up) * (-1.0 if flange else 1.0)


def inside(band: Band, flag: FloatArray) -> NDArray[np.bool_]:
    """Return which samples lie between the strip's sides and not far beyond the panel's print. [shape=(m, n)]

    On the tab are words, and behind it is what nobody knows.
    """
    (fx, _), (px, py) = (_on_part(band, flag, flange=part) for part in (True, False))
    beyond = py - PANEL_HEIGHT_MM
    if PANEL_HEIGHT_MM * math.sin(math.radians(before_deg(band.centre, flag))) * band.px_per_mm < THIN_PX:
        beyond -= PAST_BLURS * band.blur_px * np.abs(np.gradient(py, axis=0)) / ACROSS_PX
    return np.asarray((np.abs(fx) < _HALF_MM) & (np.abs(px) < _HALF_MM) & (beyond < 0.0))


def pictures(band: Band, flag: FloatArray) -> FloatArray:
    """Return what is seen where, not blurred yet. [shape=(8, m, n)]

    White and black of the flange and of the panel, the tab, what is beyond, and the fold's own line on white and black.
    """
    (fx, fy), (px, py) = (_on_part(band, flag, flange=part) for part in (True, False))
    past = fy - flag[SHIFT] - flag[ROUND] - math.tan(flag[SKEW]) * fx
    flange = _until(past)
    rows = 0.5 * SEAM_PX / ACROSS_PX * np.abs(np.gradient(past, axis=0))
    seam = _until(past - rows) - _until(past + rows)
    panel = (1.0 - flange) * _until(py - PANEL_HEIGHT_MM)
    tab = (1.0 - flange) * _until(py - TOP_MM) - panel
    white, other = _print_at(band.sums, fx, fy), _print_at(band.sums, px, py)
    return np.array(
        [
            white * flange,
            (1.0 - white) * flange,
            other * panel,
            (1.0 - other) * panel,
            tab,
            1.0 - flange - panel - tab,
            seam * white,
            seam * (1.0 - white),
        ]
    )


def blurred(band: Band, pictures: FloatArray) -> FloatArray:
    """Return pictures of the band, blurred as the photograph is. [shape=(k, m, n)]"""
    # a mean over a step blurs too
    along, across = (
        math.sqrt(max(band.blur_px**2 - step**2 / 12.0, 0.04)) for step in (band.step_px, ACROSS_PX)
    )
    return np.array(
        [
            cv2.GaussianBlur(
                picture, (0, 0), sigmaX=along / band.step_px, sigmaY=across / ACROSS_PX,
                borderType=cv2.BORDER_REPLICATE,
            )
            for picture in pictures
        ]
    )  # fmt: skip


def _until(past: FloatArray) -> FloatArray:
    """Return how much of each sample lies before a limit, which rows cross as `past` grows through zero."""
    step = np.abs(np.gradient(past, axis=0)) + 1e-6
    return np.asarray(np.clip(0.5 - past / step, 0.0, 1.0))


def _print_at(sums: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    """Return the print at printed places, each the mean of what lies between it and its neighbours half way."""
    column, row = (x + FLAG_WIDTH_MM / 2.0) * _PER_MM, (y + FLANGE_DEPTH_MM) * _PER_MM
    wide, high = (
        np.maximum(0.5 * np.abs(np.gradient(at, axis=axis)), 0.5) for at, axis in ((column, 1), (row, 0))
    )
    total = sum(
        a * b * _sum_to(sums, column + a * wide, row + b * high) for a in (-1.0, 1.0) for b in (-1.0, 1.0)
    )
    return np.asarray(total / (4.0 * wide * high), dtype=float)


def _sum_to(sums: FloatArray, column: FloatArray, row: FloatArray) -> FloatArray:
    """Return the print's sum over all before a column and a row, on a border that goes on for ever as it is white."""
    inner, outer = np.clip(column, 0.0, sums.shape[1] - 1.0), np.clip(row, 0.0, sums.shape[0] - 1.0)
    # remap keeps 1/32 of a pixel only: the sums lie on planes between four places
    i, j = (np.minimum(v.astype(int), n - 2) for v, n in ((outer, sums.shape[0]), (inner, sums.shape[1])))
    p, q = outer - i, inner - j
    return np.asarray(
        (1.0 - p) * ((1.0 - q) * sums[i, j] + q * sums[i, j + 1])
        + p * ((1.0 - q) * sums[i + 1, j] + q * sums[i + 1, j + 1])
    )
