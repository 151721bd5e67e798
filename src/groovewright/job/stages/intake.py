"""Intake: what is known of player, arm and cartridges, and what is still to be measured."""

from __future__ import annotations

from groovewright.job.events import SpeedCounted
from groovewright.job.stage import Part, StageReport
from groovewright.job.state import JobState
from groovewright.mechanics.player import Tilt, judge_speed, judge_tilt, speed_from_count_percent
from groovewright.quantities import SPEEDS_RPM, Reading

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
    player = _player(state)
    known = (*((name, value) for name, value in rows if value), *player.rows)
    sentence = missing or "All that the next stages need is known."
    return StageReport(
        "intake",
        "open" if missing else "done",
        sentence,
        known,
        CAUTIONS,
        (player.sentence,) if player.sentence else (),
        values=player.values,
    )


def _player(state: JobState) -> Part:
    """Return what the last count of bars and the last level reading say about the player itself."""
    rows: list[tuple[str, str]] = []
    faults: list[str] = []
    values: dict[str, float] = {}
    for event in state.player:
        if isinstance(event, SpeedCounted):
            error = speed_from_count_percent(
                nominal_rpm=SPEEDS_RPM[event.speed],
                flashes_per_second=event.flash_hz,
                bars_passed=event.bars,
                seconds=event.seconds,
                drift=event.drift,
            )
            verdict = judge_speed(error)
            rows.append((f"speed {event.speed}", verdict.sentence))
            values |= {"speed_error_percent": error.value, "speed_error_sd_percent": error.sd}
        else:
            tilt = Tilt(Reading(event.right_deg, event.sd_deg), Reading(event.front_deg, event.sd_deg))
            verdict = judge_tilt(tilt)
            rows.append(("platter", verdict.sentence))
            values |= {"tilt_deg": tilt.size_deg, "tilt_sd_deg": event.sd_deg}
        if verdict.code in ("too-slow", "too-fast", "tilted"):
            faults.append(verdict.sentence)
    return Part(" ".join(faults), not faults, tuple(rows), (), values)


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
