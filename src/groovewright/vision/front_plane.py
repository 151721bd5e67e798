"""The picture drawn anew on an upright plane just before the null, with what the sheet would show there.

Lines across the cartridge and upright ones keep their direction on this plane, however far before or behind it they
are, so that few directions have to be searched. The sheet's print is foretold on the same plane: it is
divided out where it shows, and where it doesn't show, something stands before the sheet.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.camera import CameraPose, on_plane, project
from groovewright.vision.grid_print import GridPrint, blur_on_sheet, expected_at
from groovewright.vision.load import Photo
from groovewright.vision.marks import linear

PLANE_MM = 3.0
"""The front face stands some millimetres before the stylus (common practice)."""
HALF_WIDTH_MM, LOWEST_MM, HIGHEST_MM = 15.0, -3.0, 22.0
"""What is searched, across and up the plane."""
SCALE = 6.0
"""Pixels for each millimetre of the plane."""
EDGE_MM = 0.14
"""Half the width over which an edge's change of light is gathered, at least."""
WEAK, STRONG = 0.006, 0.03
"""Changes of light as shares of the paper's: less counts as none, more no more than this."""
BESIDE = 0.6
"""What a pixel beside the middle of an edge brings, as a share."""
LOCAL_MM = 2.6
UNSURE = 0.06
"""Print that is fainter than this share of the light says little of whether the sheet shows."""
_STRIDE = 6


@dataclass(frozen=True)
class FrontPlane:
    """Fields on the plane; row 0 is at the lowest height, column 0 on the left. [shape=(rows, columns)]

    `across` and `up` are changes of light to the right and upwards, from -1 to 1, thinned to the middles of edges.
    `sheet` is positive where the sheet shows, negative where it should and doesn't, near 0 where nothing is printed.
    `pitch_mm` is how far apart up the plane lines of 1 mm along the face appear.
    """

    across: FloatArray
    up: FloatArray
    sheet: FloatArray
    pitch_mm: float
    eye: FloatArray


def to_grid(across: FloatArray, height: FloatArray) -> FloatArray:
    """Return places of the plane in the grid's frame (z down). [shapes (n,), (n,) to (n, 3)]"""
    return np.column_stack([across, np.full(np.shape(across), PLANE_MM), -height])


def draw_plane(photo: Photo, pose: CameraPose, shown: GridPrint) -> FrontPlane:
    """Return what the picture shows on the plane."""
    drawn = draw(photo, pose, shown, to_grid, (-HALF_WIDTH_MM, HALF_WIDTH_MM), (LOWEST_MM, HIGHEST_MM))
    x, y, z = pose.position()
    pitch = float(np.clip(pose.height_mm() / max(1.0, y - PLANE_MM), 0.5, 6.0))
    return FrontPlane(drawn.across, drawn.up, drawn.sheet, pitch, np.array([x, y - PLANE_MM, -z]))


@dataclass(frozen=True)
class Drawn:
    """The picture on any plane: changes of light along its rows and from row to row, and whether the sheet shows.

    [shape=(rows, columns)]
    """

    across: FloatArray
    up: FloatArray
    sheet: FloatArray


def draw(
    photo: Photo,
    pose: CameraPose,
    shown: GridPrint,
    to_space: Callable[[FloatArray, FloatArray], FloatArray],
    across_mm: tuple[float, float],
    up_mm: tuple[float, float],
) -> Drawn:
    """Return what the picture shows on the plane whose places `to_space` takes to the grid's frame."""
    columns, rows = (round((last - first) * SCALE) for first, last in (across_mm, up_mm))
    # the map is smooth: worked out at every sixth place and filled in between
    a, h = np.meshgrid(
        np.arange(0, columns + _STRIDE, _STRIDE) / SCALE + across_mm[0],
        np.arange(0, rows + _STRIDE, _STRIDE) / SCALE + up_mm[0],
    )
    pixels = project(pose.values, to_space(a.ravel(), h.ravel()))
    places = on_plane(pose.values, pixels, 0.0)
    coarse = np.column_stack([pixels, places, blur_on_sheet(pose, pixels, places)]).astype(np.float32)
    u, v = np.meshgrid(
        np.arange(columns, dtype=np.float32) / _STRIDE, np.arange(rows, dtype=np.float32) / _STRIDE
    )
    fine = [
        cv2.remap(np.ascontiguousarray(coarse[:, k].reshape(a.shape)), u, v, cv2.INTER_LINEAR)
        for k in range(6)
    ]
    per_mm = SCALE * float(np.median(np.hypot(*(np.gradient(fine[k], axis=1) for k in (0, 1)))))
    light = linear(np.asarray(cv2.remap(photo.gray, fine[0], fine[1], cv2.INTER_LINEAR), dtype=float))
    flat = [np.asarray(part, dtype=float).ravel() for part in fine[2:]]
    sheet = expected_at(shown, np.column_stack(flat[:2]), shown.blur_px * np.column_stack(flat[2:])).reshape(
        light.shape
    )
    paper = max(4.0, float(np.quantile(light / sheet, 0.9)))
    divided = light / np.maximum(sheet, 0.25)
    width = SCALE * max(EDGE_MM, 0.7 * shown.blur_px / max(per_mm, 1.0))
    fields = [
        _thinned(_change(light, width, axis) / paper, _change(divided, width, axis) / paper, axis)
        for axis in (1, 0)
    ]
    return Drawn(fields[0], fields[1], _sheet_shows(light, sheet, paper))


def _change(light: FloatArray, width: float, axis: int) -> FloatArray:
    """Return the change of light along an axis over about twice a width."""
    reach = math.ceil(2.5 * width)
    ticks: FloatArray = np.arange(-reach, reach + 1, dtype=float)
    kernel = ticks * np.exp(-0.5 * (ticks / width) ** 2)
    kernel /= np.abs(kernel).sum() / 2.0
    smooth = np.array([0.25, 0.5, 0.25])
    across, up = (kernel, smooth) if axis == 1 else (smooth, kernel)
    changed = cv2.sepFilter2D(light, cv2.CV_64F, across, up, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(changed, dtype=float)


def _thinned(one: FloatArray, other: FloatArray, axis: int) -> FloatArray:
    """Return changes of light that show with and without the sheet divided out, at the middles of edges."""
    same = np.where(one * other > 0.0, np.sign(one) * np.minimum(np.abs(one), np.abs(other)), 0.0)
    strength = np.abs(same)
    reach = np.ones((1, 3) if axis == 1 else (3, 1), np.uint8)
    middle = ((strength >= cv2.dilate(strength, reach)) & (strength > WEAK)).astype(np.uint8)
    beside = cv2.dilate(middle, reach)
    size = np.clip((strength - WEAK) / (STRONG - WEAK), 0.0, 1.0)
    return np.asarray(np.sign(same) * size * (BESIDE * beside + (1.0 - BESIDE) * middle))


def _sheet_shows(light: FloatArray, sheet: FloatArray, paper: float) -> FloatArray:
    size = (round(LOCAL_MM * SCALE) | 1,) * 2
    means = [cv2.boxFilter(part, cv2.CV_64F, size) for part in (light, sheet)]
    gain = means[0] / np.maximum(means[1], 0.1)
    wanted, found = gain * (sheet - means[1]), light - means[0]
    power = wanted**2
    telling = power / (power + (UNSURE * paper) ** 2)
    like = wanted * found / (power + (0.3 * UNSURE * paper) ** 2)
    # what changes the light far more than the print does is no print
    like = np.clip(np.minimum(like, 3.0 - like), -0.5, 1.5)
    return np.asarray(telling * (like - 0.4))
