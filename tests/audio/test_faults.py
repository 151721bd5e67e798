import numpy as np
import pytest
import soundfile

from groovewright.audio import Band, BandList, Channel, Kind, assess, hear_recording
from groovewright.audio.faults import LevelTally

RATE_HZ = 48_000


def tally(sound):
    count = LevelTally(RATE_HZ)
    for place in range(0, len(sound), 50_000):
        count.add(sound[place : place + 50_000].astype(np.float32))
    return count


def stereo(hz=1000.0, amplitude=0.5, seconds=3.0, noise=1e-5):
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    rng = np.random.default_rng(2)
    return np.stack([amplitude * np.sin(2 * np.pi * hz * t)] * 2, axis=1) + noise * rng.standard_normal(
        (t.size, 2)
    )


@pytest.mark.parametrize("hz", [8.0, 20.0, 100.0, 1000.0, 3150.0])
@pytest.mark.parametrize("steps", [2.0**15, 2.0**23])
def test_a_clean_tone_is_not_called_clipped(hz, steps):
    sound = np.round(stereo(hz, 0.9, noise=0.0) * steps) / steps
    assert (tally(sound).clipped_samples, tally(sound).flat_samples) == (0, 0)


@pytest.mark.parametrize("hz", [100.0, 1000.0, 3150.0])
def test_clipping_at_full_scale_is_found_where_it_is(hz):
    sound = np.clip(stereo(hz, 1.3), -1.0, 1.0)
    sound[:RATE_HZ] *= 0.3
    count = tally(sound)
    assert count.clipped_samples > 500
    assert not count.clipped_within(-5.0, -1.0)
    assert count.clipped_within(1.5, 2.5)


@pytest.mark.parametrize(("hz", "limit"), [(1000.0, 0.6), (3150.0, 0.9)])
def test_flat_tops_below_full_scale_are_told_apart_from_clipping(hz, limit):
    count = tally(np.clip(stereo(hz, 1.3 * limit), -limit, limit))
    assert count.flat_samples > 500
    assert count.clipped_samples == 0


def test_offset_peak_and_identity_are_counted():
    sound = stereo(noise=0.0) + np.array([0.02, -0.01])
    count = tally(sound)
    assert count.offsets == pytest.approx((0.02, -0.01), abs=1e-5)
    assert count.peak_db == pytest.approx(20 * np.log10(0.52), abs=0.01)
    assert not count.identical
    assert tally(stereo(noise=0.0)).identical


BANDS = BandList(
    (
        Band(
            "lateral",
            Kind.TONE,
            0.0,
            8.0,
            Channel.LATERAL,
            frequency_hz=1000.0,
            level_cm_per_s=5.0,
            groove_radius_mm=100.0,
        ),
        Band("left", Kind.TONE, 8.0, 12.0, Channel.LEFT, frequency_hz=1000.0, level_cm_per_s=5.0),
        Band("silence", Kind.SILENCE, 12.0, 16.0),
        Band("after the end", Kind.SILENCE, 90.0, 95.0),
    )
)


def listened(tmp_path, sound, encoding="PCM_24"):
    path = tmp_path / "a.wav"
    soundfile.write(path, sound, RATE_HZ, subtype=encoding)
    return assess(hear_recording(path, BANDS))


def programme(amplitude=0.3):
    lateral = stereo(1000.0, amplitude, 8.0)
    left = stereo(1000.0, amplitude, 4.0)
    left[:, 1] *= 0.02
    quiet = 1e-4 * np.random.default_rng(3).standard_normal((4 * RATE_HZ, 2))
    return np.concatenate([lateral, left, quiet])


def test_a_good_recording_has_no_warning_but_the_missing_band(tmp_path):
    found = listened(tmp_path, programme())
    assert found.warnings == (
        "band 'after the end' (90.0 to 95.0 s) lies behind the end of the file, at 16.0 s",
    )
    assert "thd_percent" in found.measures


def test_a_clipped_band_keeps_its_speed_and_loses_its_distortion(tmp_path):
    found = listened(tmp_path, np.clip(programme(1.4), -1, 1))
    assert "thd_percent" in found.withheld
    assert "clipped" in found.withheld["thd_percent"]
    assert found.measures["speed_error_percent"].value.value == pytest.approx(0.0, abs=1e-3)


def test_identical_columns_and_a_mono_file_withhold_what_needs_two(tmp_path):
    mono = programme()
    mono[:, 1] = mono[:, 0]
    for sound in (mono, mono[:, 0]):
        found = listened(tmp_path, sound)
        assert found.measures["leads"].value == "can't tell"
        assert found.measures["polarity"].value == "can't tell"
        for key in ("balance_db", "azimuth_deg", "crosstalk_l_to_r_db"):
            assert key in found.withheld
        assert "speed_error_percent" in found.measures


def test_too_low_a_level_is_told_and_spoils_distortion_in_16_bits(tmp_path):
    found = listened(tmp_path, programme(0.004), "PCM_16")
    assert any("too low" in warning for warning in found.warnings)
    assert "second_harmonic_percent" in found.withheld


def test_an_offset_is_told(tmp_path):
    found = listened(tmp_path, programme() + 0.01)
    assert any("direct-current offset of +1.00 %" in warning for warning in found.warnings)


def test_a_cut_off_top_is_told_and_withholds_noise(tmp_path):
    sound = programme()
    spectrum = np.fft.rfft(sound, axis=0)
    spectrum[np.fft.rfftfreq(len(sound), 1 / RATE_HZ) > 16_000] *= 1e-4
    found = listened(tmp_path, np.fft.irfft(spectrum, n=len(sound), axis=0))
    assert any("lossy" in warning for warning in found.warnings)
    assert "noise_a_weighted_db" in found.withheld


def test_music_and_silence_give_clear_answers_and_no_numbers_that_need_tones(tmp_path):
    rng = np.random.default_rng(4)
    music = 0.2 * np.cumsum(rng.standard_normal((16 * RATE_HZ, 2)), axis=0)
    music = np.tanh(music - np.repeat(music[::480], 480, axis=0))
    for sound in (0.3 * music, np.zeros((16 * RATE_HZ, 2))):
        found = listened(tmp_path, sound)
        assert "thd_percent" not in found.measures
        assert found.measures["leads"].value == "can't tell"
        assert any("no tone near 1000 Hz" in warning for warning in found.warnings)


def test_a_truncated_file_keeps_the_bands_before_the_cut(tmp_path):
    listened(tmp_path, programme())
    path = tmp_path / "a.wav"
    path.write_bytes(path.read_bytes()[: 44 + 6 * 10 * RATE_HZ])
    found = assess(hear_recording(path, BANDS))
    assert any("cut off" in warning for warning in found.warnings)
    assert any("'left' is cut short" in warning for warning in found.warnings)
    assert "thd_percent" in found.measures
