"""Replay equalisation and A-weighting, both as exact analytic curves.

A replay curve is given by its time constants, as the standards do; the IEC amendment is one more of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from groovewright.electrics.circuit import REFERENCE_HZ
from groovewright.quantities import FloatArray


@dataclass(frozen=True)
class ReplayCurve:
    """A replay characteristic by its time constants, each in microseconds; 0 leaves that corner out.

    Parameters
    ----------
    bass_shelf_us, turnover_us, treble_us : number >= 0
        Below the first corner flat, then falling to the second, flat, and falling again above the third.
    low_cut_us : number >= 0
        Of the amendment's first-order cut; 0 where it is not used.
    """

    bass_shelf_us: float
    turnover_us: float
    treble_us: float
    low_cut_us: float = 0.0


MICROGROOVE = ReplayCurve(3180.0, 318.0, 75.0)
"""33 1/3 and 45 rpm: IEC 60098."""

AMENDMENT_US = 7950.0
"""The low cut at 20.02 Hz of the 1976 amendment of IEC 60098."""

COARSE_GROOVE = ReplayCurve(3180.0, 450.0, 50.0)
"""78 rpm to the later standards (BS 1928 of 1955; from memory). Earlier records differ."""


def with_amendment(curve: ReplayCurve) -> ReplayCurve:
    """Return the curve with the IEC amendment's low cut of 7950 us."""
    return replace(curve, low_cut_us=AMENDMENT_US)


def replay_db(frequency_hz: ArrayLike, curve: ReplayCurve = MICROGROOVE) -> FloatArray:
    """Return the replay characteristic in dB, 0 at 1 kHz. [shape=(...)]

    |1 + s t2| / (|1 + s t1| |1 + s t3|), with the amendment also times |s t4| / |1 + s t4| (IEC 60098). The
    cut at 20 Hz is 0.0027 dB at 1 kHz, and 0 dB is kept at 1 kHz with it too.
    """
    return np.asarray(_curve_db(frequency_hz, curve) - _curve_db(REFERENCE_HZ, curve))


def _curve_db(frequency_hz: ArrayLike, curve: ReplayCurve) -> FloatArray:
    omega_us = 2.0e-6 * np.pi * np.asarray(frequency_hz, dtype=float)

    def corner(time_us: float) -> FloatArray:
        return np.asarray(10.0 * np.log10(1.0 + (omega_us * time_us) ** 2))

    level = corner(curve.turnover_us) - corner(curve.bass_shelf_us) - corner(curve.treble_us)
    if curve.low_cut_us > 0.0:
        level = level + 20.0 * np.log10(omega_us * curve.low_cut_us) - corner(curve.low_cut_us)
    return np.asarray(level)


A_CORNERS_HZ = (20.598997, 107.65265, 737.86223, 12194.217)
"""Pole frequencies of A-weighting (IEC 61672-1, annex E; digits from memory, checked with its table)."""


def a_weighting_db(frequency_hz: ArrayLike) -> FloatArray:
    """Return A-weighting in dB, 0 at 1 kHz. [shape=(...)]

    f4^2 f^4 / ((f^2 + f1^2) sqrt(f^2 + f2^2) sqrt(f^2 + f3^2) (f^2 + f4^2)) about 1 kHz (IEC 61672-1).
    """
    return np.asarray(_a_curve_db(frequency_hz) - _a_curve_db(REFERENCE_HZ))


def _a_curve_db(frequency_hz: ArrayLike) -> FloatArray:
    square = np.asarray(frequency_hz, dtype=float) ** 2
    first, second, third, fourth = (corner**2 for corner in A_CORNERS_HZ)
    denominator = (square + first) * np.sqrt((square + second) * (square + third)) * (square + fourth)
    return np.asarray(20.0 * np.log10(square**2 / denominator))
