"""A strip of the picture along a line, with the light that the sheet would have there, and where an edge runs in it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.camera import CameraPose, on_plane
from groovewright.vision.grid_print import GridPrint, blur_on_sheet, expected_at
from groovewright.vision.load import Photo
from groovewright.vision.marks import linear, sample

STATION_PX, TICK_PX = 1.0, 0.5
FEWEST_STATIONS, MOST_STATIONS = 7, 110
MARGIN_PX = 3.0
"""The strip goes on so far beside the edge, and twice the blur more."""
SEARCH_PX = 0.5
COARSE_PX = 8.0
OWN_BLUR_PX = 0.45
"""What sampling between pixels adds to the blur."""


@dataclass(frozen=True)
class Strip:
    """A strip of the picture along a line: light and foretold light at stations along and places across it.

    [shapes (n,), (m,), (n, m), (n, m)]
    """

    start: FloatArray
    way: FloatArray
    stations: FloatArray
    across: FloatArray
    light: FloatArray
    sheet: FloatArray
    blur_px: float

    @property
    def normal(self) -> FloatArray:
        """The direction in which `across` counts."""
        return np.array([-self.way[1], self.way[0]])


def strip_along(
    photo: Photo, pose: CameraPose, shown: GridPrint, ends: FloatArray, reach_px: float
) -> Strip | None:
    """Return the strip about a line within a reach; None where it leaves the picture or is too short."""
    length = float(np.hypot(*(ends[1] - ends[0])))
    if length < FEWEST_STATIONS * STATION_PX:
        return None
    way = (ends[1] - ends[0]) / length
    stations = np.linspace(
        0.5, length - 0.5, int(np.clip(round(length / STATION_PX), FEWEST_STATIONS, MOST_STATIONS))
    )
    blur = math.hypot(shown.blur_px, OWN_BLUR_PX)
    half = reach_px + MARGIN_PX + 2.0 * blur
    across: FloatArray = np.arange(-math.ceil(half / TICK_PX), math.ceil(half / TICK_PX) + 1.0) * TICK_PX
    places = ends[0] + stations[:, None, None] * way + across[None, :, None] * np.array([-way[1], way[0]])
    width, height = photo.size
    if (places < 1.0).any() or (places > [width - 2.0, height - 2.0]).any():
        return None
    light = linear(sample(photo.gray, places))
    sheet = _sheet_along(pose, shown, ends[0], way, stations, across)
    return Strip(ends[0], way, stations, across, light, sheet, blur)


def _sheet_along(
    pose: CameraPose,
    shown: GridPrint,
    start: FloatArray,
    way: FloatArray,
    stations: FloatArray,
    across: FloatArray,
) -> FloatArray:
    """Return the foretold light of a strip; where it lies on the sheet is worked out at a few places and filled in."""
    s, c = (
        np.linspace(at[0], at[-1], max(3, round((at[-1] - at[0]) / COARSE_PX) + 1))
        for at in (stations, across)
    )
    pixels = start + s[:, None, None] * way + c[None, :, None] * np.array([-way[1], way[0]])
    flat = pixels.reshape(-1, 2)
    places = on_plane(pose.values, flat, 0.0)
    known = np.column_stack([places, blur_on_sheet(pose, flat, places)]).astype(np.float32)
    u, v = np.meshgrid((across - across[0]) / (c[1] - c[0]), (stations - stations[0]) / (s[1] - s[0]))
    fine = [
        cv2.remap(
            np.ascontiguousarray(known[:, k].reshape(len(s), len(c))), u.astype(np.float32), v.astype(np.float32),
            cv2.INTER_LINEAR,
        ).astype(float).ravel()
        for k in range(4)
    ]  # fmt: skip
    return expected_at(shown, np.column_stack(fine[:2]), shown.blur_px * np.column_stack(fine[2:])).reshape(
        u.shape
    )


def search(strip: Strip, reach_px: float, likely_px: float) -> FloatArray | None:
    """Return the offsets at both ends of the line along which the light changes most; None where it doesn't.

    Lines of the sheet are divided out where they show.
    """
    fields = [_changes(strip, strip.light / strip.sheet), _changes(strip, strip.light)]
    ticks = np.arange(-reach_px, reach_px + 1e-6, SEARCH_PX)
    lines = np.array([(p, q) for p in ticks for q in ticks])
    share = (strip.stations / (strip.stations[-1] + 0.5))[None, :]
    drawn = lines[:, :1] * (1.0 - share) + lines[:, 1:] * share
    columns = np.clip(np.rint((drawn - strip.across[0]) / TICK_PX).astype(int), 0, len(strip.across) - 1)
    rows = np.arange(len(strip.stations))[None, :]
    liked = np.exp(-0.5 * ((lines / likely_px) ** 2).mean(axis=1))
    scores = []
    for field in fields:
        strong = np.quantile(np.abs(field), 0.9)
        values = np.clip(field, -strong, strong)[rows, columns]
        scores.append(np.abs(values.mean(axis=1)) * liked)
    # an edge shows whether or not lines are divided out
    both = np.sqrt(scores[0] * scores[1])
    best = int(np.argmax(both))
    return lines[best] if both[best] > 0.0 else None


def _changes(strip: Strip, light: FloatArray) -> FloatArray:
    """Return the change of light across the line at every place, smoothed. [shape=(n, m)]"""
    width = max(1.0, strip.blur_px)
    ticks = np.arange(-math.ceil(3.0 * width / TICK_PX), math.ceil(3.0 * width / TICK_PX) + 1) * TICK_PX
    kernel = -ticks * np.exp(-0.5 * (ticks / width) ** 2)
    kernel /= np.abs(kernel).sum() / 2.0
    return np.asarray(
        cv2.filter2D(light, cv2.CV_64F, kernel[None], borderType=cv2.BORDER_REPLICATE), dtype=float
    )
