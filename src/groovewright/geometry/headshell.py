"""A cartridge in its headshell: a rigid body that slides along the slots and turns.

Plan view, with the first axis from the pivot towards the stylus of the alignment that is aimed at, and the
second one towards the spindle's side, so that clockwise angles are positive::

    pivot ------------------------- S  stylus aimed at, at (L, 0)
                              .   '
                           H            H  middle of the two holes, `holes_to_stylus` behind the stylus
                                the body points along the offset angle, the slots along that + slot angle

`slide` moves H along the slots, positive towards the front; `turn` turns the body about H, positive
clockwise. Both are zero where the cartridge sits as the alignment asks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from groovewright.geometry.alignment import Alignment
from groovewright.geometry.sensitivity import yaw_slopes
from groovewright.geometry.tracking import groove_angle_deg
from groovewright.quantities import CENTIMETRES, INCHES, RADIANS, FloatArray, Limits

HOLE_SPACING_MM = 12.7
"""Half an inch (common practice)."""

HOLES_TO_STYLUS = Limits("distance from the hole line to the stylus", 2.0, 30.0, "mm", (INCHES, CENTIMETRES))
SLOT_ANGLE = Limits("slot angle", -45.0, 45.0, "deg", (RADIANS,))


@dataclass(frozen=True)
class Headshell:
    """The slots of a headshell, and where the stylus of the mounted cartridge lies.

    Parameters
    ----------
    slot_angle_deg : float
        From the nominal body axis to the slots, positive clockwise.
    holes_to_stylus_mm : float
        How far the stylus is ahead of the line through the two holes (common practice: about 9.5 mm).
    """

    slot_angle_deg: float = 0.0
    holes_to_stylus_mm: float = 9.5

    def __post_init__(self) -> None:
        SLOT_ANGLE.check(self.slot_angle_deg)
        HOLES_TO_STYLUS.check(self.holes_to_stylus_mm)


def length_and_offset(
    aim: Alignment, headshell: Headshell, slide_mm: ArrayLike, turn_deg: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return effective length in mm and offset angle in degrees of a cartridge. [each shape=(...)]"""
    along, across, _ = _stylus(aim, headshell, slide_mm, turn_deg)
    body = aim.offset_angle_deg + np.asarray(turn_deg, dtype=float)
    return np.hypot(along, across), body - np.degrees(np.arctan2(across, along))


def _stylus(
    aim: Alignment, headshell: Headshell, slide_mm: ArrayLike, turn_deg: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the stylus's two coordinates in mm, and the body's angle in radians."""
    offset = np.radians(aim.offset_angle_deg)
    slots = offset + np.radians(headshell.slot_angle_deg)
    body = offset + np.radians(np.asarray(turn_deg, dtype=float))
    slide, reach = np.asarray(slide_mm, dtype=float), headshell.holes_to_stylus_mm
    along = aim.effective_length_mm + slide * np.cos(slots) + reach * (np.cos(body) - np.cos(offset))
    across = slide * np.sin(slots) + reach * (np.sin(body) - np.sin(offset))
    return along, across, body


def yaw_and_slopes(
    aim: Alignment,
    headshell: Headshell,
    state: ArrayLike,
    radius_mm: ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """Return the yaw and its derivatives by the state. [state: shape=(..., 3); yaw (...), slopes (..., 3)]

    The state is (error of the pivot-to-spindle distance in mm, slide in mm, turn in degrees): the true
    distance is the aim's plus the first. Derivatives are in degrees per mm, mm and degree.
    """
    state = np.asarray(state, dtype=float)
    distance = aim.pivot_to_spindle_mm + state[..., 0]
    along, across, body = _stylus(aim, headshell, state[..., 1], state[..., 2])
    length = np.hypot(along, across)
    direction = np.arctan2(across, along)
    yaw = np.degrees(body - direction) - groove_angle_deg(distance, length, radius_mm)
    by = yaw_slopes(distance, length, radius_mm)
    slots = np.radians(aim.offset_angle_deg + headshell.slot_angle_deg)
    reach = headshell.holes_to_stylus_mm
    # how length and direction follow the slide, per mm, and the turn, per degree
    slide_length, slide_direction = np.cos(slots - direction), np.sin(slots - direction) / length
    turn_length = -reach * np.sin(body - direction) * np.radians(1.0)
    turn_direction = reach * np.cos(body - direction) / length
    slopes = np.stack(
        np.broadcast_arrays(
            by.per_distance_deg_per_mm,
            by.per_length_deg_per_mm * slide_length - np.degrees(slide_direction),
            1.0 - turn_direction + by.per_length_deg_per_mm * turn_length,
        ),
        axis=-1,
    )
    return yaw, slopes


def screw_moves_mm(
    headshell: Headshell, slide_mm: ArrayLike, turn_from_deg: ArrayLike, turn_deg: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return how far the outer and the inner screw move in their slots, forward positive. [each shape=(...)]

    The outer screw is the one farther from the spindle. A clockwise turn about the middle of the holes takes
    it forward and the inner one back, each by half the spacing times the change of sin(body - slots).
    """
    before = np.radians(np.asarray(turn_from_deg, dtype=float) - headshell.slot_angle_deg)
    after = before + np.radians(np.asarray(turn_deg, dtype=float))
    swing = 0.5 * HOLE_SPACING_MM * (np.sin(after) - np.sin(before))
    slide = np.asarray(slide_mm, dtype=float)
    return slide + swing, slide - swing
