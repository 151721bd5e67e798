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


def _along_and_across(segments: NDArray[np.complex128]) -> tuple[float, float]:
    """Return the variances of the mean phasor along its own direction and across it, where phases that jitter count."""
    groups = grouped(segments)
    turned = groups * np.exp(-1j * np.angle(segments.mean()))
    return float(turned.real.var(ddof=1)) / len(groups), float(turned.imag.var(ddof=1)) / len(groups)


def decibels(reading: Reading) -> Reading:
    """Return 20 lg of a ratio."""
    value = max(reading.value, 1e-12)
    return Reading(20.0 * math.log10(value), 20.0 / math.log(10.0) * reading.sd / value)


def together(many: list[NDArray[np.complex128]]) -> Reading:
    """Return the root of the sum of squares of several mean phasors. [each shape=(n,), n >= 2]

    The noise of both parts of each adds to the sum of squares what is taken off again, so that many small ones lost
    in noise do not add up to a large one. Where something stands out the uncertainty is that of the sum of squares,
    halved by the root; where nothing does, the root of what noise alone seldom passes (1.8 sigma of its square, which
    covers 93 to 98 % from nothing at all up to ten times the noise, by trial).
    """
    square = of_noise = 0.0
    moved = np.zeros(len(grouped(many[0])))
    for segments in many:
        along, across = _along_and_across(segments)
        mean = complex(segments.mean())
        clean = abs(mean) ** 2 - along - across
        square += clean
        # a Gaussian's square has twice its variance squared
        of_noise += 2.0 * (along**2 + across**2)
        # what each group moves the sum of squares by, half: products of the same tones may lean on one another
        moved += math.sqrt(max(clean, 0.0)) * (grouped(segments) * np.exp(-1j * np.angle(mean))).real
    value, freedom = math.sqrt(max(square, 0.0)), moved.size - 1
    of_signal = 4.0 * float(moved.var(ddof=1)) / moved.size
    least = math.sqrt(1.8 * widened(math.sqrt(of_noise), freedom)) / 1.959964
    if value == 0.0:
        return Reading(0.0, least + 1e-15)
    clear = widened(math.sqrt(of_noise + of_signal), freedom) / (2.0 * value)
    return Reading(value, min(least, clear) + 1e-15)


def density_of(values: FloatArray, rate_hz: float) -> tuple[FloatArray, FloatArray]:
    """Return frequencies and the two-sided periodogram, unit squared per Hz. [shape=(n,) to (n // 2 + 1,)]"""
    from scipy import fft

    spectrum = fft.rfft(values)
    return (
        np.asarray(fft.rfftfreq(values.size, 1.0 / rate_hz)),
        np.asarray(np.abs(spectrum) ** 2 / (values.size * rate_hz)),
    )
