"""The alignment that a job aims at, by kind of arm."""

from __future__ import annotations

from groovewright.geometry import Alignment, align, alignment_for_mounting, alignment_for_nulls
from groovewright.geometry.constrained import best_length_for_offset, cost_for
from groovewright.job.records import Aim, Arm
from groovewright.quantities import InputError

FIXED_HEADSHELLS = ("fixed-holes", "plug-in", "moulded-in")
"""Where nothing slides: the arm's own geometry is the only one that can be had."""


def aimed_alignment(arm: Arm, aim: Aim) -> Alignment | None:
    """Return what is aimed at; None where the arm has no such thing or its distance is not known.

    An arm that holds the cartridge fast gets what its mounting allows; a straight underhung one the best
    length for its offset angle (0 where none is given).

    Raises
    ------
    InputError
        Only one null is given, or what is given can't be reached.
    """
    distance = arm.pivot_to_spindle_mm
    if arm.kind == "parallel" or distance is None:
        return None
    if arm.headshell in FIXED_HEADSHELLS:
        if arm.effective_length_mm is None or arm.offset_angle_deg is None:
            return None
        return alignment_for_mounting(distance, arm.effective_length_mm, arm.offset_angle_deg)
    if arm.kind == "straight-underhung":
        offset = arm.offset_angle_deg or 0.0
        length = best_length_for_offset(distance, offset, aim.grooves, cost_for(aim.criterion))
        return alignment_for_mounting(distance, float(length), offset)
    if aim.null_inner_mm is not None and aim.null_outer_mm is not None:
        return alignment_for_nulls(distance, aim.null_inner_mm, aim.null_outer_mm)
    if aim.null_inner_mm is not None or aim.null_outer_mm is not None:
        raise InputError("[aim] gives one null; give both null_inner_mm and null_outer_mm, or neither")
    return align(aim.criterion, distance, aim.grooves)


def aim_words(aim: Aim) -> str:
    """Return where the nulls come from: a name of `CRITERIA`, or 'given nulls'."""
    return aim.criterion if aim.null_inner_mm is None else "given nulls"
