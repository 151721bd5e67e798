"""Readings, their means and their propagation."""

import math

import numpy as np
import pytest
from scipy.stats import norm

from groovewright.quantities import (
    InputError,
    Reading,
    mean_of,
    normal_cdf,
    normal_quantile,
    probability_between,
    propagate,
)


def test_normal_distribution_is_scipys():
    z = np.linspace(-6.0, 6.0, 101)
    assert normal_cdf(z) == pytest.approx(norm.cdf(z), abs=1e-12)
    assert normal_quantile(0.975) == pytest.approx(norm.ppf(0.975), abs=1e-9)


def test_stated_intervals_of_a_mean_cover_the_truth():
    random = np.random.default_rng(12)
    covered = 0
    for _ in range(4000):
        sds = random.uniform(0.05, 0.5, 5)
        readings = [Reading(1.8 + sd * random.standard_normal(), sd) for sd in sds]
        low, high = mean_of(readings).interval()
        covered += low <= 1.8 <= high
    # the Birge ratio only widens, so a little more than 95 % is right
    assert 0.94 <= covered / 4000 <= 0.985


def test_readings_that_disagree_widen_the_mean():
    agreeing = mean_of([Reading(1.80, 0.01), Reading(1.81, 0.01)])
    disagreeing = mean_of([Reading(1.70, 0.01), Reading(1.90, 0.01)])
    assert agreeing.sd == pytest.approx(0.01 / math.sqrt(2.0))
    assert disagreeing.sd == pytest.approx(0.1)


def test_relative_uncertainties_of_a_quotient_add_in_squares():
    # JCGM 100:2008, 5.1.6, equation (12)
    result = propagate(lambda volt, ampere: volt / ampere, Reading(5.0, 0.005), Reading(0.02, 0.0001))
    relative = math.hypot(0.005 / 5.0, 0.0001 / 0.02)
    assert result.value == pytest.approx(250.0)
    assert result.sd == pytest.approx(250.0 * relative, rel=1e-4)


def test_probability_between_with_and_without_spread():
    assert float(probability_between(0.0, 0.0, -1.0, 1.0)) == 1.0
    assert float(probability_between(2.0, 0.0, -1.0, 1.0)) == 0.0
    assert float(probability_between(0.0, 1.0, -1.959964, 1.959964)) == pytest.approx(0.95, abs=1e-6)


@pytest.mark.parametrize(("value", "sd"), [(math.nan, 0.1), (1.0, -0.1), (1.0, math.inf)])
def test_a_reading_needs_a_finite_value_and_an_uncertainty(value, sd):
    with pytest.raises(InputError):
        Reading(value, sd)


def test_the_mean_of_nothing_is_refused():
    with pytest.raises(InputError, match="at least one"):
        mean_of([])
