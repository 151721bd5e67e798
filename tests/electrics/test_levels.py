"""Levels and noise against textbook values and numerical integration."""

from __future__ import annotations

import mpmath
import numpy as np
import pytest

from groovewright.electrics.circuit import terminal_impedance_ohm
from groovewright.electrics.equaliser import MICROGROOVE, a_weighting_db, replay_db, with_amendment
from groovewright.electrics.levels import (
    LOUD_GROOVES,
    NOISE_HZ,
    gain_needed_db,
    hum_uV,
    loop_hum_uV,
    noise_density_nV,
    noise_uV,
    output_limited_overload_mV,
    overload_margin_db,
    peak_from_rms,
    rms_from_peak,
    sensitivity_mV_s_per_cm,
    signal_to_noise_db,
    thermal_noise_uV,
    transimpedance_needed_ohm,
)
from groovewright.electrics.parts import Coil, Load

K = 1.380649e-23


def test_47_kohm_at_300_kelvin_over_20_khz_make_3_95_microvolt() -> None:
    # sqrt(4 k T R B), textbook
    assert thermal_noise_uV(47000, 20000, temperature_K=300) == pytest.approx(3.95, abs=0.005)


def test_the_integral_over_a_plain_resistor_is_the_textbook_value() -> None:
    density = noise_density_nV(np.full(NOISE_HZ.shape, 47000.0 + 0j), temperature_K=300.0)
    expected_uV = 1e6 * np.sqrt(4.0 * K * 300.0 * 47000.0 * (20000.0 - 20.0))
    assert noise_uV(NOISE_HZ, density) == pytest.approx(expected_uV, rel=1e-5)


@pytest.mark.parametrize("amended", [False, True])
@pytest.mark.parametrize("a_weighted", [False, True])
def test_noise_of_a_loaded_moving_magnet_agrees_with_mpmath(amended: bool, a_weighted: bool) -> None:
    """The whole chain written anew in mpmath: circuit, equaliser, A-weighting, and its own quadrature."""
    R, L, RL, C, en, i_n, T = 800.0, 0.5, 47000.0, 2e-10, 5e-9, 0.5e-12, 296.0

    def equaliser(f: mpmath.mpf) -> mpmath.mpf:
        s = 2j * mpmath.pi * f
        h = (1 + s * 318e-6) / ((1 + s * 3180e-6) * (1 + s * 75e-6))
        return abs(h * (s * 7950e-6 / (1 + s * 7950e-6) if amended else 1))

    def a_curve(f: mpmath.mpf) -> mpmath.mpf:
        f1, f2, f3, f4 = 20.598997, 107.65265, 737.86223, 12194.217
        return f4**2 * f**4 / ((f**2 + f1**2) * mpmath.sqrt((f**2 + f2**2) * (f**2 + f3**2)) * (f**2 + f4**2))

    def power(f: mpmath.mpf) -> mpmath.mpf:
        s = 2j * mpmath.pi * f
        z = 1 / (1 / (R + s * L) + 1 / RL + s * C)
        density = 4 * K * T * z.real + en**2 + (i_n * abs(z)) ** 2
        weight = equaliser(f) / equaliser(mpmath.mpf(1000))
        if a_weighted:
            weight *= a_curve(f) / a_curve(mpmath.mpf(1000))
        return density * weight**2

    expected_uV = 1e6 * mpmath.sqrt(mpmath.quad(power, [20, 50, 200, 1000, 5000, 12000, 20000]))
    impedance = terminal_impedance_ohm(Coil(800, 500), Load(47000, 200), NOISE_HZ)
    density = noise_density_nV(impedance, amplifier_nV=5.0, amplifier_pA=0.5, temperature_K=296.0)
    curves = [replay_db(NOISE_HZ, with_amendment(MICROGROOVE) if amended else MICROGROOVE)]
    if a_weighted:
        curves.append(a_weighting_db(NOISE_HZ))
    difference_db = 20.0 * np.log10(float(noise_uV(NOISE_HZ, density, *curves)) / float(expected_uV))
    assert abs(difference_db) < 0.001


def test_noise_of_many_cartridges_is_one_number_each() -> None:
    coil = Coil(np.full((6, 1), 800.0), np.linspace(100, 900, 6)[:, None])
    density = noise_density_nV(terminal_impedance_ohm(coil, Load(47000, 200), NOISE_HZ))
    noise = noise_uV(NOISE_HZ, density)
    assert noise.shape == (6,)
    assert (np.diff(noise) > 0.0).all()


def test_five_cm_per_s_peak_are_3_54_rms() -> None:
    # 5 / sqrt(2), arithmetic; the pair of figures is common practice on data sheets
    assert rms_from_peak(5.0) == pytest.approx(3.54, abs=0.005)
    assert peak_from_rms(3.5355339) == pytest.approx(5.0, abs=1e-6)


def test_5_mV_at_5_cm_per_s_peak_need_40_db_to_half_a_volt() -> None:
    # 500 / 5 is 100 is 40 dB, arithmetic
    assert gain_needed_db(5.0, 1.0, 500.0) == pytest.approx(40.0, abs=1e-9)
    assert sensitivity_mV_s_per_cm(5.0, rms_from_peak(5.0)) == pytest.approx(1.414, abs=0.0005)


def test_a_current_input_needs_line_level_over_current() -> None:
    # 0.3 mV over 12 + 3 ohm is 20 uA; 500 mV over 20 uA is 25 kOhm, Ohm's law
    assert transimpedance_needed_ohm(0.3, 1.0 / 15.0, 500.0) == pytest.approx(25000.0, rel=1e-9)


def test_overload_margin_is_the_ratio_of_the_limit_to_the_loudest_signal() -> None:
    # 1.414 mV for 1 cm/s rms, 50 cm/s peak: 50 mV rms; a limit of 100 mV is 6.02 dB above, arithmetic
    assert overload_margin_db(np.sqrt(2.0), 1.0, 50.0, 100.0) == pytest.approx(6.0206, abs=1e-4)


def test_a_stage_that_clips_at_its_output_takes_more_treble_and_less_bass() -> None:
    overload = output_limited_overload_mV(100.0, replay_db([20.0, 1000.0, 20000.0]))
    # +19.274 dB and -19.620 dB of the replay curve (IEC 60098), turned round
    assert 20.0 * np.log10(overload / 100.0) == pytest.approx([-19.274, 0.0, 19.620], abs=0.001)


def test_the_loud_grooves_stay_within_what_a_cutter_can_move() -> None:
    # amplitude = v / (2 pi f): 0.1 mm at most, so that grooves fit on the record (common practice)
    hz, velocity = np.array(LOUD_GROOVES).T
    amplitude_mm = 10.0 * velocity / (2.0 * np.pi * hz)
    assert amplitude_mm.max() < 0.1
    assert (np.diff(hz) > 0).all()


def test_hum_adds_as_power_and_follows_the_weighting() -> None:
    assert hum_uV([3.0, 4.0]) == pytest.approx(5.0)
    # A-weighting at 50 Hz is -30.2 dB (IEC 61672-1): a factor of 32.4
    assert hum_uV([1.0], a_weighting_db([50.12])) == pytest.approx(10 ** (-30.2 / 20), rel=0.01)


def test_a_loop_of_one_square_centimetre_in_one_microtesla_at_50_hz() -> None:
    # 2 pi 50 * 1e-6 T * 1e-4 m^2 = 31.4 nV, Faraday
    assert loop_hum_uV(1.0, 1.0, 50.0) == pytest.approx(0.0314159, rel=1e-5)


def test_signal_to_noise_of_5_millivolt_over_half_a_microvolt_is_80_db() -> None:
    assert signal_to_noise_db(5.0, 0.5) == pytest.approx(80.0, abs=1e-9)
