"""The electrical match as a whole, and the level budget."""

from __future__ import annotations

import numpy as np
import pytest

from groovewright.electrics import Chain, Signal, StepUp, curve_db, draws, level_budget, study
from groovewright.electrics.levels import BOLTZMANN_J_PER_K
from groovewright.quantities import CannotBeDoneError, Reading

MAGNET = Chain(Reading(800, 40), Reading(500, 25))
SIGNAL = Signal(Reading(5.0, 0.5), 5.0 / np.sqrt(2.0), 500.0)


def test_half_a_henry_into_47k_and_200_pF_is_outside_2_db() -> None:
    found = study(MAGNET, 47000, 200)
    # -3.207 dB at 20 kHz is the largest departure (confirmed with ngspice)
    assert found.setting.deviation_db.value == pytest.approx(3.207, abs=0.001)
    assert found.verdict == "outside tolerance"
    assert found.sentence.startswith("Outside tolerance: into 47 kΩ with 200 pF")
    assert found.peak_db is not None
    assert found.peak_hz is not None
    at_peak = found.response_db[np.abs(found.frequency_hz - found.peak_hz.value).argmin()]
    assert found.peak_db.value == pytest.approx(at_peak, abs=0.01)


def test_the_band_holds_the_curve_and_is_narrow_where_parts_do_not_matter() -> None:
    found = study(MAGNET, 47000, 200)
    assert (found.low_db <= found.response_db + 1e-9).all()
    assert (found.high_db >= found.response_db - 1e-9).all()
    versions = draws(MAGNET, 2000, seed=77)
    others = curve_db(versions, versions.load(47000, 200))
    inside = np.mean((others >= found.low_db) & (others <= found.high_db), axis=0)
    assert inside[found.frequency_hz == 20000.0] == pytest.approx(0.95, abs=0.02)
    width = found.high_db - found.low_db
    assert width[found.frequency_hz == 100.0][0] < 0.02
    assert width[found.frequency_hz == 20000.0][0] > 0.5


def test_without_a_load_the_study_is_about_the_best_that_is_offered() -> None:
    found = study(MAGNET, None, None, [33000, 47000, 68000], [50, 100, 150, 220])
    assert found.setting == found.recommendation.best
    assert "this is the flattest" in found.sentence


def test_a_part_that_is_not_a_choice_is_the_one_that_is_there() -> None:
    found = study(MAGNET, 47000, 200, offered_pF=[50, 100])
    assert found.recommendation.best.load_ohm == 47000


def test_without_any_load_the_error_says_what_is_missing() -> None:
    with pytest.raises(CannotBeDoneError, match="load capacitance is not known"):
        study(MAGNET, 47000, None)


def test_a_lossy_coil_may_have_no_peak_and_says_so() -> None:
    chain = Chain(Reading(800, 8), Reading(500, 5), iron_loss_ohm=Reading(50_000, 2500))
    found = study(chain, 47000, 200)
    assert found.peak_hz is None
    assert found.peak_db is None
    assert found.probability_of_peak < 0.05


def test_a_moving_coil_behind_a_transformer_has_a_verdict_too() -> None:
    transformer = StepUp(10, 2.0, 300.0, 0.5, 20.0, winding_pF=100.0)
    found = study(Chain(Reading(12, 0.6), Reading(0.05, 0.0025), step_up=transformer), 47000, 200)
    assert found.verdict == "within tolerance"
    assert found.resonance_hz is None


def test_level_budget_of_a_moving_magnet_by_hand() -> None:
    found = level_budget(MAGNET, SIGNAL, 47000, 200)
    # the divider 47000 / 47800 loses 0.147 dB, arithmetic; at 1 kHz L and C change it by 0.01 dB
    assert found.gain_needed_db.value == pytest.approx(40.147, abs=0.02)
    # 10 % of the output is 0.87 dB (20 / ln 10 * 0.1)
    assert found.gain_needed_db.sd == pytest.approx(0.869, abs=0.01)
    assert found.overload_margin_db is None
    assert found.signal_to_hum_db is None


def test_signal_to_noise_of_a_purely_resistive_source_by_hand() -> None:
    # 12 ohm beside 100 ohm with a curve that changes little: without equalisation it would be
    # 20 log10(signal / sqrt(4 k T R B)); replay equalisation of white noise from 20 Hz to 20 kHz lowers it to
    # the integral of the curve, computed here by scipy
    from scipy.integrate import quad

    def weight(hz: float) -> float:
        w = 2.0 * np.pi * hz
        return (1 + (w * 318e-6) ** 2) / ((1 + (w * 3180e-6) ** 2) * (1 + (w * 75e-6) ** 2))

    area = quad(weight, 20, 20000, limit=500, points=[50, 500, 2000])[0] / weight(1000.0)
    resistance = 12.0 * 100.0 / 112.0
    noise = np.sqrt(4.0 * BOLTZMANN_J_PER_K * 296.0 * resistance * area)
    expected = 20.0 * np.log10(0.3e-3 * 100.0 / 112.0 / noise)
    chain = Chain(Reading(12, 0), Reading(1e-4, 0), load_ohm_relative_sd=0.0)
    found = level_budget(chain, Signal(Reading(0.3, 0.0), 3.54, 500.0), 100, 0.0)
    assert found.signal_to_noise_db.value == pytest.approx(expected, abs=0.002)


def test_a_weighting_and_the_amendment_leave_less_noise() -> None:
    found = level_budget(MAGNET, SIGNAL, 47000, 200)
    plain = found.signal_to_noise_db.value
    assert found.signal_to_noise_amended_db.value > plain
    assert found.signal_to_noise_a_db.value > plain + 1.0
    noisy = level_budget(MAGNET, Signal(Reading(5.0, 0.5), 3.54, 500.0, amplifier_nV=20.0), 47000, 200)
    assert noisy.signal_to_noise_db.value < plain - 1.0


def test_hum_at_50_hz_is_raised_by_the_replay_curve() -> None:
    signal = Signal(Reading(5.0, 0.5), 3.54, 500.0, hum=((50.0, 1.0),))
    found = level_budget(MAGNET, signal, 47000, 200)
    assert found.signal_to_hum_db is not None
    assert found.signal_to_hum_a_db is not None
    # 5 mV less 0.147 dB over 1 uV is 73.83 dB; the curve adds 16.946 dB at 50 Hz (IEC 60098)
    assert found.signal_to_hum_db.value == pytest.approx(73.979 - 0.147 - 16.946, abs=0.02)
    # A-weighting is -30.2 dB at 50 Hz (IEC 61672-1)
    assert found.signal_to_hum_a_db.value - found.signal_to_hum_db.value == pytest.approx(30.2, abs=0.1)


def test_overload_margin_is_least_where_the_loudest_grooves_are() -> None:
    signal = Signal(Reading(5.0, 0.5), 5.0 / np.sqrt(2.0), 500.0, overload_mV=80.0)
    found = level_budget(MAGNET, signal, 47000, 200)
    assert found.overload_margin_db is not None
    assert found.overload_at_hz == 3000.0
    # 1.414 mV per cm/s, 45 cm/s peak are 45 mV rms; 80 / 45 is 5.0 dB, the divider gives 0.15 dB back and the
    # circuit takes 0.13 dB at 3 kHz
    assert found.overload_margin_db.value == pytest.approx(5.0, abs=0.1)
