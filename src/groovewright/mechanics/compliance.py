"""Which compliance counts at the resonance: a maker's figure, brought from where it was measured to 10 Hz.

Rubber grows stiffer with frequency and with the speed of the deflection, so that the same suspension has one
figure when it is bent slowly, a smaller one at 10 Hz and a smaller one still at 100 Hz. The factors are
common practice; their spread over suspensions is wide and is carried as a lognormal uncertainty
(docs/mechanics.md).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from groovewright.quantities import FloatArray, InputError, Limits, OtherUnit, unknown_word

COMPLIANCE = Limits(
    "compliance",
    1.0,
    100.0,
    "um/mN",
    (
        OtherUnit("cm/dyn (10e-6 cm/dyn is 10 um/mN)", 1e6),
        OtherUnit("m/N (10e-3 m/N is 10 um/mN)", 1e3),
        OtherUnit("um/N", 1e-3),
    ),
)
"""From stiff coarse-groove heads to the softest suspensions (common practice). 1e-6 cm/dyn is exactly
1 um/mN: 1 cm = 1e4 um and 1 dyn = 1e-2 mN."""

DATA_LOG_SD = 0.10
"""Relative spread of one specimen about its maker's compliance figure: 10 % (from memory)."""

OTHER_PLANE_LOG_SD = 0.15
"""Added where a figure for the other plane of motion stands in for a missing one (from memory, a guess)."""


@dataclass(frozen=True)
class ComplianceBasis:
    """How a compliance figure was measured, and what brings it to 10 Hz.

    Parameters
    ----------
    name : str
        As printed: 'at 100 Hz'.
    factor : float
        Median of compliance at 10 Hz over the figure.
    log_sd : float
        Standard deviation of the natural logarithm of that factor.
    source : str
        Where the factor comes from.
    """

    name: str
    factor: float
    log_sd: float
    source: str


AT_10_HZ = ComplianceBasis("at 10 Hz", 1.0, 0.0, "the frequency that counts: no correction")
AT_100_HZ = ComplianceBasis(
    "at 100 Hz",
    math.sqrt(1.5 * 2.0),
    math.log(2.0 / 1.5) / 2.0,
    "common practice: a factor of about 1.5 to 2, taken as plus and minus one standard deviation",
)
STATIC = ComplianceBasis(
    "static",
    0.5,
    0.2,
    "common practice: about half; the spread of 20 % is from memory",
)


def basis_for_frequency(measuring_hz: float) -> ComplianceBasis:
    """Return the basis for a measuring frequency from 5 to 200 Hz.

    A power law through 10 Hz (factor 1) and 100 Hz (`AT_100_HZ`): (f / 10 Hz)^0.24, its log spread in
    proportion to the logarithm of the distance.
    """
    Limits("measuring frequency of the compliance", 5.0, 200.0, "Hz", (OtherUnit("kHz", 1e3),)).check(
        measuring_hz
    )
    decades = math.log10(measuring_hz / 10.0)
    return ComplianceBasis(
        f"at {measuring_hz:g} Hz",
        AT_100_HZ.factor**decades,
        AT_100_HZ.log_sd * abs(decades),
        AT_10_HZ.source if decades == 0.0 else AT_100_HZ.source,
    )


def _mixture(bases: tuple[ComplianceBasis, ...]) -> ComplianceBasis:
    means = np.array([math.log(basis.factor) for basis in bases])
    variance = float(np.mean([basis.log_sd**2 for basis in bases]) + means.var())
    names = ", ".join(basis.name for basis in bases)
    return ComplianceBasis(
        "measured in an unknown way",
        math.exp(float(means.mean())),
        math.sqrt(variance),
        f"not known how it was measured: the mean and the spread over {names}, equally likely",
    )


UNKNOWN = _mixture((AT_10_HZ, AT_100_HZ, STATIC))


def parse_basis(text: str) -> ComplianceBasis:
    """Return the basis for 'static', 'unknown' or a frequency in Hz, as a person types it."""
    word = text.strip().lower().removesuffix("hz").strip()
    named = {"static": STATIC, "unknown": UNKNOWN}
    if word in named:
        return named[word]
    try:
        frequency = float(word)
    except ValueError:
        raise unknown_word("measuring frequency of the compliance", text, ["10", "100", *named]) from None
    if not math.isfinite(frequency):
        raise InputError(
            f"measuring frequency of the compliance is '{text}'; give 10, 100, static or unknown"
        )
    return basis_for_frequency(frequency)


def compliance_at_resonance_um_per_mN(
    compliance_um_per_mN: ArrayLike, basis: ComplianceBasis, *, data_log_sd: float = DATA_LOG_SD
) -> tuple[FloatArray, float]:
    """Return the median compliance at 10 Hz [shape=(...)] and the standard deviation of its logarithm."""
    median = np.asarray(compliance_um_per_mN, dtype=float) * basis.factor
    return np.asarray(median), math.hypot(basis.log_sd, data_log_sd)
