import math
import tracemalloc

import numpy as np
import pytest

from groovewright.quantities import InputError
from groovewright.simulate import hearing_blocks
from groovewright.simulate.hearing import Errors, play

RATE_HZ = 48_000


def played_with(sound, rate_hz, errors, *, block=None):
    """Return the whole result, from a walk in blocks of so many samples (all at once where not given)."""
    size = block or max(len(sound), 1)
    kept = []
    played = play(
        lambda: (sound[first : first + size] for first in range(0, len(sound), size)),
        rate_hz,
        errors,
        kept.append,
    )
    heard = np.concatenate(kept) * played.gain
    assert len(heard) == played.frames == len(sound)
    assert np.abs(heard).max() == pytest.approx(played.peak, abs=1e-12)
    return heard


def music(seconds=5.3):
    """Return noise from 40 Hz to 16 kHz whose loudness swells, unequal in both columns."""
    hz = np.fft.rfftfreq(round(seconds * RATE_HZ), 1.0 / RATE_HZ)
    shape = ((hz > 40.0) & (hz < 16_000.0)) / np.sqrt(1.0 + hz / 200.0)
    noise = np.random.default_rng(11).normal(size=(2, round(seconds * RATE_HZ)))
    sound = np.fft.irfft(np.fft.rfft(noise) * shape, n=noise.shape[1])
    swell = 1.0 + 0.8 * np.sin(2 * np.pi * 0.3 * np.arange(noise.shape[1]) / RATE_HZ)
    return (0.3 * sound / np.abs(sound).max() * swell).T


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


@pytest.mark.parametrize(
    "errors",
    [
        Errors(overhang_error_mm=4.0, swap_leads=True),
        Errors(off_centre_mm=5.0, speed_error_percent=-3.0, azimuth_deg=4.0),
        Errors(speed_error_percent=9.0, tracking_error_deg=-10.0, off_centre_mm=1.0),
    ],
)
def test_blocks_give_what_the_whole_gives(monkeypatch, errors):
    sound = music()
    with monkeypatch.context() as patch:
        patch.setattr(hearing_blocks, "BLOCK_S", 100.0)
        whole = played_with(sound, RATE_HZ, errors)
    monkeypatch.setattr(hearing_blocks, "BLOCK_S", 0.37)
    in_blocks = played_with(sound, RATE_HZ, errors, block=12_345)
    assert np.sqrt(np.mean(whole**2)) > 0.01
    np.testing.assert_allclose(in_blocks, whole, atol=1e-7)


def test_memory_does_not_grow_with_length():
    def peak_bytes(seconds):
        part = music(1.0)
        tracemalloc.start()
        play(lambda: (part for _ in range(seconds)), RATE_HZ, Errors(overhang_error_mm=3.0), lambda _: None)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return peak

    peak_bytes(8)
    assert peak_bytes(24) < 1.1 * peak_bytes(8)


def test_progress_is_told_up_to_the_end():
    told = []
    play(lambda: [tone()], RATE_HZ, Errors(), lambda _: None, progress=told.append)
    assert told == sorted(told)
    assert told[-1] == pytest.approx(1.0)
