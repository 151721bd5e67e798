"""Match: will this cartridge suit this arm and this phono input?"""

from __future__ import annotations

from typing import Any

from groovewright.electrics import Study
from groovewright.job.loading import loading_study
from groovewright.job.recording import last_heard, readings_of
from groovewright.job.records import Arm, Cartridge, Phono
from groovewright.job.stage import Part, StageReport, all_rows, all_values
from groovewright.job.state import JobState
from groovewright.mechanics.balance import Counterweight, arm_moment_from_balance_gmm, judge_balance
from groovewright.mechanics.clearance import arm_height_needed_mm, judge_height
from groovewright.mechanics.compliance import parse_basis
from groovewright.mechanics.match import Masses, Match, match_mechanics
from groovewright.mechanics.resonance import LognormalEstimate
from groovewright.quantities import Why

CAUTIONS = (
    "Never an ohmmeter across a moving-coil cartridge: its current can burn the coil or magnetise the core.",
    "Where the makers of arm, cartridge or phono stage give a figure, it wins over a computed one.",
)


def match(state: JobState) -> StageReport:
    """Return how cartridge, arm and phono input suit each other, part by part."""
    arm, cartridge = state.arm, state.cartridge_in
    if arm is None or cartridge is None:
        return StageReport(
            "match", "waiting", "Waits for the arm and the cartridge that goes in (see intake)."
        )
    parts = [
        _resonance(arm, cartridge),
        _resonance_heard(state),
        _balance(arm, cartridge),
        _height(arm, state.cartridge_out, cartridge),
        _load(cartridge, state.phono),
    ]
    known = [part for part in parts if part.settled]
    missing = tuple(part.sentence for part in parts if not part.settled and part.sentence)
    sentence = " ".join(part.sentence for part in known) or "Nothing can be said yet about how they suit."
    return StageReport(
        "match",
        "done" if known else "unknown",
        sentence,
        all_rows(parts) + tuple(("not known", need) for need in missing),
        CAUTIONS,
        whys=tuple(why for part in known for why in part.whys),
        values=all_values(parts),
    )


def _needs(what: str, *missing: tuple[str, object]) -> Part | None:
    """Return 'what: unknown, needs ...' where something is missing."""
    names = [name for name, value in missing if value is None]
    return Part(f"{what}: unknown, needs {' and '.join(names)}.", False) if names else None


def _interval(estimate: LognormalEstimate, unit: str) -> str:
    low, high = estimate.interval()
    return f"{estimate.median:.1f} {unit} (95 %: {low:.1f} to {high:.1f})"


def _resonance(arm: Arm, cartridge: Cartridge) -> Part:
    compliance, mass, arm_mass = cartridge.compliance_um_per_mN, cartridge.mass_g, arm.effective_mass_g
    needs = _needs(
        "resonance",
        ("the arm's effective mass", arm_mass),
        ("the cartridge's mass", mass),
        ("its compliance", compliance),
    )
    if needs or compliance is None or mass is None or arm_mass is None:
        return needs or Part("", False)
    found = _mechanics(arm, cartridge, arm_mass, mass, compliance)
    rows = (
        (
            "total effective mass",
            f"{found.total_effective_mass_g:.1f} g +- {found.total_effective_mass_sd_g:.1f}",
        ),
        ("resonance, vertical", _interval(found.vertical, "Hz")),
        ("resonance, lateral", _interval(found.lateral, "Hz")),
        ("within 8 to 12 Hz", f"{found.probability_in_window:.0%} (vertical)"),
    )
    values = {
        "resonance_vertical_hz": found.vertical.median,
        "resonance_vertical_sd_hz": found.vertical.sd,
        "resonance_lateral_hz": found.lateral.median,
        "resonance_lateral_sd_hz": found.lateral.sd,
        "total_effective_mass_g": found.total_effective_mass_g,
        "total_effective_mass_sd_g": found.total_effective_mass_sd_g,
        "compliance_at_resonance_um_per_mN": found.compliance.median,
        "compliance_at_resonance_log_sd": found.compliance.log_sd,
        "probability_in_window": found.probability_in_window,
        "resonance_verdict": found.verdict.code,
    }
    why = Why(
        "resonance_vertical_hz",
        "1000 / (2 pi sqrt(M C)), M in g and C in um/mN",
        "textbook formula of mass on a spring; window 8 to 12 Hz is common practice",
        {
            "M": f"{found.total_effective_mass_g:.1f} g",
            "C": f"{found.compliance.median:.1f} um/mN at the resonance",
            "given": f"{compliance:g} um/mN at {cartridge.compliance_at}",
        },
    )
    return Part(found.verdict.sentence, True, rows, (why,), values)


def _mechanics(
    arm: Arm, cartridge: Cartridge, arm_mass_g: float, mass_g: float, compliance_um_per_mN: float
) -> Match:
    return match_mechanics(
        Masses(arm_mass_g, mass_g, cartridge.fastener_mass_g or 0.0),
        compliance_um_per_mN=compliance_um_per_mN,
        basis=parse_basis(cartridge.compliance_at),
        compliance_lateral_um_per_mN=cartridge.compliance_lateral_um_per_mN,
        arm_damping_mN_s_per_m=arm.damping_mN_s_per_m,
    )


def resonance_of(state: JobState) -> Match | None:
    """Return the predicted resonance of arm and cartridge; None where a figure is missing."""
    arm, cartridge = state.arm, state.cartridge_in
    if arm is None or cartridge is None or arm.effective_mass_g is None or cartridge.mass_g is None:
        return None
    if cartridge.compliance_um_per_mN is None:
        return None
    return _mechanics(arm, cartridge, arm.effective_mass_g, cartridge.mass_g, cartridge.compliance_um_per_mN)


def _resonance_heard(state: JobState) -> Part:
    """Return what a recording says beside the prediction."""
    heard = last_heard(state)
    numbers = {} if heard is None else readings_of(heard)
    rows: list[tuple[str, str]] = []
    values: dict[str, float] = {}
    for motion in ("vertical", "lateral"):
        found = numbers.get(f"resonance_{motion}_hz")
        if found is not None and heard is not None:
            rows.append(
                (f"heard, {motion}", f"{found.value:.2f} Hz +- {found.sd:.2f}, by the recording {heard.file}")
            )
            values |= {
                f"resonance_{motion}_heard_hz": found.value,
                f"resonance_{motion}_heard_sd_hz": found.sd,
            }
    return Part("", False, tuple(rows), (), values)


def _balance(arm: Arm, cartridge: Cartridge) -> Part:
    weight, nearest, farthest = (
        arm.counterweight_mass_g,
        arm.counterweight_nearest_mm,
        arm.counterweight_farthest_mm,
    )
    length = arm.effective_length_mm or arm.pivot_to_spindle_mm
    if weight is None or nearest is None or farthest is None or length is None:
        return Part("", False)
    if cartridge.mass_g is None or cartridge.force_max_gf is None:
        return Part("balance: unknown, needs the cartridge's mass and force range.", False)
    moment = arm.arm_moment_gmm
    if moment is None and arm.floated_mass_g is not None and arm.floated_at_mm is not None:
        moment = float(
            arm_moment_from_balance_gmm(
                front_mass_g=arm.floated_mass_g,
                front_position_mm=length,
                counterweight_mass_g=weight,
                counterweight_position_mm=arm.floated_at_mm,
                force_gf=0.0,
                effective_length_mm=length,
            )
        )
    if moment is None:
        return Part(
            "balance: unknown, needs floated_mass_g and floated_at_mm, from the old cartridge.", False
        )
    found = judge_balance(
        arm_moment_gmm=moment,
        front_mass_g=cartridge.mass_g + (cartridge.fastener_mass_g or 0.0),
        front_position_mm=length,
        counterweight=Counterweight(weight, nearest, farthest),
        force_gf=cartridge.force_max_gf,
        effective_length_mm=length,
    )
    rows = (
        ("counterweight", f"{found.position_mm:.1f} mm behind the bearing at {cartridge.force_max_gf:g} gf"),
    )
    values = {"counterweight_position_mm": found.position_mm, "balance_verdict": found.verdict.code}
    return Part(found.verdict.sentence, True, rows, (), values)


def _height(arm: Arm, old: Cartridge | None, new: Cartridge) -> Part:
    if old is None or old.height_mm is None or new.height_mm is None:
        return Part("", False)
    if arm.height_down_mm is None or arm.height_up_mm is None:
        return Part("body height: unknown, needs how far the arm's height can go down and up.", False)
    needed = float(arm_height_needed_mm(old_body_height_mm=old.height_mm, new_body_height_mm=new.height_mm))
    verdict = judge_height(needed, down_mm=arm.height_down_mm, up_mm=arm.height_up_mm)
    rows = (("arm height", f"{needed:+.1f} mm for the new body (+ is up)"),)
    return Part(verdict.sentence, True, rows, (), {"arm_height_needed_mm": needed})


def _load(cartridge: Cartridge, phono: Phono | None) -> Part:
    inductance, resistance = cartridge.inductance_mH, cartridge.resistance_ohm
    needs = _needs(
        "load",
        ("the coil's inductance", inductance),
        ("the coil's resistance", resistance),
        ("the phono input", phono),
    )
    if needs or inductance is None or resistance is None or phono is None:
        return needs or Part("", False)
    missing = _needs(
        "load",
        ("load_ohm or offered_ohm", phono.load_ohm or (phono.offered_ohm or None)),
        ("load_pF or offered_pF", phono.load_pF if phono.load_pF is not None else (phono.offered_pF or None)),
    )
    if missing:
        return missing
    found = loading_study(cartridge, phono)
    if found is None:
        return Part("", False)
    return Part(
        found.sentence,
        True,
        _load_rows(found),
        (_load_why(found, inductance, resistance),),
        _load_values(found),
    )


def _load_rows(found: Study) -> tuple[tuple[str, str], ...]:
    best = found.recommendation.best
    peak = (
        "none"
        if found.peak_db is None or found.peak_hz is None
        else f"{found.peak_db.value:+.1f} dB +- {found.peak_db.sd:.1f} at {found.peak_hz.value / 1000:.1f} kHz"
    )
    return (
        ("load", f"{found.setting.load_ohm:g} ohm with {found.setting.load_pF:g} pF"),
        (
            "departure from flat",
            f"{found.setting.deviation_db.value:.1f} dB +- {found.setting.deviation_db.sd:.1f}",
        ),
        ("peak", peak),
        (
            "flattest offered",
            f"{best.load_ohm:g} ohm with {best.load_pF:g} pF: {best.deviation_db.value:.1f} dB",
        ),
    )


def _load_why(found: Study, inductance_mH: float, resistance_ohm: float) -> Why:
    return Why(
        "deviation_20_20k_db",
        "largest |level re 1 kHz| of EMF in series with R and L into load R and C, 20 Hz to 20 kHz",
        "circuit theory; confirmed by a circuit simulator (docs/electrics.md)",
        {
            "L": f"{inductance_mH:g} mH",
            "R": f"{resistance_ohm:g} ohm",
            "load": f"{found.setting.load_ohm:g} ohm, {found.setting.load_pF:g} pF",
        },
    )


def _load_values(found: Study) -> dict[str, Any]:
    best = found.recommendation.best
    return {
        "load_ohm": found.setting.load_ohm,
        "load_pF": found.setting.load_pF,
        "deviation_20_20k_db": found.setting.deviation_db.value,
        "deviation_20_20k_sd_db": found.setting.deviation_db.sd,
        "peak_db": None if found.peak_db is None else found.peak_db.value,
        "peak_hz": None if found.peak_hz is None else found.peak_hz.value,
        "best_load_ohm": best.load_ohm,
        "best_load_pF": best.load_pF,
        "load_verdict": found.verdict,
    }
