"""A strip of the picture along a line, with the light that the sheet would have there, and where an edge runs in it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.camera import CameraPose, on_plane
from groovewright.vision.grid_print import GridPrint, expected_at
from groovewright.vision.load import Photo
from groovewright.vision.marks import linear, sample

STATION_PX, TICK_PX, FINE_PX = 1.0, 0.5, 0.25
FEWEST_STATIONS, MOST_STATIONS = 7, 110
MARGIN_PX = 1.5
"""The strip goes on so far beside the edge, and twice the blur more."""
SEARCH_PX = 0.5
COARSE_PX = 8.0
SHARP_PX, LEAST_BLUR_PX = 0.4, 0.6
"""What is foretold of the sheet is so sharp before what covers it is cut out, and no picture is sharper than this."""


@dataclass(frozen=True)
class Strip:
    """A strip of the picture along a line: light at stations along and places across it, and what the sheet has there.

    `sheet` is the print's share of the paper's light at the finer places `fine`, blurred along the line as the picture
    is but nearly sharp across it, `shown` the same as the picture has it. Once what covers the sheet is cut out of
    `sheet`, `kernel` blurs it across the line, and `places` are those of `light`.
    [shapes (n,), (m,), (f,), (n, m), (n, f), (n, m), (k,)]
    """

    start: FloatArray
    way: FloatArray
    stations: FloatArray
    across: FloatArray
    fine: FloatArray
    light: FloatArray
    sheet: FloatArray
    shown: FloatArray
    kernel: FloatArray
    places: slice
    blur_px: float

    @property
    def normal(self) -> FloatArray:
        """The direction in which `across` counts."""
        return np.array([-self.way[1], self.way[0]])

    def between(self, low: float, high: float) -> Strip:
        """Return the part of the strip between two places across its line."""
        first = int(np.clip(np.searchsorted(self.across, low) - 1, 0, len(self.across) - 1))
        last = int(np.clip(np.searchsorted(self.across, high) + 1, first + 1, len(self.across)))
        beyond, step = self.places.start, self.places.step
        near = slice(step * first, step * (last - 1) + 2 * beyond + 1)
        return replace(
            self,
            across=self.across[first:last],
            fine=self.fine[near],
            light=self.light[:, first:last],
            sheet=self.sheet[:, near],
            shown=self.shown[:, first:last],
            places=slice(beyond, step * (last - first - 1) + beyond + 1, step),
        )


def strip_along(
    photo: Photo, pose: CameraPose, shown: GridPrint, ends: FloatArray, reach_px: float
) -> Strip | None:
    """Return the strip about a line within a reach; None where it leaves the picture or is too short."""
    length = float(np.hypot(*(ends[1] - ends[0])))
    if length < FEWEST_STATIONS * STATION_PX:
        return None
    way = (ends[1] - ends[0]) / length
    normal = np.array([-way[1], way[0]])
    stations = np.linspace(
        0.5, length - 0.5, int(np.clip(round(length / STATION_PX), FEWEST_STATIONS, MOST_STATIONS))
    )
    blur = max(shown.blur_px, LEAST_BLUR_PX)
    half = reach_px + MARGIN_PX + 2.0 * blur
    across, fine = places_across(half, blur)
    pixels = ends[0] + stations[:, None, None] * way + across[None, :, None] * normal
    width, height = photo.size
    if (pixels < 1.0).any() or (pixels > [width - 2.0, height - 2.0]).any():
        return None
    light = linear(sample(photo.gray, pixels))
    sheet = _sheet_along(pose, shown, ends[0], way, stations, fine, blur)
    return strip_of(ends[0], way, stations, across, fine, light, sheet, blur)


def places_across(half_px: float, blur_px: float) -> tuple[FloatArray, FloatArray]:
    """Return the places of a strip's light, and the finer ones of what is foretold, from which blur carries into it."""
    return _ticks(half_px, TICK_PX), _ticks(half_px + 3.0 * blur_px, FINE_PX)


def strip_of(
    start: FloatArray,
    way: FloatArray,
    stations: FloatArray,
    across: FloatArray,
    fine: FloatArray,
    light: FloatArray,
    sheet: FloatArray,
    blur_px: float,
) -> Strip:
    """Return a strip with this light and this print, which is blurred along it only. [shapes as of `Strip`]"""
    kernel = np.exp(-0.5 * _ticks(3.5 * blur_px, FINE_PX) ** 2 / (blur_px**2 - SHARP_PX**2))
    kernel /= kernel.sum()
    within = round(TICK_PX / FINE_PX)
    beyond = (len(fine) - within * (len(across) - 1)) // 2
    places = slice(beyond, len(fine) - beyond, within)
    shown = blurred(sheet, kernel, places)
    return Strip(start, way, stations, across, fine, light, sheet, shown, kernel, places, blur_px)


def blurred(fine: FloatArray, kernel: FloatArray, places: slice) -> FloatArray:
    """Return what is nearly sharp across a strip blurred, at some of its places. [shape=(n, f) to (n, m)]"""
    return np.asarray(cv2.sepFilter2D(fine, cv2.CV_64F, kernel, np.ones(1))[:, places], dtype=float)


def _ticks(half: float, step: float) -> FloatArray:
    count = math.ceil(half / step)
    return np.asarray(np.arange(-count, count + 1.0) * step)


def _sheet_along(
    pose: CameraPose,
    shown: GridPrint,
    start: FloatArray,
    way: FloatArray,
    stations: FloatArray,
    fine: FloatArray,
    blur_px: float,
) -> FloatArray:
    """Return the foretold light of a strip, blurred along it and nearly sharp across it. [shape=(n, f)]

    Where it lies on the sheet is worked out at a few places and filled in.
    """
    nodes = [
        np.linspace(at[0], at[-1], max(3, round((at[-1] - at[0]) / COARSE_PX) + 1)) for at in (stations, fine)
    ]
    normal = np.array([-way[1], way[0]])
    pixels = (start + nodes[0][:, None, None] * way + nodes[1][None, :, None] * normal).reshape(-1, 2)
    places = on_plane(pose.values, pixels, 0.0)
    along, across = (on_plane(pose.values, pixels + step, 0.0) - places for step in (way, normal))
    known = np.column_stack([places, np.hypot(blur_px * along, SHARP_PX * across)])
    rows, columns = (
        np.array([np.interp(at, node, unit) for unit in np.eye(len(node))]).T
        for at, node in zip((stations, fine), nodes, strict=True)
    )
    filled = rows @ known.T.reshape(4, len(nodes[0]), len(nodes[1])) @ columns.T
    x, y, wide, long = filled.reshape(4, -1)
    return expected_at(shown, np.column_stack([x, y]), np.column_stack([wide, long])).reshape(
        len(stations), len(fine)
    )


def search(strip: Strip, reach_px: float, likely_px: float) -> FloatArray | None:
    """Return the offsets at both ends of the line along which the light changes most; None where it doesn't.

    Lines of the sheet are divided out where they show.
    """
    fields = [_changes(strip, strip.light / strip.shown), _changes(strip, strip.light)]
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


def printed(strip: Strip, line: FloatArray) -> float:
    """Return how much a line of the sheet that runs along a line of a strip changes the light there, as a share of it.

    The line is given by its offsets at both ends.
    """
    share = strip.stations / (strip.stations[-1] + 0.5)
    off = np.arange(-MARGIN_PX - strip.blur_px, MARGIN_PX + strip.blur_px, TICK_PX)
    drawn = (line[0] * (1.0 - share) + line[1] * share)[:, None] + off
    field = _changes(strip, strip.shown)
    columns = np.clip(np.rint((drawn - strip.across[0]) / TICK_PX).astype(int), 0, field.shape[1] - 1)
    return float(np.abs(field[np.arange(len(drawn))[:, None], columns].mean(axis=0)).max())


def _changes(strip: Strip, light: FloatArray) -> FloatArray:
    """Return the change of light across the line at every place, smoothed. [shape=(n, m)]"""
    width = max(1.0, strip.blur_px)
    ticks = np.arange(-math.ceil(3.0 * width / TICK_PX), math.ceil(3.0 * width / TICK_PX) + 1) * TICK_PX
    kernel = -ticks * np.exp(-0.5 * (ticks / width) ** 2)
    kernel /= np.abs(kernel).sum() / 2.0
    return np.asarray(
        cv2.filter2D(light, cv2.CV_64F, kernel[None], borderType=cv2.BORDER_REPLICATE), dtype=float
    )
