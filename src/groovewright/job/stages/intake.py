"""Intake: what is known of player, arm and cartridges, and what is still to be measured."""

from __future__ import annotations

from groovewright.job.stage import StageReport
from groovewright.job.state import JobState

CAUTIONS = (
    "Stylus guard on before anything else.",
    "Amplifier muted or off before a lead is touched.",
)


def intake(state: JobState) -> StageReport:
    """Return what is known, or the one thing to measure next."""
    rows = [
        ("player", state.deck.name if state.deck else ""),
        ("arm", state.arm.name if state.arm else ""),
        ("coming out", state.cartridge_out.name if state.cartridge_out else ""),
        ("going in", state.cartridge_in.name if state.cartridge_in else ""),
        ("for", state.job.owner),
    ]
    missing = _missing(state)
    known = tuple((name, value) for name, value in rows if value)
    if missing:
        return StageReport("intake", "open", missing, known, CAUTIONS)
    return StageReport("intake", "done", "All that the next stages need is known.", known, CAUTIONS)


def _missing(state: JobState) -> str:
    """Return what to find out next as a sentence; empty where nothing is missing."""
    arm = state.arm
    if arm is None:
        return "Describe the arm first: its kind, and the distance from its pivot to the spindle."
    if arm.kind != "parallel" and arm.pivot_to_spindle_mm is None:
        return (
            "Measure the distance from the arm's pivot to the middle of the spindle, in mm, and note how well "
            "you could read it."
        )
    if arm.headshell == "fixed-holes" and (arm.effective_length_mm is None or arm.offset_angle_deg is None):
        return "The holes are fixed: look up the arm's effective length and offset angle, they decide all."
    return ""
