import numpy as np
import pytest

from groovewright.audio import Law, Replay
from groovewright.audio.equaliser import cut_velocity, expected_gain, gain_between, replay_gain

# Computed from the time constants 3180, 318 and 75 us of IEC 60098; dB re 1 kHz.
TABLE = {
    20: 19.274,
    50: 16.946,
    100: 13.088,
    500: 2.648,
    2122: -2.866,
    5000: -8.210,
    10000: -13.734,
    20000: -19.620,
}


@pytest.mark.parametrize(("hz", "level_db"), TABLE.items())
def test_the_replay_equaliser_has_its_tabulated_levels(hz, level_db):
    assert 20.0 * np.log10(abs(replay_gain(hz))) == pytest.approx(level_db, abs=0.001)


def test_a_second_harmonic_of_1_khz_loses_a_quarter_on_the_way_to_the_file():
    """-2.589 dB at 2 kHz (IEC 60098, computed): 0.742, often rounded to -2.6 dB, which is 0.741."""
    assert abs(replay_gain(1000.0)) == pytest.approx(1.0, abs=1e-12)
    assert abs(replay_gain(2000.0)) == pytest.approx(10.0 ** (-2.589 / 20.0), abs=0.0001)


def test_the_1976_amendment_takes_3_db_at_20_hz():
    """7950 us is a first-order high-pass at 20.02 Hz (IEC 98, amendment 4): -3.01 dB there, nothing at 1
    kHz.
    """
    ratio = np.abs(gain_between(20.02, Replay.EQUALISED_1976) / gain_between(20.02, Replay.EQUALISED))
    assert 20.0 * np.log10(ratio) == pytest.approx(-3.01, abs=0.01)


def test_an_equalised_cut_is_flat_after_replay_and_constant_velocity_shows_the_curve():
    hz = np.array([20.0, 100.0, 5000.0, 20000.0])
    np.testing.assert_allclose(expected_gain(hz, Law.EQUALISED, Replay.EQUALISED), 1.0, atol=1e-9)
    np.testing.assert_allclose(
        20 * np.log10(expected_gain(hz, Law.CONSTANT_VELOCITY, Replay.EQUALISED)),
        [19.274, 13.088, -8.210, -19.620],
        atol=0.001,
    )
    np.testing.assert_allclose(cut_velocity(hz, Law.CONSTANT_AMPLITUDE), hz / 1000.0)
    np.testing.assert_allclose(expected_gain(hz, Law.CONSTANT_VELOCITY, Replay.NONE), 1.0)
