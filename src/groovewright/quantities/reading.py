"""A reading has a value and a standard uncertainty, always (GUM, JCGM 100:2008)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.quantities.errors import InputError

FloatArray = NDArray[np.float64]

_erf = np.frompyfunc(math.erf, 1, 1)


@dataclass(frozen=True)
class Reading:
    """What an instrument said, and how well it could know.

    Parameters
    ----------
    value : float
        In the unit of the field that holds it.
    sd : float
        Standard uncertainty, same unit, >= 0.
    """

    value: float
    sd: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise InputError(f"a reading of {self.value} is not a finite number")
        if not (math.isfinite(self.sd) and self.sd >= 0.0):
            raise InputError(
                f"the standard uncertainty {self.sd} of reading {self.value:g} must be 0 or more"
            )

    def interval(self, probability: float = 0.95) -> tuple[float, float]:
        """Return the two ends of the interval that covers the truth with this probability (normal)."""
        half = normal_quantile(0.5 + probability / 2.0) * self.sd
        return self.value - half, self.value + half

    def probability_between(self, low: float, high: float) -> float:
        """Return the probability that the true value lies from `low` to `high` (normal)."""
        return float(probability_between(self.value, self.sd, low, high))


def normal_cdf(z: ArrayLike) -> FloatArray:
    """Return the standard normal distribution function, element by element. [shape=(...)]"""
    scaled = np.asarray(z, dtype=float) / math.sqrt(2.0)
    return np.asarray(0.5 * (1.0 + np.asarray(_erf(scaled), dtype=float)))


def normal_quantile(probability: float) -> float:
    """Return z with `normal_cdf(z) == probability`, for 0 < probability < 1."""
    from statistics import NormalDist

    return NormalDist().inv_cdf(probability)


def probability_between(mean: ArrayLike, sd: ArrayLike, low: ArrayLike, high: ArrayLike) -> FloatArray:
    """Return the probability that a normal quantity lies from `low` to `high`. [shape=(...), broadcast]

    With `sd` 0 the answer is 1 inside (ends included) and 0 outside.
    """
    mean, sd, low, high = np.broadcast_arrays(*(np.asarray(x, dtype=float) for x in (mean, sd, low, high)))
    safe = np.where(sd > 0.0, sd, 1.0)
    spread = normal_cdf((high - mean) / safe) - normal_cdf((low - mean) / safe)
    return np.where(sd > 0.0, spread, (mean >= low) & (mean <= high))


def mean_of(readings: Sequence[Reading]) -> Reading:
    """Return the mean of several readings of one quantity, weighted by 1 / sd^2 (GUM 5.1; JCGM 100:2008).

    Where the readings scatter more than their uncertainties allow, the uncertainty of the mean is widened by
    the Birge ratio (R. T. Birge, Phys. Rev. 40, 207, 1932). Readings with sd 0 are taken as exact and alone.
    """
    if not readings:
        raise InputError("the mean of no readings does not exist; give at least one")
    exact = [reading for reading in readings if reading.sd == 0.0]
    if exact:
        return Reading(float(np.mean([reading.value for reading in exact])), 0.0)
    values = np.array([reading.value for reading in readings])
    weights = np.array([reading.sd for reading in readings]) ** -2.0
    mean = float(np.average(values, weights=weights))
    sd = float(weights.sum() ** -0.5)
    if len(readings) > 1:
        birge = math.sqrt(float(weights @ (values - mean) ** 2) / (len(readings) - 1))
        sd *= max(1.0, birge)
    return Reading(mean, sd)


def propagate(function: Callable[..., float], *inputs: Reading) -> Reading:
    """Return `function` of independent readings with its uncertainty (GUM 5.1.2, central differences).

    The step is one standard uncertainty, as GUM 5.1.3 note 2 suggests, so that mild curvature is averaged.
    """
    values = [reading.value for reading in inputs]
    variance = 0.0
    for index, reading in enumerate(inputs):
        if reading.sd > 0.0:
            up, down = list(values), list(values)
            up[index] += reading.sd
            down[index] -= reading.sd
            variance += (0.5 * (function(*up) - function(*down))) ** 2
    return Reading(float(function(*values)), math.sqrt(variance))
