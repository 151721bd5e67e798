"""Level: anti-skating, arm height, azimuth."""

from __future__ import annotations

import math

import numpy as np

from groovewright.geometry import Alignment
from groovewright.job.aim import aimed_alignment
from groovewright.job.events import AntiskatingSet, CrosstalkRead, RakeRead
from groovewright.job.stage import Part, StageReport, all_rows, all_values
from groovewright.job.stages.weigh import measured_force
from groovewright.job.state import JobState
from groovewright.mechanics.azimuth import azimuth_from_magnitudes, judge_azimuth, shim_for_lean_mm
from groovewright.mechanics.height import advise_height
from groovewright.mechanics.skating import (
    FRICTION_BY_PROFILE,
    FRICTION_RANGE,
    antiskating_least_squares_mN,
    largest_rest_mN,
    skating_force_mN,
)
from groovewright.quantities import MN_PER_GF, GrooveRange, Reading, Why, mean_of

CAUTIONS = (
    "Stylus guard on while height or azimuth are changed; check the tracking force again after either.",
    "Test tones at low volume first: they can harm hearing and loudspeakers.",
)


def level(state: JobState) -> StageReport:
    """Return what to set next: anti-skating first, then height, then azimuth."""
    aimed = aimed_alignment(state.arm, state.aim) if state.arm is not None else None
    if aimed is None:
        return StageReport("level", "waiting", "Waits for the arm's geometry (see intake).")
    parts = (_antiskating(state, aimed), _height(state, aimed), _azimuth(state))
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
    read = [event for event in state.levelling if isinstance(event, CrosstalkRead)]
    if mono or not read:
        sentence = judge_azimuth(None, mono=mono).sentence
        return Part(
            sentence, True, (("azimuth", sentence),), (), {"azimuth_deg": None, "azimuth_sd_deg": None}
        )
    left = mean_of([Reading(event.left_to_right_db, event.sd_db) for event in read])
    right = mean_of([Reading(event.right_to_left_db, event.sd_db) for event in read])
    estimate = azimuth_from_magnitudes(
        left_to_right_db=left.value, right_to_left_db=right.value, sd_db=max(left.sd, right.sd)
    )
    verdict = judge_azimuth(estimate)
    shim = abs(float(shim_for_lean_mm(estimate.best_deg)))
    rows = (
        ("crosstalk", f"L into R {left.value:.1f} dB, R into L {right.value:.1f} dB, +- {left.sd:.1f}"),
        ("lean", f"{estimate.best_deg:.2f} deg +- {estimate.sd_deg:.2f}, side "
         f"{'known' if estimate.side_known else 'not known from levels alone'}"),
        ("shim", f"{shim:.2f} mm under one screw would take it out"),
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
        {"L into R": f"{left.value:.1f} dB", "R into L": f"{right.value:.1f} dB"},
    )
    return Part(verdict.sentence, verdict.code == "upright", rows, (why,), values)
