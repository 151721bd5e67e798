"""The probability that both yaws lie within the tolerance."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from groovewright.quantities import FloatArray, normal_cdf

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
REACH = 8.5
"""Standard deviations beyond which a normal density counts as nothing."""

_STEPS_PER_SD = 1000
_P = normal_cdf(np.linspace(-REACH, REACH, round(2 * REACH * _STEPS_PER_SD) + 1))
_RISE = np.diff(_P)
"""The normal distribution in steps of 0.001; linear interpolation is within 4e-8 (h^2 / 8 max|density'|)."""


def _cdf(z: FloatArray) -> FloatArray:
    """Return the normal distribution from the table: quicker than importing a library for it.

    The steps are even, so the place in the table is computed, not searched for.
    """
    place = np.minimum(np.maximum((z + REACH) * _STEPS_PER_SD, 0.0), len(_RISE) - 1e-6)
    step = place.astype(np.intp)
    return np.asarray(_P[step] + (place - step) * _RISE[step])


def probability_within(means_deg: ArrayLike, covariance: ArrayLike, tolerance_deg: float) -> FloatArray:
    """Return P(|yaw outer| <= t and |yaw inner| <= t) for normal yaws. [means: shape=(..., 2); returns (...)]

    One covariance [shape=(2, 2)] serves all means. The density of the first yaw times the conditional
    probability of the second, integrated over the first by Gauss-Legendre.
    """
    means = np.asarray(means_deg, dtype=float)
    covariance = np.asarray(covariance, dtype=float)
    first_sd = np.sqrt(max(covariance[0, 0], 1e-18))
    slope = covariance[0, 1] / first_sd**2
    second_sd = np.sqrt(max(covariance[1, 1] - slope * covariance[0, 1], 1e-18))
    low = np.maximum((-tolerance_deg - means[..., 0]) / first_sd, -REACH)
    high = np.minimum((tolerance_deg - means[..., 0]) / first_sd, REACH)
    half = 0.5 * np.maximum(high - low, 0.0)
    z = 0.5 * (low + high)[..., None] + half[..., None] * _NODES
    conditional = means[..., 1, None] + slope * first_sd * z
    inside = _cdf((tolerance_deg - conditional) / second_sd) - _cdf(
        (-tolerance_deg - conditional) / second_sd
    )
    density = np.exp(-0.5 * z**2) / np.sqrt(2.0 * np.pi)
    return np.asarray(half * np.sum(_WEIGHTS * density * inside, axis=-1))
