"""Does it fit: body height against the arm's height travel, screws, the half-inch holes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from groovewright.mechanics.verdict import Verdict
from groovewright.quantities import MM_PER_INCH, CannotBeDoneError, FloatArray, Limits, OtherUnit

HOLE_SPACING_MM = MM_PER_INCH / 2.0
"""Mounting holes 12.7 mm apart (common practice)."""

STYLUS_AHEAD_OF_HOLES_MM = 9.5
"""Stylus in front of the line through the holes: about 9.5 mm, from 6 to 11 (common practice)."""

SCREW_LENGTHS_MM = (4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 18.0, 20.0)
"""M2.5 screws as sold (common practice)."""

THREAD_PITCH_MM = 0.45
"""M2.5, coarse series (ISO 262)."""

THREAD_BEYOND_NUT_MM = THREAD_PITCH_MM
"""A screw should show about one turn beyond its nut (common practice)."""

THICKNESS = Limits("thickness", 0.2, 15.0, "mm", (OtherUnit("inches", MM_PER_INCH),))


@dataclass(frozen=True)
class Screw:
    """The screw to take: its length, what it needs at least, and what stands out beyond the nut or thread."""

    length_mm: float
    needed_mm: float
    beyond_mm: float


def screw_for_nut(
    *, headshell_mm: float, lug_mm: float, nut_mm: float = 2.0, washers_mm: float = 0.0
) -> Screw:
    """Return the shortest standard screw through headshell, lug and nut.

    Under-head length = headshell + washers + lug + nut + one turn. An M2.5 nut is 2.0 mm high (ISO 4032).

    Raises
    ------
    CannotBeDoneError
        No standard length reaches.
    """
    grip = THICKNESS.check(headshell_mm, "headshell") + THICKNESS.check(lug_mm, "cartridge lug") + washers_mm
    return _shortest(grip + THICKNESS.check(nut_mm, "nut"), THREAD_BEYOND_NUT_MM)


def screw_for_tapped_body(*, headshell_mm: float, tapped_depth_mm: float, washers_mm: float = 0.0) -> Screw:
    """Return the longest standard screw that doesn't reach the bottom of a cartridge's tapped holes.

    At least 4 turns should hold (common practice); a screw that touches the bottom can break the body.

    Raises
    ------
    CannotBeDoneError
        No standard length both holds and stays clear of the bottom.
    """
    above = THICKNESS.check(headshell_mm, "headshell") + washers_mm
    depth = THICKNESS.check(tapped_depth_mm, "tapped depth")
    needed = above + 4.0 * THREAD_PITCH_MM
    fitting = [length for length in SCREW_LENGTHS_MM if needed <= length <= above + depth - 0.3]
    if not fitting:
        raise CannotBeDoneError(
            f"no standard screw holds: it needs {needed:.1f} mm at least and {above + depth - 0.3:.1f} "
            f"mm at most; "
            f"a washer under the head moves both"
        )
    return Screw(fitting[-1], needed, above + depth - fitting[-1])


def _shortest(through_mm: float, beyond_mm: float) -> Screw:
    needed = through_mm + beyond_mm
    for length in SCREW_LENGTHS_MM:
        if length >= needed - 1e-9:
            return Screw(length, needed, length - through_mm)
    raise CannotBeDoneError(
        f"the screw would have to be {needed:.1f} mm long and {SCREW_LENGTHS_MM[-1]:g} mm is the "
        f"longest usual one; "
        "a thinner headshell or a tapped body would help"
    )


def arm_height_needed_mm(
    *,
    old_body_height_mm: ArrayLike,
    new_body_height_mm: ArrayLike,
    old_spacer_mm: ArrayLike = 0.0,
    new_spacer_mm: ArrayLike = 0.0,
) -> FloatArray:
    """Return how far the arm's pivot has to rise for the same attitude with the new body. [shape=(...)]

    Body heights from mounting face to stylus tip in play; the difference, spacers included. Positive: raise.
    """
    old, new, old_spacer, new_spacer = (
        np.asarray(x, dtype=float)
        for x in (old_body_height_mm, new_body_height_mm, old_spacer_mm, new_spacer_mm)
    )
    return np.asarray((new + new_spacer) - (old + old_spacer))


def judge_height(needed_mm: float, *, down_mm: float, up_mm: float) -> Verdict:
    """Return whether the arm's height travel (mm left down and up from where it stands) allows the change."""
    if -down_mm <= needed_mm <= up_mm:
        way = "up" if needed_mm >= 0.0 else "down"
        left = (up_mm - needed_mm) if needed_mm >= 0.0 else (down_mm + needed_mm)
        return Verdict(
            "fits", f"The body fits: the arm goes {abs(needed_mm):.1f} mm {way}, {left:.1f} mm are left."
        )
    if needed_mm > up_mm:
        short = needed_mm - up_mm
        return Verdict(
            "does-not-fit",
            f"The body is too tall: the arm would have to rise {needed_mm:.1f} mm and has {up_mm:g} mm; "
            f"a thicker mat "
            f"can't help, a plate of {short:.1f} mm under the arm's base can.",
        )
    short = -needed_mm - down_mm
    return Verdict(
        "does-not-fit",
        f"The body is too low: the arm would have to sink {-needed_mm:.1f} mm and has {down_mm:g} mm; a "
        f"spacer of "
        f"{short:.1f} mm between headshell and cartridge would do.",
    )


def old_setup_worth_recording(reversible: bool, mounted: bool) -> Verdict:
    """Return whether the set-up as found should be measured before it is taken apart: yes, if there is one.

    It is the way back, and the only evidence of what the owner was used to. Overhang, force, arm height,
    counterweight position and lead order take five minutes now and can't be had later.
    """
    if not mounted:
        return Verdict("fits", "There is nothing mounted: no old set-up to record.")
    if reversible:
        return Verdict("fits", "Record the old set-up before the first screw: it is the way back.")
    return Verdict(
        "fits",
        "Record the old set-up before the first screw: it can't be restored, so the record is all that "
        "stays.",
    )
