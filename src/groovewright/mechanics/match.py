"""The mechanical half of a match: resonance, Q, response, and what change of mass would help."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from groovewright.mechanics.compliance import (
    COMPLIANCE,
    DATA_LOG_SD,
    OTHER_PLANE_LOG_SD,
    ComplianceBasis,
    compliance_at_resonance_um_per_mN,
)
from groovewright.mechanics.resonance import (
    CARTRIDGE_MASS,
    EFFECTIVE_MASS,
    LOSS_FACTOR,
    RESONANCE_WINDOW,
    SMALL_MASS,
    TYPICAL_LOSS_FACTOR,
    TYPICAL_LOSS_LOG_SD,
    WINDOW_HZ,
    LognormalEstimate,
    deflection_response,
    mass_for_resonance_g,
    quality_factor,
    resonance_hz,
    resonance_log_sd,
    total_effective_mass_g,
)
from groovewright.mechanics.verdict import Verdict
from groovewright.quantities import InputError

ARM_MASS_RELATIVE_SD = 0.10
"""Spread of an arm's true effective mass about its maker's figure (common practice, from memory)."""

LIGHT_FASTENER_MASS_G = 0.4
"""Two aluminium or plastic screws with nuts: about 0.4 g (common practice, from memory)."""

PRACTICABLE_ADDED_MASS_G = 5.0
"""Plates and heavier screws under the headshell: up to about 5 g (common practice)."""

WARP_CHECK_HZ = (0.5, 1.0, 2.0, 4.0, 6.0)
RECORD_CHECK_HZ = (20.0, 30.0, 50.0, 100.0)


@dataclass(frozen=True)
class Masses:
    """What the suspension carries, in g. `arm_g` holds the headshell unless `headshell_g` is given."""

    arm_g: float
    cartridge_g: float
    fastener_g: float = 0.0
    headshell_g: float = 0.0
    added_effective_g: float = 0.0
    arm_relative_sd: float = ARM_MASS_RELATIVE_SD

    def __post_init__(self) -> None:
        EFFECTIVE_MASS.check(self.arm_g)
        CARTRIDGE_MASS.check(self.cartridge_g)
        for name in ("fastener", "headshell"):
            SMALL_MASS.check(getattr(self, f"{name}_g"), name)
        SMALL_MASS.check(self.added_effective_g, "added effective mass")

    @property
    def total_g(self) -> float:
        """Total effective mass."""
        return float(
            total_effective_mass_g(
                arm_effective_mass_g=self.arm_g,
                cartridge_mass_g=self.cartridge_g,
                fastener_mass_g=self.fastener_g,
                headshell_mass_g=self.headshell_g,
                added_effective_mass_g=self.added_effective_g,
            )
        )

    @property
    def sd_g(self) -> float:
        """Standard uncertainty of the total: the arm's figure; what can be weighed counts as known."""
        return self.arm_relative_sd * self.arm_g


@dataclass(frozen=True)
class Match:
    """The answer: resonances as lognormal estimates, Q, responses, and the change of mass that would help.

    `change_to_window_g` is the least change at the headshell that brings the median into the window,
    `change_to_centre_g` the one that brings it to the window's geometric middle; positive adds mass.
    `lateral_from_vertical` and `loss_assumed` say which numbers rest on a missing figure.
    """

    total_effective_mass_g: float
    total_effective_mass_sd_g: float
    compliance: LognormalEstimate
    vertical: LognormalEstimate
    lateral: LognormalEstimate
    lateral_from_vertical: bool
    quality: LognormalEstimate
    loss_assumed: bool
    window_hz: tuple[float, float]
    probability_in_window: float
    probability_lateral_in_window: float
    warp_response: tuple[tuple[float, float], ...]
    record_response_db: tuple[tuple[float, float], ...]
    change_to_window_g: float
    change_to_centre_g: float
    practicable_g: tuple[float, float]
    verdict: Verdict


def mass_change_to_window_g(
    total_effective_mass_g: float, compliance_um_per_mN: float, window_hz: tuple[float, float] = WINDOW_HZ
) -> float:
    """Return the least change of mass at the stylus that brings the resonance into the window (0 inside)."""
    heaviest, lightest = (float(mass_for_resonance_g(edge, compliance_um_per_mN)) for edge in window_hz)
    return float(np.clip(total_effective_mass_g, lightest, heaviest) - total_effective_mass_g)


def practicable_change_g(fastener_mass_g: float, added_effective_mass_g: float = 0.0) -> tuple[float, float]:
    """Return the largest decrease (negative) and increase that can be had with this arm and cartridge.

    Lighter screws and leaving off added weights one way, added plates the other (common practice); another
    headshell can do more in either direction.
    """
    saved = max(fastener_mass_g - LIGHT_FASTENER_MASS_G, 0.0) + added_effective_mass_g
    return -saved, PRACTICABLE_ADDED_MASS_G


def match_mechanics(
    masses: Masses,
    *,
    compliance_um_per_mN: float,
    basis: ComplianceBasis,
    compliance_lateral_um_per_mN: float | None = None,
    data_log_sd: float = DATA_LOG_SD,
    loss_factor: float | None = None,
    arm_damping_mN_s_per_m: float = 0.0,
    window_hz: tuple[float, float] = WINDOW_HZ,
) -> Match:
    """Return how cartridge and arm suit each other mechanically.

    Where no lateral compliance is given, the vertical one stands in with a wider spread; where no loss
    factor is given, that of rubber does, with its spread. `Match` says which.

    Raises
    ------
    InputError
        A figure is out of range (its unit is guessed), or the window is reversed.
    """
    _check(compliance_um_per_mN, compliance_lateral_um_per_mN, loss_factor, arm_damping_mN_s_per_m, window_hz)
    total, total_sd = masses.total_g, masses.sd_g
    median, log_sd = compliance_at_resonance_um_per_mN(compliance_um_per_mN, basis, data_log_sd=data_log_sd)
    compliance = LognormalEstimate(float(median), log_sd)
    vertical = _resonance(total, total_sd, compliance)
    lateral = _resonance(
        total, total_sd, _lateral_compliance(compliance, compliance_lateral_um_per_mN, basis, data_log_sd)
    )
    loss = TYPICAL_LOSS_FACTOR if loss_factor is None else loss_factor
    loss_log_sd = TYPICAL_LOSS_LOG_SD if loss_factor is None else 0.0
    quality = float(quality_factor(total, vertical.median, loss, arm_damping_mN_s_per_m))
    arm_ratio = arm_damping_mN_s_per_m / (total * 2.0 * math.pi * vertical.median)
    responses = [
        (hz, abs(complex(deflection_response(hz, vertical.median, loss, arm_ratio))))
        for hz in WARP_CHECK_HZ + RECORD_CHECK_HZ
    ]
    in_window = vertical.probability_between(*window_hz)
    centre_hz = math.sqrt(window_hz[0] * window_hz[1])
    to_window = mass_change_to_window_g(total, compliance.median, window_hz)
    to_centre = float(mass_for_resonance_g(centre_hz, compliance.median)) - total
    practicable = practicable_change_g(masses.fastener_g, masses.added_effective_g)
    return Match(
        total_effective_mass_g=total,
        total_effective_mass_sd_g=total_sd,
        compliance=compliance,
        vertical=vertical,
        lateral=lateral,
        lateral_from_vertical=compliance_lateral_um_per_mN is None,
        quality=LognormalEstimate(quality, loss_log_sd * loss * quality),
        loss_assumed=loss_factor is None,
        window_hz=window_hz,
        probability_in_window=in_window,
        probability_lateral_in_window=lateral.probability_between(*window_hz),
        warp_response=tuple(responses[: len(WARP_CHECK_HZ)]),
        record_response_db=tuple((hz, 20.0 * math.log10(h)) for hz, h in responses[len(WARP_CHECK_HZ) :]),
        change_to_window_g=to_window,
        change_to_centre_g=to_centre,
        practicable_g=practicable,
        verdict=_judge(vertical, in_window, window_hz, to_window, to_centre, practicable),
    )


def _check(
    compliance: float,
    lateral: float | None,
    loss: float | None,
    damping: float,
    window: tuple[float, float],
) -> None:
    COMPLIANCE.check(compliance)
    if lateral is not None:
        COMPLIANCE.check(lateral, "lateral")
    if loss is not None:
        LOSS_FACTOR.check(loss)
    if not (math.isfinite(damping) and 0.0 <= damping <= 1e4):
        raise InputError(f"arm damping is {damping:g} mN s/m; allowed is 0 to 10000 mN s/m")
    for edge in window:
        RESONANCE_WINDOW.check(edge)
    if window[0] >= window[1]:
        raise InputError(
            f"window {window[0]:g}:{window[1]:g} Hz is the wrong way round; try {window[1]:g}:{window[0]:g}"
        )


def _resonance(total_g: float, total_sd_g: float, compliance: LognormalEstimate) -> LognormalEstimate:
    return LognormalEstimate(
        float(resonance_hz(total_g, compliance.median)),
        float(resonance_log_sd(total_g, total_sd_g, compliance.log_sd)),
    )


def _lateral_compliance(
    vertical: LognormalEstimate, lateral_um_per_mN: float | None, basis: ComplianceBasis, data_log_sd: float
) -> LognormalEstimate:
    if lateral_um_per_mN is None:
        return LognormalEstimate(vertical.median, math.hypot(vertical.log_sd, OTHER_PLANE_LOG_SD))
    median, log_sd = compliance_at_resonance_um_per_mN(lateral_um_per_mN, basis, data_log_sd=data_log_sd)
    return LognormalEstimate(float(median), log_sd)


def _judge(
    vertical: LognormalEstimate,
    in_window: float,
    window: tuple[float, float],
    to_window: float,
    to_centre: float,
    practicable: tuple[float, float],
) -> Verdict:
    where = f"{vertical.median:.1f} Hz"
    span = f"{window[0]:g} to {window[1]:g} Hz"
    chance = f"{in_window:.0%} likely in the window of {span}"
    if in_window >= 0.8:
        return Verdict("suits", f"Cartridge and arm suit each other: resonance {where}, {chance}.", in_window)
    help_text = _advice(to_window, to_centre, practicable)
    if to_window == 0.0:
        sentence = f"Usable, not certain: resonance {where}, {chance}; {help_text}."
        return Verdict("borderline", sentence, in_window)
    if in_window >= 0.35:
        sentence = f"Just outside or just inside: resonance {where}, {chance}; {help_text}."
        return Verdict("borderline", sentence, in_window)
    code, side = ("too-low", "below") if to_window < 0.0 else ("too-high", "above")
    sentence = f"The resonance, {where}, lies {side} the window of {span} ({in_window:.0%} likely in it); "
    return Verdict(code, sentence + help_text + ".", in_window)


def _advice(to_window: float, to_centre: float, practicable: tuple[float, float]) -> str:
    wanted = to_window if to_window != 0.0 else to_centre
    goal = "into the window" if to_window != 0.0 else "to its middle"
    if abs(wanted) < 0.1:
        return "no change of mass would make it more certain, a better compliance figure would"
    if wanted > 0.0:
        if wanted <= practicable[1]:
            return f"{wanted:.1f} g more at the headshell would bring it {goal}"
        return (
            f"it would take {wanted:.1f} g more at the headshell, which is beyond the {practicable[1]:g} g "
            "that is practicable: a heavier headshell or arm, or a softer cartridge"
        )
    if wanted >= practicable[0]:
        return f"{-wanted:.1f} g less (lighter screws) would bring it {goal}"
    return (
        f"it would take {-wanted:.1f} g less, and lighter screws save {-practicable[0]:.1f} g: "
        "a lighter headshell or arm, or a stiffer cartridge"
    )
