import math

import numpy as np
import pytest

from groovewright.quantities import InputError
from groovewright.simulate.hearing import Errors, played_with

RATE_HZ = 48_000


def tone(hz=1000.0, seconds=3.0, amplitude=0.3):
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    ramp = np.minimum(1.0, t / 0.5)
    return np.stack([amplitude * ramp * np.sin(2 * np.pi * hz * t)] * 2, axis=1)


def spectrum(sound):
    part = sound[RATE_HZ : 2 * RATE_HZ]
    return np.abs(np.fft.rfft(part, axis=0)) / RATE_HZ * 2


def test_without_an_error_the_recording_comes_back():
    sound = tone(440.0)
    heard = played_with(sound, RATE_HZ, Errors())
    np.testing.assert_allclose(heard[RATE_HZ:-RATE_HZ], sound[RATE_HZ:-RATE_HZ], atol=0.003)


def test_a_tracking_error_adds_the_second_harmonic_of_the_groove_formula():
    """V / v tan(e) (Baerwald 1941) times 0.742 of the equaliser: 15 cm/s, 65 mm, 33 1/3 rpm, 3 degrees."""
    levels = spectrum(played_with(tone(), RATE_HZ, Errors(tracking_error_deg=3.0)))[:, 0]
    expected = 15.0 / (2 * math.pi / 1.8 * 6.5) * math.tan(math.radians(3.0)) * 10 ** (-2.589 / 20)
    assert levels[2000] / levels[1000] == pytest.approx(expected, rel=0.03)


def test_an_overhang_error_is_heard_as_the_tracking_error_it_makes():
    """3 mm too much overhang turns the front out at the inner grooves (common practice fixes the sign)."""
    errors = Errors(overhang_error_mm=3.0)
    assert -4.0 < errors.yaw_deg < -1.5
    assert Errors(overhang_error_mm=-3.0).yaw_deg > 1.5
    levels = spectrum(played_with(tone(), RATE_HZ, errors))[:, 0]
    assert levels[2000] / levels[1000] > 0.015


def test_lean_leads_and_coil_change_the_channels():
    left = tone()
    left[:, 1] = 0.0
    leaning = spectrum(played_with(left, RATE_HZ, Errors(azimuth_deg=3.0)))[1000]
    assert 20 * math.log10(leaning[1] / leaning[0]) == pytest.approx(-25.6, abs=0.1)
    swapped = spectrum(played_with(left, RATE_HZ, Errors(swap_leads=True)))[1000]
    assert swapped[0] < 0.01 * swapped[1]
    turned = played_with(tone(), RATE_HZ, Errors(reverse_coil=True))
    np.testing.assert_allclose(turned[:, 0], -turned[:, 1], atol=1e-9)


def test_speed_moves_the_pitch():
    levels = spectrum(played_with(tone(), RATE_HZ, Errors(speed_error_percent=-2.0)))[:, 0]
    assert np.argmax(levels) == 980


@pytest.mark.parametrize(
    "errors", [Errors(), Errors(azimuth_deg=30.0), Errors(tracking_error_deg=20.0), Errors(off_centre_mm=5.0)]
)
def test_the_result_is_never_louder_and_never_clips(errors):
    sound = tone(amplitude=1.0)
    heard = played_with(sound, RATE_HZ, errors)
    assert np.abs(heard).max() <= 0.8901
    assert np.sqrt(np.mean(heard**2)) <= np.sqrt(np.mean(sound**2)) * 1.0001


def test_silence_and_scraps_are_refused():
    for sound in (np.zeros((RATE_HZ, 2)), tone()[:100]):
        with pytest.raises(InputError, match="silent or shorter"):
            played_with(sound, RATE_HZ, Errors())
