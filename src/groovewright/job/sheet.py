"""The sheet that a job needs on the platter."""

from __future__ import annotations

import math

from groovewright.geometry import CRITERION_NAMES
from groovewright.job.aim import aim_words, aimed_alignment
from groovewright.job.state import JobState
from groovewright.mechanics.mounts import FIXED_HEADSHELLS
from groovewright.sheets import A4, Drawing, Paper, PrintCorrection, SheetLabel, two_point_sheet


def job_sheet(
    state: JobState, paper: Paper = A4, correction: PrintCorrection | None = None
) -> Drawing | None:
    """Return the two-point sheet for the job's arm and aim; None where there is nothing to square over one.

    Raises
    ------
    CannotBeDoneError
        The grids don't fit on the paper.
    """
    arm, aim = state.arm, state.aim
    if arm is None or arm.headshell in FIXED_HEADSHELLS:
        return None
    aimed = aimed_alignment(arm, aim)
    if aimed is None or not math.isfinite(aimed.null_outer_mm):
        return None
    criterion = aim_words(aim)
    label = SheetLabel(
        arm=arm.name or f"arm of {aimed.pivot_to_spindle_mm:g} mm pivot to spindle",
        criterion=CRITERION_NAMES.get(criterion, criterion),
        grooves=f"grooves {aim.grooves.inner_mm:g} to {aim.grooves.outer_mm:g} mm",
        for_whom=state.job.owner,
    )
    return two_point_sheet(alignment=aimed, label=label, paper=paper, correction=correction)
