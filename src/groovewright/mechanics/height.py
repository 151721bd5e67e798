"""How high: arm height, rake angle, record thickness, gauge shims.

Side view; the record runs under the stylus from the back of the headshell to its front. Raising the arm at
its pivot tips the front of the cartridge down: the vertical tracking angle grows and the tip of the stylus
swings to the rear by the same angle. Rake is given as IEC 60098:2020, 6.1 gives it, 0 to -5 degrees, here
read so that **raising the arm makes the rake more negative**, and -2 degrees is the 92 degrees of the trade
(that reading of the sign is common practice, not quoted from the standard).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from groovewright.mechanics.verdict import Verdict
from groovewright.quantities import RADIANS, FloatArray, InputError, Limits, OtherUnit

RAKE_RANGE_DEG = (-5.0, 0.0)
"""Playback rake angle (IEC 60098:2020, 6.1)."""

VERTICAL_TRACKING_RANGE_DEG = (20.0, 25.0)
"""Vertical tracking angle, 20 degrees +5/-0 (IEC 60098:2020, 6.1)."""


RAKE = Limits(
    "rake angle",
    -20.0,
    20.0,
    "deg",
    (RADIANS,),
)
TRACKING_ANGLE = Limits("vertical tracking angle", 5.0, 45.0, "deg", (RADIANS,))
RAKE_SD = Limits("standard uncertainty of the rake angle", 0.0, 10.0, "deg")
RECORD_THICKNESS = Limits("record thickness", 0.5, 5.0, "mm", (OtherUnit("inches", 25.4),))


def height_for_angle_mm(
    angle_change_deg: ArrayLike, effective_length_mm: ArrayLike, start_deg: ArrayLike = 0.0
) -> FloatArray:
    """Return the change of arm height at the pivot for a change of the arm's slope. [shape=(...), broadcast]

    L (sin(start + change) - sin(start)): the stylus stays on the record, the pivot moves on an arc about it.
    Positive raises the pivot, and with it the vertical tracking angle.
    """
    change, length, start = (
        np.radians(np.asarray(angle_change_deg, dtype=float)),
        np.asarray(effective_length_mm, dtype=float),
        np.radians(np.asarray(start_deg, dtype=float)),
    )
    return np.asarray(length * (np.sin(start + change) - np.sin(start)))


def angle_for_height_deg(height_change_mm: ArrayLike, effective_length_mm: ArrayLike) -> FloatArray:
    """Return the change of slope for a change of height from level: asin(h / L). [shape=(...), broadcast]"""
    height, length = (np.asarray(x, dtype=float) for x in (height_change_mm, effective_length_mm))
    return np.asarray(np.degrees(np.arcsin(height / length)))


def height_for_rake_mm(
    rake_now_deg: ArrayLike, rake_wanted_deg: ArrayLike, effective_length_mm: ArrayLike
) -> FloatArray:
    """Return the change of arm height for a wanted rake; positive raises it. [shape=(...), broadcast]"""
    now, wanted = (np.asarray(x, dtype=float) for x in (rake_now_deg, rake_wanted_deg))
    return height_for_angle_mm(now - wanted, effective_length_mm)


def rake_change_for_thickness_deg(
    thickness_change_mm: ArrayLike, effective_length_mm: ArrayLike
) -> FloatArray:
    """Return how the rake changes on a record thicker by this much. [shape=(...), broadcast]

    A thicker record lifts the stylus as lowering the pivot would: the rake grows (less negative).
    """
    return angle_for_height_deg(thickness_change_mm, effective_length_mm)


def shim_height_error_mm(gauge_pan_above_mat_mm: ArrayLike, record_thickness_mm: ArrayLike) -> FloatArray:
    """Return how far a gauge's pan stands above where the record would be; positive too high. [shape=(...)]

    What to take away under the gauge, or (negative) the shim to put under it.
    """
    pan, record = (np.asarray(x, dtype=float) for x in (gauge_pan_above_mat_mm, record_thickness_mm))
    return np.asarray(pan - record)


def trade_rake_deg(rake_deg: ArrayLike) -> FloatArray:
    """Return the stylus rake angle as the trade counts it, 90 degrees upright: 90 - rake. [shape=(...)]"""
    return np.asarray(90.0 - np.asarray(rake_deg, dtype=float))


@dataclass(frozen=True)
class HeightAdvice:
    """The change of height to make (positive up), None where nothing is known, and the verdict."""

    height_change_mm: float | None
    rake_after_deg: float | None
    verdict: Verdict


def advise_height(
    *,
    effective_length_mm: float,
    rake_deg: float | None,
    rake_sd_deg: float = 0.5,
    vertical_tracking_deg: float | None = None,
) -> HeightAdvice:
    """Return what to do about arm height, for rake (and vertical tracking angle where known) as measured.

    Both angles turn together. The rake aims at the middle of its range, held back where the vertical
    tracking angle would leave its own. Within one standard uncertainty of the aim the advice is to stop.
    """
    if rake_deg is None:
        return HeightAdvice(
            None,
            None,
            Verdict("unknown", "The arm's height is unknown, needs a rake angle from a side-view photo."),
        )
    if 80.0 <= rake_deg <= 110.0:
        raise InputError(
            f"rake angle is {rake_deg:g} deg; allowed is -20 to 20 deg. Is it the trade's, 90 upright? "
            f"That would be {90.0 - rake_deg:g} deg"
        )
    RAKE.check(rake_deg)
    RAKE_SD.check(rake_sd_deg)
    turn = rake_deg - sum(RAKE_RANGE_DEG) / 2.0
    note = ""
    if vertical_tracking_deg is not None:
        TRACKING_ANGLE.check(vertical_tracking_deg)
        turn, note = _held_by_tracking_angle(turn, rake_deg, vertical_tracking_deg)
    after = rake_deg - turn
    change = float(height_for_angle_mm(turn, effective_length_mm))
    if abs(turn) <= rake_sd_deg:
        sentence = (
            f"The arm's height can stay: a rake of {rake_deg:g} deg is right as well as it can be read.{note}"
        )
        return HeightAdvice(0.0, rake_deg, Verdict("right", sentence))
    way = "Raise" if change > 0.0 else "Lower"
    sentence = f"{way} the arm by {abs(change):.1f} mm at its pivot, for a rake of {after:.1f} deg.{note}"
    return HeightAdvice(change, after, Verdict("adjust", sentence))


def _held_by_tracking_angle(turn: float, rake: float, tracking: float) -> tuple[float, str]:
    lowest = max(VERTICAL_TRACKING_RANGE_DEG[0] - tracking, rake - RAKE_RANGE_DEG[1])
    highest = min(VERTICAL_TRACKING_RANGE_DEG[1] - tracking, rake - RAKE_RANGE_DEG[0])
    if lowest > highest:
        return turn, (
            " Rake and vertical tracking angle can't both be within IEC 60098:2020, 6.1 with this cartridge; "
            "the rake is followed."
        )
    return float(np.clip(turn, lowest, highest)), ""
