"""Whether the foremost edge in a photograph from above is the body's or the headshell's own.

Where the body stands out before the headshell, the headshell's front shows behind it as a second level edge across
most of it. Where none shows, either the body ends behind the headshell, or both are alike to the eye; then
only the body's sides can tell, which are at right angles to its front, while a headshell tapers.
"""

from __future__ import annotations

import math

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.box import BoxEdge
from groovewright.vision.camera import CameraPose, on_plane
from groovewright.vision.front_line import LEVEL_MM
from groovewright.vision.grid_print import GridPrint
from groovewright.vision.load import Photo
from groovewright.vision.marks import linear
from groovewright.vision.strip import TICK_PX, strip_along

BEHIND_MM, INNER_SHARE = (0.8, 8.0), 0.76
"""Where the headshell's front may show behind the body's, and over which middle share of that."""
TURNS_DEG = np.arange(-4.0, 4.1, 1.0)
"""How far it may be turned against the body."""
BAND_MM, FEWEST_TICKS, EDGE_BLURS = 0.5, 2, 2.5
"""The light is averaged over bands of this width on both sides of it, which keep so many standard deviations of the
blur off the front's own edge."""
BLOCKS, LEAST_STEP, UNEVEN, CLEAR = 8, 0.012, 0.002, 5.0
"""It shows where the mean step over so many parts of its length is at least this share of the paper's light, and so
many times its standard deviation, to which this share of the paper's light is added. Set on 61 rendered photographs:
with the body before the headshell the ratio was 9 to 156 (0 on three where both have the same shade), with the
headshell before the body 0 to 2 (58 on one where the body's foot stood out)."""
SQUARE_DEG, CLEAN_DEG = 1.0, 0.6
"""A side that is known better than the second agrees with the front where it is at right angles within the first."""


def headshell_behind(
    photo: Photo, pose: CameraPose, shown: GridPrint, run: FloatArray, ahead: FloatArray
) -> bool:
    """Return whether a second level edge shows behind a front's edge.

    `run` are the ends of the front's edge in the picture, `ahead` a pixel before it. [shapes (2, 2), (2,)]
    """
    way = (run[1] - run[0]) / max(1e-9, float(np.hypot(*(run[1] - run[0]))))
    normal = np.array([-way[1], way[0]])
    back = -math.copysign(1.0, float((ahead - run[0]) @ normal))
    per_mm = pose.px_per_mm()
    inside = 0.5 * (1.0 - INNER_SHARE) * (run[1] - run[0])
    band = max(FEWEST_TICKS, round(BAND_MM * per_mm / TICK_PX))
    # the front's own edge is blurred, and neither band may touch it
    first = max(BEHIND_MM[0] * per_mm, EDGE_BLURS * shown.blur_px + band * TICK_PX)
    last = BEHIND_MM[1] * per_mm
    middle = np.array([run[0] + inside, run[1] - inside]) + back * normal * 0.5 * (first + last)
    reach = 0.5 * (last - first)
    strip = strip_along(photo, pose, shown, middle, reach)
    if strip is None or len(strip.stations) < 2 * BLOCKS:
        return False
    paper = float(linear(np.asarray(np.quantile(photo.gray[::16, ::16], 0.9))))
    within = np.abs(strip.across[band : len(strip.across) - band + 1]) < reach
    for turn in np.tan(np.radians(TURNS_DEG)):
        steps = _steps(strip.light, turn * (strip.stations - strip.stations.mean()) / TICK_PX, band)[
            :, within
        ]
        mean = np.abs(steps.mean(axis=0))
        doubt = steps.std(axis=0) / math.sqrt(BLOCKS) + UNEVEN * paper
        if ((mean > LEAST_STEP * paper) & (mean > CLEAR * doubt)).any():
            return True
    return False


def _steps(light: FloatArray, off: FloatArray, band: int) -> FloatArray:
    """Return the change of light across a strip, from band to band, in blocks along it, each row moved by its offset.

    [shapes (n, m), (n,) to (BLOCKS, m - 2 band + 1)]
    """
    ticks: FloatArray = np.arange(light.shape[1], dtype=float)
    moved = np.array([np.interp(ticks + by, ticks, row) for by, row in zip(off, light, strict=True)])
    parts = np.array([part.mean(axis=0) for part in np.array_split(moved, BLOCKS)])
    total = np.cumsum(np.pad(parts, ((0, 0), (1, 0))), axis=1)
    bands = (total[:, band:] - total[:, :-band]) / band
    return np.asarray(bands[:, band:] - bands[:, :-band])


def square_sides(pose: CameraPose, run: FloatArray, sides: list[BoxEdge]) -> bool:
    """Return whether a side that is well known is at right angles to a front's edge, and none isn't. [shape=(2, 2)]"""
    front = np.diff(on_plane(pose.values, run, LEVEL_MM), axis=0)[0]
    off = []
    for side in sides:
        if math.degrees(side.edge.turn_sd) < CLEAN_DEG:
            way = np.diff(on_plane(pose.values, side.edge.ends(), LEVEL_MM), axis=0)[0]
            off.append(
                math.degrees(abs(math.asin(float(front @ way) / float(np.hypot(*front) * np.hypot(*way)))))
            )
    return bool(off) and max(off) < SQUARE_DEG
