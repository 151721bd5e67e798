"""The player from above as a job has it, whatever its arm is: two nulls, one, or a line of travel."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from groovewright.geometry.headshell import Headshell
from groovewright.job import JobState
from groovewright.job.aim import aimed_alignment
from groovewright.report.parallel_view import parallel_view
from groovewright.report.plan_view import plan_view
from groovewright.sheets.drawing import Drawing


def plan_of_job(state: JobState, values: Mapping[str, Any]) -> Drawing | None:
    """Return the plan view with what is still to be moved; None where too little is known of the arm.

    `values` are those of the stage square: the slide and turn that it advises, the offset of a line of travel.

    Raises
    ------
    CannotBeDoneError
        The arm does not reach where it is to stand.
    """
    slide, turn, offset = (_number(values, key) for key in ("slide_mm", "turn_deg", "line_offset_mm"))
    if state.arm is not None and state.arm.kind == "parallel":
        return parallel_view(line_offset_mm=offset, body_yaw_deg=-turn, grooves=state.aim.grooves)
    aim = aimed_alignment(state.arm, state.aim) if state.arm else None
    if aim is None or not math.isfinite(aim.null_outer_mm):
        return None
    return plan_view(
        aim,
        radius_mm=aim.null_outer_mm,
        slide_mm=-slide,
        turn_deg=-turn,
        headshell=headshell_of(state),
        grooves=state.aim.grooves,
    )


def headshell_of(state: JobState) -> Headshell:
    """Return the headshell with the cartridge that goes in."""
    reach = state.cartridge_in.holes_to_stylus_mm if state.cartridge_in else Headshell.holes_to_stylus_mm
    return Headshell(state.arm.slot_angle_deg if state.arm else 0.0, reach)


def _number(values: Mapping[str, Any], key: str) -> float:
    value = values.get(key)
    return value if isinstance(value, float) and math.isfinite(value) else 0.0
