"""What lies beside an edge in the picture: the sheet, whose print shows there, or something that covers it.

Next to a body's outline the print shows on one side and not on the other; on both sides of a shadow's rim it shows, on
neither side of an edge on the body or of the headshell's edge above the body. How dark either side is says nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.camera import CameraPose
from groovewright.vision.edge import Edge
from groovewright.vision.grid_print import GridPrint
from groovewright.vision.load import Photo
from groovewright.vision.strip import MARGIN_PX, TICK_PX, Strip, strip_along

DEPTH_MM, LEAST_DEPTH_PX = 2.5, 4.0
"""How far from the edge is looked at, usually and at least: so that a line of the grid along the edge lies within."""
CLEAR_BLURS, CLEAR_PX = 1.5, 0.5
"""So many standard deviations of the blur and pixels from the edge, its two sides don't mix."""
BLOCK_STATIONS, FEWEST_PLACES = 12, 30
FLOOR_SD, LEAST_LIGHT = 0.05, 0.5
SHOWS, COVERED, CERTAIN = 0.5, 0.4, 2.0
"""From which share on the print shows, up to which it doesn't, and by how many standard deviations that is certain."""


@dataclass(frozen=True)
class PrintShare:
    """How strongly the sheet's print shows in some place: 1 as foretold, 0 not at all, and its standard deviation."""

    share: float
    sd: float

    @property
    def sheet(self) -> bool:
        """Whether the sheet lies there for certain."""
        return self.share - CERTAIN * self.sd > COVERED and self.share > SHOWS

    @property
    def covered(self) -> bool:
        """Whether something else lies there for certain."""
        return self.share + CERTAIN * self.sd < SHOWS and self.share < COVERED


UNKNOWN = PrintShare(0.5, 1.0)


def print_beside(
    photo: Photo,
    pose: CameraPose,
    shown: GridPrint,
    edge: Edge,
    depths_mm: Sequence[float] = (-DEPTH_MM, DEPTH_MM),
) -> list[PrintShare]:
    """Return how the print shows beside an edge, up to each depth along its normal (-dy, dx); negative: against it."""
    per_mm = pose.px_per_mm()
    near = CLEAR_BLURS * shown.blur_px + CLEAR_PX
    lasts = [near + max(LEAST_DEPTH_PX, abs(depth) * per_mm) for depth in depths_mm]
    strip = strip_along(photo, pose, shown, edge.ends(), max(lasts) - MARGIN_PX)
    if strip is None:
        return [UNKNOWN] * len(lasts)
    return [
        _share(strip, near, last) if depth > 0.0 else _share(strip, -last, -near)
        for depth, last in zip(depths_mm, lasts, strict=True)
    ]


def _share(strip: Strip, first: float, last: float) -> PrintShare:
    """Return how strongly the print shows between two distances beside a strip's line.

    In each block the light is an even fall of light times the print; the factor of the print, common to all, is by
    least squares, and its scatter from block to block tells how well it is known.
    """
    columns = (strip.across > first) & (strip.across < last)
    across = strip.across[columns]
    sums = []
    for block in np.array_split(
        np.arange(len(strip.stations)), max(1, len(strip.stations) // BLOCK_STATIONS)
    ):
        light, sheet = (part[block][:, columns].ravel() for part in (strip.light, strip.shown))
        if len(light) < FEWEST_PLACES:
            continue
        s, a = (part.ravel() for part in np.meshgrid(strip.stations[block], across, indexing="ij"))
        even = np.linalg.qr(np.column_stack([np.ones(len(s)), s - s.mean(), a - a.mean()]))[0]
        wanted, found = sheet / sheet.mean(), light / max(LEAST_LIGHT, float(light.mean()))
        wanted = wanted - even @ (even.T @ wanted)
        found = found - even @ (even.T @ found)
        sums.append(
            (float(wanted @ found), float(wanted @ wanted), float(found @ found), len(light) * TICK_PX)
        )
    if not sums:
        return UNKNOWN
    both, power, seen, pixels = np.array(sums).T
    total = max(1e-9, float(power.sum()))
    share = float(both.sum()) / total
    blocks = float(((both - share * power) ** 2).sum())
    # neighbours within the blur count as one
    left = max(0.0, float(seen.sum()) - share**2 * total) / max(1.0, float(pixels.sum()))
    noise = left * max(1.0, 2.0 * math.pi * strip.blur_px**2) * total
    return PrintShare(share, math.hypot(FLOOR_SD, math.sqrt(max(blocks, noise)) / total))


def sheet_farther(
    photo: Photo, pose: CameraPose, shown: GridPrint, ends: FloatArray, aside: FloatArray, depth_mm: float
) -> bool:
    """Return whether the sheet lies for certain in a band beside a line.

    `aside` leads in the picture from the line to where the band starts. [shapes (2, 2), (2,)]
    """
    depth = max(LEAST_DEPTH_PX, depth_mm * pose.px_per_mm())
    way = aside / max(1e-9, float(np.hypot(*aside)))
    strip = strip_along(photo, pose, shown, ends + aside + 0.5 * depth * way, 0.5 * depth)
    return strip is not None and _share(strip, -0.5 * depth, 0.5 * depth).sheet
