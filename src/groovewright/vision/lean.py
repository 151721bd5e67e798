"""Azimuth and rake from a photograph with a reflection: half the angle between a line and its mirror image.

A straight edge that leans by a in the picture's plane is mirrored, in a level mirror or record surface, into
one that leans by -a. The camera's own roll turns both alike, so

    lean = (angle of the edge - angle of its reflection) / 2

What perspective does: a camera that looks down by the angle e draws heights shorter by cos e, so the lean
reads larger by 1 / cos e; it is multiplied by cos e here. A camera that stands aside by the angle f sees
sin f of the slope in the other direction (pitch when azimuth is read, azimuth when rake is read); that is
not seen in the photograph and goes into the uncertainty. Bending by the lens is not corrected, since no
markers are in such a picture: keep the cartridge near its middle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from groovewright.quantities import CannotBeDoneError, Limits, Reading
from groovewright.vision.edge import Edge, refine_line
from groovewright.vision.load import Photo
from groovewright.vision.reading import MarkedLine

LOOKING_DOWN = Limits("angle by which the camera looks down", 0.0, 45.0, "deg")
USUAL_LOOKING_DOWN_DEG = 10.0
LOOKING_DOWN_SD_DEG = 6.0
ASIDE_SD_DEG = 4.0
"""How far aside a hand-held camera stands that is meant to stand straight before its subject."""
OTHER_SLOPE_SD_DEG = 1.0
LARGEST_LEAN_DEG = 20.0


@dataclass(frozen=True)
class LeanReading:
    """The lean of a line against the mirror's normal, in the picture: positive clockwise; with its two edges."""

    lean: Reading
    edge: Edge
    reflection: Edge


def read_lean(
    photo: Photo, line: MarkedLine, reflection: MarkedLine, looking_down_deg: float = USUAL_LOOKING_DOWN_DEG
) -> LeanReading:
    """Return the lean of an edge from it and its reflection, both marked.

    Raises
    ------
    InputError
        A line is not on an edge, or the angle is out of range.
    CannotBeDoneError
        The two lines are not an edge and its reflection.
    """
    LOOKING_DOWN.check(looking_down_deg)
    first = refine_line(photo, line.start, line.end)
    second = refine_line(photo, reflection.start, reflection.end)
    seen = 0.5 * _between(_angle_deg(first) - _angle_deg(second))
    if abs(seen) > LARGEST_LEAN_DEG:
        raise CannotBeDoneError(
            f"the two lines are {2.0 * seen:.0f} degrees apart, so they are not an edge and its reflection; mark "
            "the same edge twice, once on the cartridge and once in the mirror"
        )
    shrink = math.cos(math.radians(looking_down_deg))
    turn = 0.5 * math.degrees(math.hypot(first.turn_sd, second.turn_sd))
    tilt = abs(seen) * math.sin(math.radians(looking_down_deg)) * math.radians(LOOKING_DOWN_SD_DEG)
    aside = OTHER_SLOPE_SD_DEG * math.sin(math.radians(ASIDE_SD_DEG))
    return LeanReading(Reading(seen * shrink, math.sqrt(turn**2 + tilt**2 + aside**2)), first, second)


def rake_from_lean(reading: LeanReading, *, front_is_right: bool) -> Reading:
    """Return the stylus rake angle: 90 degrees where upright, more where the upper end leans to the front.

    That raising the arm at its pivot makes it larger is common practice. `front_is_right` says to which side
    of the picture the cartridge's front points.
    """
    sign = 1.0 if front_is_right else -1.0
    return Reading(90.0 + sign * reading.lean.value, reading.lean.sd)


def _angle_deg(edge: Edge) -> float:
    """Return the direction of an edge in the picture, clockwise from upright."""
    way = np.diff(edge.ends(), axis=0)[0]
    return math.degrees(math.atan2(float(way[0]), -float(way[1])))


def _between(angle_deg: float) -> float:
    """Return an angle between two lines, from -90 to 90."""
    return (angle_deg + 90.0) % 180.0 - 90.0
