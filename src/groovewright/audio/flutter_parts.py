"""A speed deviation as what is steady in it and what is random: rms and two-sigma, and how well a band tells them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from groovewright.audio.averages import widened
from groovewright.quantities import FloatArray, Reading

SHARE = 0.95
"""Two-sigma is the absolute deviation that is not exceeded for this share of the time; not twice the rms."""
TERMS = 20
"""Hermite terms of the share of time above a level; what is left out adds 1 % at most for white noise below 50 Hz."""
LEAST_WIDTH = 0.02
LONGEST_LAG_S = 2.0
"""What is further apart is independent: an arm's resonance rings for 0.2 s."""
LONGEST_S = 20.0
"""Of longer series this much tells the correlation."""


@dataclass(frozen=True)
class Parts:
    """A deviation behind a filter.

    Parameters
    ----------
    steady, random : FloatArray
        What is steady, and the rest. [shape=(n,)]
    steady_square : float
        Mean square of what is steady, over all time.
    """

    steady: FloatArray
    random: FloatArray
    steady_square: float
    rate_hz: float

    @property
    def whole(self) -> FloatArray:
        """Both parts together. [shape=(n,)]"""
        return np.asarray(self.steady + self.random)

    @property
    def sigma(self) -> float:
        """Rms of the random part."""
        return math.sqrt(float(np.mean(self.random**2)))

    @property
    def telling(self) -> int:
        """How many samples, from the first, tell how values hang together."""
        return min(self.random.size, int(LONGEST_S * self.rate_hz))

    @property
    def unfinished(self) -> float:
        """How far the mean square of what is steady is off in this series, which cuts off its periods."""
        return abs(float(np.mean(self.steady**2)) - self.steady_square)

    def cut(self, span: slice) -> Parts:
        """Return a stretch of it."""
        return replace(self, steady=self.steady[span], random=self.random[span])


def rms_of(parts: Parts) -> Reading:
    """Return the rms; its uncertainty from that of the mean square, whose Hermite terms are 2 s sigma and 2
    sigma^2.
    """
    value = math.sqrt(float(np.mean(parts.whole**2)))
    sigma = parts.sigma
    terms = (2.0 * sigma * parts.steady[: parts.telling], np.full(parts.telling, 2.0 * sigma**2))
    sd = math.hypot(mean_sd(terms, parts), parts.unfinished) / (2.0 * max(value, 1e-12))
    return Reading(value, sd + 1e-9)


def two_sigma(parts: Parts) -> Reading:
    """Return the absolute deviation that is not exceeded for 95 % of the time.

    Uncertainty of a quantile: that of the share of time above it, over the density of values there (R. J.
    Serfling, Approximation Theorems of Mathematical Statistics, 2.3.3). Being above q is, with u = (q - s) / sigma
    and v = (q + s) / sigma, a function of the random part with the Hermite terms phi(u) He_(m-1)(u) + (-1)^m
    phi(v) He_(m-1)(v).
    """
    level = float(np.quantile(np.abs(parts.whole), SHARE))
    if level == 0.0:
        return Reading(0.0, 1e-9)
    # where there is next to nothing random the density is smoothed over this much
    sigma = max(parts.sigma, LEAST_WIDTH * level)
    steady = parts.steady[: parts.telling]
    u, v = (level - steady) / sigma, (level + steady) / sigma
    above, below = _normal(u), _normal(v)
    terms = []
    shrunk = parts.sigma / sigma
    before, now = (np.zeros_like(u), np.zeros_like(v)), (np.ones_like(u), np.ones_like(v))
    for order in range(1, TERMS + 1):
        terms.append(shrunk**order * (above * now[0] + (-1.0) ** order * below * now[1]))
        # He_m = x He_(m-1) - (m - 1) He_(m-2)
        before, now = (
            now,
            (u * now[0] - (order - 1) * before[0], v * now[1] - (order - 1) * before[1]),
        )
    density = float(np.mean(above + below)) / sigma
    sd = mean_sd(terms, parts) / max(density, 1e-12)
    unfinished = 0.5 * level * parts.unfinished / float(np.mean(parts.whole**2))
    return Reading(level, math.hypot(sd, unfinished) + 1e-9)


def _normal(x: FloatArray) -> FloatArray:
    return np.asarray(np.exp(-0.5 * x**2) / math.sqrt(2.0 * math.pi))


def mean_sd(terms: Sequence[FloatArray], parts: Parts) -> float:
    """Return the standard uncertainty of the mean over time of a function of steady and random part.

    Parameters
    ----------
    terms : sequence of FloatArray
        Hermite terms c_m(t) = E[f He_m(g)], m from 1, of that function, for a random part sigma g. [each
        shape=(telling,)]

    Notes
    -----
    The random part is taken as Gaussian and stationary, with the autocorrelation r found in it. By Mehler's formula
    (J. reine angew. Math. 66, 161, 1866) values at two times have the covariance sum of c_m(t) c_m(t') r(t - t')^m /
    m!; the mean's variance is its double integral over T^2. So a narrow spectrum, in which few values are independent,
    counts as it should, and all of the series tells r, where the scatter of a few stretches would be known badly.
    """
    from scipy import fft

    count = parts.telling
    lags = int(min(LONGEST_LAG_S * parts.rate_hz, count / 4))
    size = fft.next_fast_len(count + lags, real=True)

    def products(values: FloatArray) -> FloatArray:
        """Return the sum of products at each lag. [shape=(lags,)]"""
        spectrum = fft.rfft(values, n=size)
        return np.asarray(fft.irfft(np.abs(spectrum) ** 2, n=size)[:lags])

    same = products(parts.random[:count])
    taper = np.cos(0.5 * np.pi * np.arange(lags) / lags) ** 2
    correlation = taper * same / max(float(same[0]), 1e-300)
    sides = np.full(lags, 2.0)
    sides[0] = 1.0
    shares = [
        float(np.sum(sides * correlation**order * products(term))) / math.factorial(order)
        for order, term in enumerate(terms, 1)
    ]
    length = lags / count
    # the fit of what is steady left nothing of the random part at the steady frequencies, 1 / T wide
    along = max(shares[0], 0.0) / (1.0 - length)
    # squares of what chance leaves in r at long lags add up to this share (the integral of the taper's square)
    rest = max(shares[1] / (1.0 + 0.75 * length) + sum(shares[2:]), 0.0)
    variance = (along + rest) / (count * float(parts.random.size))
    # the density at the steady frequencies is known from this many degrees of freedom (R. B. Blackman and J. W. Tukey,
    # The Measurement of Power Spectra, 1958); GUM G.4 (JCGM 100:2008) adds up
    freedom = 2.0 / (0.75 * length) / max(along / max(along + rest, 1e-300), 1e-3) ** 2
    return widened(math.sqrt(variance), freedom)
