"""Why nothing of the sheet can be measured in a photograph, and what would help."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from groovewright.quantities import CannotBeDoneError, FloatArray
from groovewright.sheets.markers import (
    BACK_STRIP_Y_MM,
    COLUMNS,
    FLAG_CODES,
    FRONT_STRIP_Y_MM,
    NULL_NAMES,
    SQUARE_MM,
)
from groovewright.vision.camera import project
from groovewright.vision.load import Photo, Pixels
from groovewright.vision.marks import Code, find_codes_with_patience, first_map
from groovewright.vision.sheet_view import SheetView

BRIGHT_SHARE, DARK_LEVEL = 0.5, 12.0
NEAR_PX, FAR_PX = 2, 16
BLURRED_PX = 11.0
"""Edges as wide as this leave nothing of a marker's modules; where photos can be read they are 3 to 10."""
LEAST_CHANGE = 25.0
"""Gray levels over FAR_PX: less says nothing of an edge's width."""
STRONG_SHARE = 0.005
"""Of all places, that change most over FAR_PX."""
INSIDE_SHARE = 0.8
"""A grid with less of its outline in the picture is cut off."""
_HELP = "take in the whole grid with the strips before and behind it, sharp, in even light"


def explain_nothing_found(photo: Photo, codes: list[Code]) -> CannotBeDoneError:
    """Return why no grid can be measured, and what would help."""
    bright, level = float((photo.gray >= 253).mean()), float(photo.gray.mean())
    width = edge_width_px(photo.gray)
    cut = _cut_off(_shares_inside(photo, codes))
    if cut:
        return CannotBeDoneError(cut)
    if width is not None and width > BLURRED_PX:
        return CannotBeDoneError(
            f"the photo is blurred: its edges are {width:.0f} pixels wide, up to {BLURRED_PX:.0f} can be read; rest "
            "the phone on something, tap on the grid to focus, and go no nearer than it still focuses"
        )
    if any(code.code not in FLAG_CODES for code in codes):
        return CannotBeDoneError(
            "the sheet's markers are found but its corners can't be measured: they are covered, or the light is "
            "too uneven; clear what lies on the strips and ladders and take another"
        )
    mirrored = Photo(np.ascontiguousarray(photo.gray[:, ::-1]))
    if sum(code.code not in FLAG_CODES for code in find_codes_with_patience(mirrored.gray)) >= 3:
        return CannotBeDoneError(
            "the sheet's markers are mirrored: the sheet was printed mirrored, or the phone saved a mirrored "
            "picture (front camera); print it without mirroring, or use the camera at the phone's back"
        )
    why = "none of the sheet's markers is wholly in it"
    if bright > BRIGHT_SHARE:
        why = "it is overexposed and nothing of the sheet is left in it"
    elif level < DARK_LEVEL:
        why = "it is too dark"
    return CannotBeDoneError(f"the photo can't be measured: {why}; {_HELP}")


def edge_width_px(gray: Pixels) -> float | None:
    """Return how wide the strongest edges are, across the way in which they are widest; None where there are none.

    What changes most over a few pixels is compared with what changes most over many: a sharp edge does as much
    in both. Looked at along rows, columns and both diagonals, since a moved phone blurs in one direction.
    """
    level = gray.astype(np.int16)
    widths = []
    for down, across in ((0, 1), (1, 0), (1, 1), (1, -1)):
        reach = math.hypot(down, across)
        # as many places lie across an edge as the step is long
        near, far = (
            _strongest_change(level, down, across, max(1, round(step / reach)), STRONG_SHARE * step / FAR_PX)
            for step in (NEAR_PX, FAR_PX)
        )
        if far > LEAST_CHANGE:
            widths.append(NEAR_PX * far / max(near, 1.0))
    return max(widths) if widths else None


def _strongest_change(level: np.ndarray, down: int, across: int, steps: int, share: float) -> float:
    """Return the change over some steps that only a share of all places exceeds."""
    dy, dx = down * steps, across * steps
    rows, columns = level.shape
    first = level[: rows - dy, max(0, -dx) : columns - max(0, dx)]
    second = level[dy:, max(0, dx) : columns - max(0, -dx)]
    return float(np.quantile(np.abs(second - first)[::3, ::3], 1.0 - share))


def cut_off(photo: Photo, views: Sequence[SheetView]) -> str:
    """Return in words that a grid is cut off and what to do, where it is; else nothing."""
    outline = np.column_stack([_OUTLINE, np.zeros(len(_OUTLINE))])
    return _cut_off({view.null: _share_inside(photo, project(view.pose.values, outline)) for view in views})


def _cut_off(shares: dict[str, float]) -> str:
    null = min(shares, key=lambda null: shares[null], default="")
    if not null or shares[null] >= INSIDE_SHARE:
        return ""
    return (
        f"the sheet is cut off: only {shares[null]:.0%} of the edge round the {null} null's grid is in the photo, and "
        "all of it is needed; go a little farther away, or move until both its strips are in the picture"
    )


def _outline() -> FloatArray:
    """Return places round a grid with its strips, in its own frame. [shape=(n, 2)]"""
    half, ticks = 0.5 * COLUMNS * SQUARE_MM, np.linspace(0.0, 1.0, 25)[:, None]
    low, high = BACK_STRIP_Y_MM[0], FRONT_STRIP_Y_MM[1]
    corners = np.array([[-half, low], [half, low], [half, high], [-half, high]])
    return np.vstack(
        [(1.0 - ticks) * a + ticks * b for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)]
    )


_OUTLINE = _outline()


def _share_inside(photo: Photo, pixels: FloatArray) -> float:
    return float(((pixels >= 0.0) & (pixels <= np.array(photo.size) - 1.0)).all(axis=1).mean())


def _shares_inside(photo: Photo, codes: list[Code]) -> dict[str, float]:
    """Return how much of each grid's outline lies in the picture, of those with a marker in it."""
    found = {null: first_map(codes, null) for null in NULL_NAMES}
    flat = np.column_stack([_OUTLINE, np.ones(len(_OUTLINE))])
    seen = {null: flat @ first.homography.T for null, first in found.items() if first is not None}
    return {null: _share_inside(photo, at[:, :2] / at[:, 2:]) for null, at in seen.items()}
