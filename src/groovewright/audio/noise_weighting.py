"""Weighting curves for noise: A (IEC 61672-1), ITU-R BS.468, and the two rumble curves of IEC 60098."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from groovewright.quantities import FloatArray

A_CORNERS_HZ = (20.598997, 107.65265, 737.86223, 12194.217)
"""IEC 61672-1, annex E."""


def a_weighting_db(frequency_hz: ArrayLike) -> FloatArray:
    """Return the A-weighting, 0 at 1 kHz. [shape=(...)]"""
    return np.asarray(_a_curve(frequency_hz) - float(_a_curve(1000.0)))


def _a_curve(frequency_hz: ArrayLike) -> FloatArray:
    square = np.maximum(np.asarray(frequency_hz, dtype=float), 1e-3) ** 2
    f1, f2, f3, f4 = (corner**2 for corner in A_CORNERS_HZ)
    gain = f4 * square**2 / ((square + f1) * np.sqrt((square + f2) * (square + f3)) * (square + f4))
    return np.asarray(20.0 * np.log10(gain))


def itu_weighting_db(frequency_hz: ArrayLike) -> FloatArray:
    """Return the ITU-R BS.468 weighting, 0 at 1 kHz, from its network of six reactances. [shape=(...)]

    The polynomial is that of the standard's passive network (ITU-R BS.468-4, figure 1a), as commonly quoted;
    it agrees with the standard's table within its tolerances.
    """
    f = np.maximum(np.asarray(frequency_hz, dtype=float), 1e-3)
    h1 = -4.737338981378384e-24 * f**6 + 2.043828333606125e-15 * f**4 - 1.363894795463638e-7 * f**2 + 1.0
    h2 = 1.306612257412824e-19 * f**5 - 2.118150887518656e-11 * f**3 + 5.559488023498642e-4 * f
    gain = 1.246332637532143e-4 * f / np.hypot(h1, h2)
    return np.asarray(20.0 * np.log10(gain) + 18.2)


def rumble_plain_db(frequency_hz: ArrayLike) -> FloatArray:
    """Return the unweighted rumble curve: 10 to 315 Hz, 12 dB an octave below, 6 above (IEC 60098; from
    memory).
    """
    f = np.maximum(np.asarray(frequency_hz, dtype=float), 1e-3)
    high_pass = 1.0 / (1.0 + (10.0 / f) ** 4)
    low_pass = 1.0 / (1.0 + (f / 315.0) ** 2)
    return np.asarray(10.0 * np.log10(high_pass * low_pass))


def rumble_weighted_db(frequency_hz: ArrayLike) -> FloatArray:
    """Return the weighted rumble curve: 0 dB at 315 Hz, 12 dB an octave to both sides (IEC 60098; from
    memory).
    """
    f = np.maximum(np.asarray(frequency_hz, dtype=float), 1e-3)
    u = f / 315.0
    gain = 2.0 / (u**2 + u**-2)
    return np.asarray(20.0 * np.log10(gain))


def to_gain(level_db: ArrayLike) -> FloatArray:
    """Return the factor of amplitude for a level. [shape=(...)]"""
    return np.asarray(np.exp(np.asarray(level_db, dtype=float) * (math.log(10.0) / 20.0)))
