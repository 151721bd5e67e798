import numpy as np
import pytest
import soundfile

from groovewright.audio import Band, BandList, Kind, assess, hear_recording
from groovewright.audio.gather import BandGatherer
from groovewright.audio.holes import LEAST_SHARE
from groovewright.audio.spectra import plan_for

RATE_HZ = 48_000
BAND = Band("quiet", Kind.SILENCE, 0.0, 12.0)


def hiss(seconds=12, seed=3):
    """Return noise that falls with frequency, as a replayed groove's does."""
    noise = np.random.default_rng(seed).standard_normal((seconds * RATE_HZ, 2))
    spectrum = np.fft.rfft(noise, axis=0)
    hz = np.fft.rfftfreq(len(noise), 1.0 / RATE_HZ)[:, None]
    return 0.003 * np.fft.irfft(spectrum / np.sqrt(1.0 + (hz / 500.0) ** 2), axis=0)


def holes_of(sound):
    gatherer = BandGatherer(BAND, plan_for(RATE_HZ))
    gatherer.feed(sound.astype(np.float32), 0)
    return gatherer.finish().holes


@pytest.mark.parametrize("seed", range(4))
def test_noise_has_no_holes(seed):
    assert holes_of(hiss(seed=seed)) == 0.0


def test_moments_without_a_part_of_the_spectrum_are_holes():
    sound = hiss()
    size = 1152
    window = np.ones(size)
    for start in range(0, len(sound) - size, 40 * size):
        spectrum = np.fft.rfft(sound[start : start + 2 * size] * 1.0, axis=0)
        hz = np.fft.rfftfreq(2 * size, 1.0 / RATE_HZ)
        spectrum[(hz > 11_000) & (hz < 13_000)] = 0.0
        sound[start : start + 2 * size] = np.fft.irfft(spectrum, axis=0)[: len(window) * 2]
    assert holes_of(sound) > LEAST_SHARE


@pytest.mark.parametrize("level", [0.6, 0.9])
def test_a_real_lossy_coder_is_found_out_and_noise_withheld(tmp_path, level):
    if "MP3" not in soundfile.available_formats():
        pytest.skip("this libsndfile writes no MP3")
    soundfile.write(tmp_path / "a.mp3", hiss(), RATE_HZ, format="MP3", compression_level=level)
    sound, _ = soundfile.read(tmp_path / "a.mp3")
    soundfile.write(tmp_path / "a.wav", sound, RATE_HZ, subtype="PCM_24")
    listening = assess(hear_recording(tmp_path / "a.wav", BandList((BAND,))))
    assert any("lossy" in warning for warning in listening.warnings)
    assert listening.withheld["noise_a_weighted_db"] == "lossy coding"
