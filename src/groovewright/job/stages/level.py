"""Level: anti-skating, arm height, azimuth."""

from __future__ import annotations

import math

import numpy as np

from groovewright.geometry import Alignment
from groovewright.job.aim import aimed_alignment
from groovewright.job.events import AntiskatingSet, CrosstalkRead, LeanRead, RakeRead
from groovewright.job.heard import CrosstalkHeard, Listened
from groovewright.job.stage import Part, StageReport, all_rows, all_values
from groovewright.job.stages.weigh import measured_force
from groovewright.job.state import JobState
from groovewright.mechanics.azimuth import (
    CROSSTALK_SD_DB,
    AzimuthEstimate,
    azimuth_from_complex,
    azimuth_from_magnitudes,
)
from groovewright.mechanics.height import advise_height
from groovewright.mechanics.lean import CROSSTALK_DB, polar, shim_for_lean_mm
from groovewright.mechanics.lean_verdicts import judge_azimuth, judge_lean
from groovewright.mechanics.mounts import MOUNTS
from groovewright.mechanics.skating import (
    FRICTION_BY_PROFILE,
    FRICTION_RANGE,
    antiskating_least_squares_mN,
    largest_rest_mN,
    skating_force_mN,
)
from groovewright.quantities import MN_PER_GF, CannotBeDoneError, GrooveRange, Reading, Why, mean_of

CAUTIONS = (
    "Stylus guard on while height or azimuth are changed; check the tracking force again after either.",
    "Test tones at low volume first: they can harm hearing and loudspeakers.",
)

ELECTRICAL_HEARD_DB = (-80.0, -25.0)
"""Electrical crosstalk that a recording allows for, every level equally likely: with its phases known, less than is
usual is not ruled out beforehand (our own choice)."""


def level(state: JobState) -> StageReport:
    """Return what to set next: anti-skating first, then height, then azimuth."""
    aimed = aimed_alignment(state.arm, state.aim) if state.arm is not None else None
    if aimed is None:
        return StageReport("level", "waiting", "Waits for the arm's geometry (see intake).")
    mount = MOUNTS[state.arm.headshell] if state.arm is not None else MOUNTS["slotted"]
    held = (Part("", True, (("height, azimuth", mount.reasons["level"]),)),) if not mount.can_lean else ()
    parts = (_antiskating(state, aimed), *(held or (_height(state, aimed), _azimuth(state))))
    following = next((part for part in parts if not part.settled), None)
    done = following is None
    return StageReport(
        "level",
        "done" if done else "open",
        "Anti-skating is set; height and azimuth are right as well as they were read."
        if following is None
        else following.sentence,
        all_rows(parts),
        () if done else CAUTIONS,
        whys=tuple(why for part in parts for why in part.whys),
        values=all_values(parts),
    )


def profile_of(stylus: str) -> str | None:
    """Return the friction table's profile for a stylus as a person writes it; None where none fits."""
    words = stylus.lower().replace("-", " ").split()
    return next((word for word in words if word in FRICTION_BY_PROFILE), None)


def friction_for(stylus: str) -> tuple[float, float]:
    """Return the friction range for a stylus as a person writes it (common practice)."""
    profile = profile_of(stylus)
    return FRICTION_RANGE if profile is None else FRICTION_BY_PROFILE[profile]


def _antiskating(state: JobState, aimed: Alignment) -> Part:
    force = known_force(state)
    if force is None:
        return Part("Set the tracking force first; anti-skating follows from it.", False)
    low, high = friction_for(state.cartridge_in.stylus if state.cartridge_in else "")
    friction = Reading((low + high) / 2.0, (high - low) / math.sqrt(12.0))
    grooves = state.aim.grooves
    arm = {
        "pivot_to_spindle_mm": aimed.pivot_to_spindle_mm,
        "effective_length_mm": aimed.effective_length_mm,
    }
    wanted = float(
        antiskating_least_squares_mN(force_mN=force.value, friction=friction.value, grooves=grooves, **arm)
    )
    sd = wanted * math.hypot(friction.sd / friction.value, force.sd / force.value)
    rest = float(
        largest_rest_mN(
            antiskating_mN=wanted, force_mN=force.value, friction=friction.value, grooves=grooves, **arm
        )
    )
    rows: tuple[tuple[str, str], ...] = (
        ("anti-skating", f"{wanted:.2f} mN +- {sd:.2f} ({wanted / MN_PER_GF:.3f} gf at the stylus)"),
        ("left over at most", f"{rest:.2f} mN over the grooves, were the friction known"),
    )
    values = {
        "antiskating_mN": wanted,
        "antiskating_sd_mN": sd,
        "antiskating_rest_mN": rest,
        "skating_mN": _over_radius(force.value, friction.value, arm, grooves),
    }
    why = Why(
        "antiskating_mN",
        "mean over the radius of mu F (r^2 + L^2 - d^2) / (2 r L)",
        "statics, derived in docs/mechanics.md; friction range is common practice",
        {
            "mu": f"{low:g} to {high:g}",
            "F": f"{force.value:.2f} mN",
            "L": f"{aimed.effective_length_mm:.2f} mm",
        },
    )
    chosen = [event for event in state.levelling if isinstance(event, AntiskatingSet)]
    if chosen:
        rows = (*rows, ("set to", chosen[-1].setting))
        return Part("", True, rows, (why,), {**values, "antiskating_setting": chosen[-1].setting})
    sentence = (
        f"Set the anti-skating to about {wanted:.1f} mN at the stylus ({wanted / MN_PER_GF:.2f} gf; on a dial marked "
        f"in tracking force, start at {force.value / MN_PER_GF:.1f}), and write down the setting."
    )
    return Part(sentence, False, rows, (why,), values)


def known_force(state: JobState) -> Reading | None:
    """Return the force in mN: as weighed, else the middle of the maker's range with its spread."""
    if state.weighings:
        return measured_force(state)
    cartridge = state.cartridge_in
    if cartridge is None or cartridge.force_min_gf is None or cartridge.force_max_gf is None:
        return None
    middle = 0.5 * (cartridge.force_min_gf + cartridge.force_max_gf)
    spread = (cartridge.force_max_gf - cartridge.force_min_gf) / math.sqrt(12.0)
    return Reading(middle * MN_PER_GF, spread * MN_PER_GF)


def _over_radius(
    force_mN: float, friction: float, arm: dict[str, float], grooves: GrooveRange
) -> list[tuple[float, float]]:
    radii = np.linspace(grooves.inner_mm, grooves.outer_mm, 18)
    forces = skating_force_mN(force_mN=force_mN, friction=friction, radius_mm=radii, **arm)
    return [(float(radius), float(side)) for radius, side in zip(radii, forces, strict=True)]


def _height(state: JobState, aimed: Alignment) -> Part:
    read = [event for event in state.levelling if isinstance(event, RakeRead)]
    if not read:
        sentence = (
            "Set the arm level over a record of usual thickness; for more, read the stylus rake angle from the side "
            "and write it down."
        )
        return Part(
            sentence, True, (("arm height", f"not measured. {sentence}"),), (), {"height_change_mm": None}
        )
    last = read[-1]
    advice = advise_height(
        effective_length_mm=aimed.effective_length_mm,
        rake_deg=last.rake_deg,
        rake_sd_deg=last.sd_deg,
        vertical_tracking_deg=last.vertical_tracking_deg,
    )
    rows = (("rake", f"{last.rake_deg:+.1f} deg +- {last.sd_deg:.1f}; {advice.verdict.sentence}"),)
    values = {
        "height_change_mm": advice.height_change_mm,
        "rake_deg": last.rake_deg,
        "rake_sd_deg": last.sd_deg,
    }
    why = Why(
        "height_change_mm",
        "L sin(change of angle)",
        "trigonometry; rake 0 to -5 deg by IEC 60098:2020, 6.1",
        {"L": f"{aimed.effective_length_mm:.1f} mm", "rake": f"{last.rake_deg:g} deg"},
    )
    return Part(advice.verdict.sentence, advice.verdict.code == "right", rows, (why,), values)


def _azimuth(state: JobState) -> Part:
    mono = state.cartridge_in is not None and state.cartridge_in.mono
    found = None if mono else _lean(state)
    seen = _lean_seen(state)
    if found is None and seen is not None:
        return _azimuth_seen(seen)
    if found is None:
        sentence = judge_azimuth(None, mono=mono).sentence
        return Part(
            sentence, True, (("azimuth", sentence),), (), {"azimuth_deg": None, "azimuth_sd_deg": None}
        )
    estimate, crosstalk, inputs = found
    verdict = judge_azimuth(estimate)
    shim = abs(float(shim_for_lean_mm(estimate.best_deg)))
    rows = (
        ("crosstalk", crosstalk),
        ("lean", f"{estimate.best_deg:.2f} deg +- {estimate.sd_deg:.2f}, side "
         f"{'known' if estimate.side_known else 'not certain beside electrical crosstalk'}"),
        ("shim", f"{shim:.2f} mm under one screw would take it out"),
        *(() if seen is None else (_seen_row(seen),)),
    )  # fmt: skip
    values = {
        "azimuth_deg": estimate.best_deg,
        "azimuth_sd_deg": estimate.sd_deg,
        "azimuth_side_known": estimate.side_known,
        "azimuth_verdict": verdict.code,
    }
    why = Why(
        "azimuth_deg",
        "tan(lean) from the crosstalk of both channels, electrical crosstalk integrated out",
        "derived in docs/mechanics.md; channels by IEC 60098:2020, 6.2",
        inputs,
    )
    return Part(verdict.sentence, verdict.code == "upright", rows, (why,), values)


def _lean_seen(state: JobState) -> Reading | None:
    """Return the body's lean from its reflections; None where it was not looked at."""
    read = [Reading(event.lean_deg, event.sd_deg) for event in state.levelling if isinstance(event, LeanRead)]
    return mean_of(read) if read else None


def _seen_row(seen: Reading) -> tuple[str, str]:
    return ("lean of the body", f"{seen.value:+.2f} deg +- {seen.sd:.2f}, from its reflection")


def _azimuth_seen(seen: Reading) -> Part:
    verdict = judge_lean(seen)
    values = {
        "azimuth_deg": seen.value,
        "azimuth_sd_deg": seen.sd,
        "azimuth_side_known": True,
        "azimuth_verdict": verdict.code,
    }
    why = Why(
        "azimuth_deg",
        "half the angle between the body's edge and its reflection",
        "common practice; a level mirror turns a lean into its opposite",
        {"lean": f"{seen.value:+.2f} deg +- {seen.sd:.2f}"},
    )
    return Part(verdict.sentence, verdict.code == "upright", (_seen_row(seen),), (why,), values)


def _lean(state: JobState) -> tuple[AzimuthEstimate, str, dict[str, str]] | None:
    """Return the lean, the crosstalk as a row says it, and as a why does: the newest recording with its phases,
    or the levels that were read since.
    """
    heard: tuple[str, CrosstalkHeard] | None = None
    read: list[CrosstalkRead] = []
    for event in state.levelling:
        if isinstance(event, Listened) and (point := _usable(event)) is not None:
            heard, read = (event.file, point), []
        elif isinstance(event, CrosstalkRead):
            read.append(event)
    if read:
        left = mean_of([Reading(event.left_to_right_db, event.sd_db) for event in read])
        right = mean_of([Reading(event.right_to_left_db, event.sd_db) for event in read])
        estimate = azimuth_from_magnitudes(
            left_to_right_db=left.value, right_to_left_db=right.value, sd_db=max(left.sd, right.sd)
        )
        row = f"L into R {left.value:.1f} dB, R into L {right.value:.1f} dB, +- {left.sd:.1f}"
        return estimate, row, {"L into R": f"{left.value:.1f} dB", "R into L": f"{right.value:.1f} dB"}
    return None if heard is None else _lean_heard(*heard)


def _usable(event: Listened) -> CrosstalkHeard | None:
    """Return the crosstalk nearest to 1 kHz that a lean can be told from."""
    points = [
        point
        for point in event.crosstalk
        if all(CROSSTALK_DB.low <= level <= CROSSTALK_DB.high for level in (point.l_to_r_db, point.r_to_l_db))
    ]
    return min(points, key=lambda point: abs(math.log(point.frequency_hz / 1000.0)), default=None)


def _lean_heard(file: str, point: CrosstalkHeard) -> tuple[AzimuthEstimate, str, dict[str, str]] | None:
    sd = max(
        point.l_to_r_db_sd,
        point.r_to_l_db_sd,
        *(
            math.radians(phase) * 20.0 / math.log(10.0)
            for phase in (point.l_to_r_deg_sd, point.r_to_l_deg_sd)
        ),
    )
    try:
        estimate = azimuth_from_complex(
            left_to_right=polar(point.l_to_r_db, point.l_to_r_deg),
            right_to_left=polar(point.r_to_l_db, point.r_to_l_deg),
            sd_db=min(max(sd, CROSSTALK_SD_DB.low), CROSSTALK_SD_DB.high),
            electrical_db=ELECTRICAL_HEARD_DB,
            # each direction is referred to its own channel: the coils' ratio is out already
            balance_db=Reading(0.0, min(point.balance_db_sd, 0.5)),
        )
    except CannotBeDoneError:  # no lean and no usual wiring gives such crosstalk
        return None
    said = {
        "L into R": f"{point.l_to_r_db:.1f} dB at {point.l_to_r_deg:.0f} deg",
        "R into L": f"{point.r_to_l_db:.1f} dB at {point.r_to_l_deg:.0f} deg",
    }
    row = ", ".join(f"{way} {level}" for way, level in said.items())
    return estimate, f"{row}, by the recording {file}", said | {"frequency": f"{point.frequency_hz:g} Hz"}
