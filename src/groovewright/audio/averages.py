"""Means of segments, and how well they are known when segments are few and lean on one another."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray, Reading

GROUPS = 16
"""Segments are put together into at most this many groups, longer than most of what makes neighbours
alike.
"""


def widened(sd: float, freedom: float) -> float:
    """Return `sd` made larger so that 1.96 of it is Student's 95 % interval (GUM G.3; JCGM 100:2008)."""
    from scipy.special import stdtrit

    if freedom < 1.0:
        return math.inf
    return sd * float(stdtrit(freedom, 0.975)) / 1.959964


def grouped(segments: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Return means of groups of neighbouring segments. [shape=(n, ...) to shape=(at most GROUPS, ...)]"""
    if len(segments) < 2 * GROUPS:
        return segments
    size = len(segments) // GROUPS
    used = segments[: size * GROUPS]
    return np.asarray(used.reshape(GROUPS, size, *segments.shape[1:]).mean(axis=1))


def complex_mean(segments: NDArray[np.complex128]) -> tuple[complex, float, float]:
    """Return the mean and the standard uncertainties of its real and imaginary part. [shape=(n,), n >= 2]"""
    groups = grouped(segments)
    mean = complex(segments.mean())
    count = len(groups)
    real, imag = (
        widened(float(part.std(ddof=1)) / math.sqrt(count), count - 1) for part in (groups.real, groups.imag)
    )
    return mean, real, imag


def magnitude(segments: NDArray[np.complex128]) -> Reading:
    """Return the length of a mean phasor, without what noise adds to it (S. O. Rice, Bell Syst. Tech. J.,
    1944).

    The noise of both parts adds their variance to the mean square; near the length it adds half of that.
    """
    mean, real, imag = complex_mean(segments)
    size = abs(mean)
    if size == 0.0:
        return Reading(0.0, max(real, imag))
    # along the phasor the noise spreads the length, across it the noise lengthens it
    cos, sin = mean.real / size, mean.imag / size
    along = math.hypot(real * cos, imag * sin)
    across = math.hypot(real * sin, imag * cos)
    return Reading(math.sqrt(max(size**2 - across**2, 0.0)), max(along, 1e-15))


def decibels(reading: Reading) -> Reading:
    """Return 20 lg of a ratio."""
    value = max(reading.value, 1e-12)
    return Reading(20.0 * math.log10(value), 20.0 / math.log(10.0) * reading.sd / value)


def root_sum_square(readings: list[Reading]) -> Reading:
    """Return the root of the sum of squares of independent readings."""
    total = math.sqrt(sum(reading.value**2 for reading in readings))
    if total == 0.0:
        return Reading(0.0, math.sqrt(sum(reading.sd**2 for reading in readings)))
    return Reading(total, math.sqrt(sum((r.value * r.sd) ** 2 for r in readings)) / total)


def density_of(values: FloatArray, rate_hz: float) -> tuple[FloatArray, FloatArray]:
    """Return frequencies and the two-sided periodogram, unit squared per Hz. [shape=(n,) to (n // 2 + 1,)]"""
    from scipy import fft

    spectrum = fft.rfft(values)
    return (
        np.asarray(fft.rfftfreq(values.size, 1.0 / rate_hz)),
        np.asarray(np.abs(spectrum) ** 2 / (values.size * rate_hz)),
    )
