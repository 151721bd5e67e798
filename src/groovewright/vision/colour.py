"""The colour of light in which what stands over a null differs most from the paper.

A yellow, red or wooden body may be as bright as the paper in gray and dark in one of its colours; the sheet's print is
black and shows in all of them alike.
"""

from __future__ import annotations

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.camera import CameraPose, project
from groovewright.vision.front_line import AHEAD_MM, LEVEL_MM
from groovewright.vision.load import Photo, in_colours
from groovewright.vision.marks import linear, sample

ACROSS_MM, PAPER_MM, TICK_MM = 8.0, ((-12.0, 12.0), (12.0, 27.0)), 0.5
COLOURED, COLOURED_SHARE = 0.15, 0.04
"""What differs so much between two colours, as a share of the paper's light, is coloured; where less than this share of
what is over the null is coloured, none is chosen."""
PAPER_QUANTILE = 0.8


def telling_colour(photo: Photo, pose: CameraPose) -> Photo | None:
    """Return a photograph in the colour in which what is coloured over the null is darkest; None where nothing is."""
    colours = in_colours(photo)
    if colours is None:
        return None
    body = _pixels(pose, (-ACROSS_MM, ACROSS_MM), AHEAD_MM, LEVEL_MM)
    paper = _pixels(pose, *PAPER_MM, 0.0)
    light = np.array(
        [
            linear(sample(part.gray, body))
            / max(1.0, float(np.quantile(linear(sample(part.gray, paper)), PAPER_QUANTILE)))
            for part in colours
        ]
    )
    coloured = np.ptp(light, axis=0) > COLOURED
    if coloured.mean() < COLOURED_SHARE:
        return None
    return colours[int(np.argmin(light[:, coloured].mean(axis=1)))]


def _pixels(
    pose: CameraPose, across_mm: tuple[float, float], ahead_mm: tuple[float, float], height_mm: float
) -> FloatArray:
    x, y = (
        part.ravel() for part in np.meshgrid(*(np.arange(*span, TICK_MM) for span in (across_mm, ahead_mm)))
    )
    return np.asarray(project(pose.values, np.column_stack([x, y, np.full(len(x), -height_mm)])))
