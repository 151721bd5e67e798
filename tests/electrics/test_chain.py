"""Uncertainty of a chain: what is stated must hold."""

from __future__ import annotations

import numpy as np
import pytest

from groovewright.electrics.chain import (
    SWEEP_HZ,
    Chain,
    Draws,
    curve_db,
    deviation_db,
    draws,
    nominal,
    peak,
    reading_if_any,
    reading_of,
    rms_deviation_db,
)
from groovewright.electrics.parts import Coil, StepUp
from groovewright.quantities import FloatArray, Reading


def chain_of(resistance: float, inductance: float, cable: float) -> Chain:
    return Chain(
        Reading(resistance, 0.05 * resistance),
        Reading(inductance, 0.05 * inductance),
        Reading(cable, 0.1 * cable),
    )


def figures(versions: Draws, offered_pF: float) -> dict[str, FloatArray]:
    load = versions.load(47000.0, offered_pF)
    peak_hz, peak_db = peak(versions, load)
    return {"peak_hz": peak_hz, "peak_db": peak_db, "deviation_db": deviation_db(versions, load)}


def test_stated_95_percent_intervals_cover_the_truth_in_simulation() -> None:
    """1500 cartridges whose parts are only known to 5 and 10 %: how often the interval holds the truth."""
    rng = np.random.default_rng(5)

    def off(value: float, relative_sd: float) -> float:
        return float(value * np.exp(relative_sd * rng.standard_normal()))

    inside: dict[str, list[bool]] = {"peak_hz": [], "peak_db": [], "deviation_db": []}
    for _ in range(1500):
        resistance, inductance = rng.uniform(300, 1500), rng.uniform(200, 900)
        cable, offered_pF = rng.uniform(60, 200), rng.uniform(50, 250)
        truth = Draws(
            Coil(np.array([resistance]), np.array([inductance])),
            np.array([cable]),
            np.array([off(1.0, 0.01)]),
            np.array([off(1.0, 0.05)]),
        )
        known = chain_of(off(resistance, 0.05), off(inductance, 0.05), off(cable, 0.1))
        true, stated, drawn = (
            figures(versions, offered_pF) for versions in (truth, nominal(known), draws(known, 1000))
        )
        for name, hits in inside.items():
            reading = reading_if_any(float(stated[name][0]), drawn[name])
            if reading is not None and np.isfinite(true[name][0]):
                low, high = reading.interval()
                hits.append(low <= true[name][0] <= high)
    for name, hits in inside.items():
        assert len(hits) > 1300, name
        assert 0.93 <= np.mean(hits) <= 0.97, (name, np.mean(hits))


def test_the_spread_for_small_tolerances_is_that_of_the_derivatives() -> None:
    # GUM 5.1.2 by hand: ln f = -(ln L + ln C) / 2, so 2 % of L and 3 % of C give 1.80 % of the resonance
    from groovewright.electrics.circuit import resonance

    chain = Chain(Reading(800, 0), Reading(500, 10), cable_pF=Reading(200, 6), load_ohm_relative_sd=0.0)
    versions = draws(chain, 20000)
    hz = resonance(versions.coil, versions.load(47000, 0.0)).resonance_hz
    assert reading_of(15915.5, hz).sd / 15915.5 == pytest.approx(0.0180, abs=0.0005)


def test_draws_are_the_same_each_time_and_unlike_with_another_seed() -> None:
    chain = chain_of(800, 500, 100)
    first, again, other = draws(chain, 10), draws(chain, 10), draws(chain, 10, seed=3)
    assert np.array_equal(np.asarray(first.coil.inductance_mH), np.asarray(again.coil.inductance_mH))
    assert not np.array_equal(np.asarray(first.coil.inductance_mH), np.asarray(other.coil.inductance_mH))


def test_the_sweep_goes_from_10_hz_to_50_khz_and_has_the_round_frequencies() -> None:
    assert (SWEEP_HZ[0], SWEEP_HZ[-1]) == (10.0, 50000.0)
    assert (np.diff(SWEEP_HZ) > 0).all()
    for hz in (20, 50, 100, 1000, 2000, 5000, 10000, 12000, 15000, 20000):
        assert hz in SWEEP_HZ


def test_every_draw_has_its_own_curve_and_each_is_zero_at_1_khz() -> None:
    versions = draws(chain_of(800, 500, 100), 5)
    curves = curve_db(versions, versions.load(47000, 100))
    assert curves.shape == (5, len(SWEEP_HZ))
    assert np.abs(curves[:, SWEEP_HZ == 1000.0]).max() < 1e-12


def test_rms_departure_has_even_weight_per_octave() -> None:
    # an RL low-pass (no capacitance): the mean square of its level over ln f by scipy's quadrature
    from scipy.integrate import quad

    def level(hz: float) -> float:
        return float(-10.0 * np.log10(1.0 + (2.0 * np.pi * hz * 0.5 / 47800.0) ** 2))

    def square(log_hz: float) -> float:
        return (level(np.exp(log_hz)) - level(1000.0)) ** 2

    area = quad(square, np.log(20.0), np.log(20000.0), limit=200)[0]
    paper = nominal(Chain(Reading(800, 0), Reading(500, 0)))
    found = rms_deviation_db(paper, paper.load(47000, 0.0))[0]
    assert found == pytest.approx(np.sqrt(area / np.log(1000.0)), abs=0.001)


def test_a_transformers_deviation_is_the_cut_of_its_primary_at_20_hz() -> None:
    # corner of 10 ohm beside 470 ohm at 0.05 H: 31.2 Hz; at 20 Hz 10 log10(1 + (31.2/20)^2) = 5.35 dB
    chain = Chain(Reading(10, 0), Reading(1e-6, 0), step_up=StepUp(10, 0.0, 0.001, 0.05))
    paper = nominal(chain)
    assert deviation_db(paper, paper.load(47000.0, 0.0))[0] == pytest.approx(5.35, abs=0.02)


def test_a_transformers_peak_is_that_of_its_leakage_with_the_reflected_capacitance() -> None:
    # leakage 100 uH; 500 pF seen as n^2 500 pF = 50 nF from the primary: an RLC low-pass of 100 uH, 10 ohm
    # before and 470 ohm beside 50 nF, which `resonance` solves in closed form
    from groovewright.electrics.circuit import resonance
    from groovewright.electrics.parts import Load

    chain = Chain(
        Reading(10, 0),
        Reading(1e-6, 0),
        step_up=StepUp(10, 0.0, 1e-6, 1e6, leakage_uH=100.0, winding_pF=500.0),
    )
    paper = nominal(chain)
    peak_hz, peak_db = peak(paper, paper.load(47000.0, 0.0))
    expected = resonance(Coil(10, 0.100001), Load(470.0, 50000.0))
    assert peak_hz[0] == pytest.approx(float(expected.peak_hz), rel=2e-4)
    assert peak_db[0] == pytest.approx(float(expected.peak_db), abs=0.001)


def test_a_transformer_whose_response_only_falls_has_no_peak() -> None:
    chain = Chain(Reading(40, 0), Reading(1e-6, 0), step_up=StepUp(10, 5.0, 100.0, 1e3, leakage_uH=1000.0))
    paper = nominal(chain)
    peak_hz, peak_db = peak(paper, paper.load(10000.0, 0.0))
    assert np.isnan(peak_hz[0])
    assert np.isnan(peak_db[0])


def test_a_value_that_is_not_there_gives_no_reading() -> None:
    assert reading_if_any(float("nan"), [1.0, 2.0]) is None
    assert reading_if_any(1.0, [1.0, np.nan, 3.0]) == Reading(1.0, np.sqrt(2.0))
