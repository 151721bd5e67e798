"""Weigh: tracking force within the maker's range, and on its target."""

from __future__ import annotations

from typing import Any

from groovewright.job.records import Cartridge
from groovewright.job.stage import StageReport
from groovewright.job.state import JobState
from groovewright.mechanics.weighing import (
    ForceRange,
    Gauge,
    GaugeHeight,
    force_from_readings,
    force_range_mN,
    gauge_from_check_mass,
    judge_drift,
    judge_force,
)
from groovewright.quantities import MN_PER_GF, Reading, Why, mean_of

CAUTIONS = (
    "The maker's range always wins; nothing outside it is ever right.",
    "Anti-skating at 0 while weighing, the gauge's pan at the height of a record's surface.",
)


def weigh(state: JobState) -> StageReport:
    """Return the verdict on the tracking force, or what to do to get one."""
    cartridge = state.cartridge_in
    if cartridge is None:
        return StageReport("weigh", "waiting", "Waits for the cartridge that goes in (see intake).")
    force_range = _range(cartridge)
    if force_range is None:
        sentence = "Look up the maker's range of tracking force first: force_min_gf and force_max_gf."
        return StageReport("weigh", "open", sentence, cautions=CAUTIONS)
    target = force_range.target_mN / MN_PER_GF
    rows: tuple[tuple[str, str], ...] = (
        ("maker's range", f"{cartridge.force_min_gf:g} to {cartridge.force_max_gf:g} gf"),
        ("target", f"{target:.2f} gf ({force_range.target_mN:.1f} mN)"),
    )
    values: dict[str, Any] = {"target_force_gf": target, "target_force_mN": force_range.target_mN}
    if not state.weighings:
        sentence = (
            f"Balance the arm to float, then set the tracking force to {target:.2f} gf with the gauge, and write "
            "down what it reads, three times."
        )
        return StageReport("weigh", "open", sentence, rows, CAUTIONS, values=values)
    force = measured_force(state)
    turn = state.arm.counterweight_turn_gf if state.arm else None
    weighed = judge_force(force, force_range, turn_mN=None if turn is None else turn * MN_PER_GF)
    warnings = []
    if state.found is not None and state.found.force_gf is not None:
        found = Reading(state.found.force_gf * MN_PER_GF, state.found.force_sd_gf * MN_PER_GF)
        rows = (*rows, ("as found", f"{state.found.force_gf:.2f} gf +- {state.found.force_sd_gf:.2f}"))
        values = {**values, "found_force_gf": state.found.force_gf}
        if state.cartridge_out in (None, cartridge):
            warnings.append(judge_drift(found, force).sentence)
    gf = weighed.force_gf
    rows = (
        *rows,
        ("force", f"{gf.value:.3f} gf +- {gf.sd:.3f} ({force.value:.2f} mN +- {force.sd:.2f})"),
        ("within the range", f"{force.probability_between(force_range.low_mN, force_range.high_mN):.0%}"),
    )
    values = {
        **values,
        "force_mN": force.value,
        "force_gf": gf.value,
        "force_sd_mN": force.sd,
        "force_sd_gf": gf.sd,
        "turn_counterweight_turns": weighed.turn_turns,
        "force_verdict": weighed.verdict.code,
    }
    done = weighed.verdict.code == "right"
    return StageReport(
        "weigh",
        "done" if done else "open",
        weighed.verdict.sentence,
        rows,
        () if done else CAUTIONS,
        tuple(warnings),
        (_why(state),),
        values,
    )


def _range(cartridge: Cartridge) -> ForceRange | None:
    if cartridge.force_min_gf is None or cartridge.force_max_gf is None:
        return None
    return force_range_mN(
        cartridge.force_min_gf, cartridge.force_max_gf, MN_PER_GF, cartridge.force_target_gf
    )


def measured_force(state: JobState) -> Reading:
    """Return the mean tracking force in mN of the readings since the counterweight was last turned.

    Readings taken at different heights of the pan are corrected each for its own, then averaged.
    """
    gauge = Gauge()
    if state.gauge_checks:
        true = state.gauge_checks[-1].true_gf
        read = [check.read_gf * MN_PER_GF for check in state.gauge_checks if check.true_gf == true]
        gauge = gauge_from_check_mass(gauge, true_mN=true * MN_PER_GF, read_mN=read)
    heights = sorted({weighing.above_record_mm for weighing in state.weighings})
    forces = [
        force_from_readings(
            [entry.force_gf * MN_PER_GF for entry in state.weighings if entry.above_record_mm == height],
            gauge,
            GaugeHeight(height),
        )
        for height in heights
    ]
    return forces[0] if len(forces) == 1 else mean_of(forces)


def _why(state: JobState) -> Why:
    readings = ", ".join(f"{weighing.force_gf:g}" for weighing in state.weighings)
    return Why(
        "force_mN",
        "gain x mean reading - slope x (pan above record)",
        "GUM (JCGM 100:2008) for the mean; 1 gf = 9.80665 mN (3rd CGPM, 1901)",
        {"readings": f"{readings} gf"},
    )
