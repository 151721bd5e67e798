import math

import numpy as np
import pytest
import soundfile

from groovewright.audio import Band, BandList, Channel, Kind, Replay
from groovewright.simulate.recording import Flaws, record, write_recording

RATE_HZ = 48_000


def bands(channel=Channel.LATERAL, replay=Replay.EQUALISED, hz=1000.0):
    band = Band(
        "b", Kind.TONE, 0.0, 2.0, channel, frequency_hz=hz, level_cm_per_s=5.0, groove_radius_mm=100.0
    )
    return BandList((band,), replay=replay)


def amplitudes(sound, hz):
    part = sound[RATE_HZ // 4 : RATE_HZ // 4 + RATE_HZ]
    times = np.arange(RATE_HZ) / RATE_HZ
    return 2 * np.mean(part * np.exp(-2j * np.pi * hz * times)[:, None], axis=0)


def test_a_perfect_player_gives_a_lateral_tone_equally_in_phase():
    left, right = amplitudes(record(bands(), Flaws(noise=0.0), rate_hz=RATE_HZ), 1000.0)
    assert abs(left) == pytest.approx(5.0 / math.sqrt(2) / 25.0, rel=1e-4)
    assert right / left == pytest.approx(1.0, abs=1e-6)


def test_a_vertical_tone_is_out_of_phase_and_a_reversed_coil_turns_it():
    left, right = amplitudes(record(bands(Channel.VERTICAL), Flaws(noise=0.0), rate_hz=RATE_HZ), 1000.0)
    assert right / left == pytest.approx(-1.0, abs=1e-6)
    turned = amplitudes(record(bands(), Flaws(noise=0.0, left_reversed=True), rate_hz=RATE_HZ), 1000.0)
    assert turned[1] / turned[0] == pytest.approx(-1.0, abs=1e-6)


# Replay equaliser, dB re 1 kHz, computed from the time constants of IEC 60098.
@pytest.mark.parametrize(
    ("hz", "level_db"), [(100.0, 13.088), (500.0, 2.648), (5000.0, -8.210), (10_000.0, -13.734)]
)
def test_the_equaliser_of_the_model_is_that_of_the_standard(hz, level_db):
    flat, heard = (
        abs(amplitudes(record(bands(replay=r, hz=hz), Flaws(noise=0.0), rate_hz=RATE_HZ), hz)[0])
        for r in (Replay.NONE, Replay.EQUALISED)
    )
    assert 20 * math.log10(heard / flat) == pytest.approx(level_db, abs=0.01)


def test_leads_gains_and_crosstalk_go_where_they_belong():
    flaws = Flaws(noise=0.0, left_gain=1.2, left_to_right=0.05, leads_swapped=True)
    first, second = amplitudes(record(bands(Channel.LEFT), flaws, rate_hz=RATE_HZ), 1000.0)
    assert abs(second) == pytest.approx(1.2 * 5.0 / 25.0, rel=1e-4)
    assert first / second == pytest.approx(0.05 / 1.2, rel=1e-4)


def test_off_centre_swings_the_speed_by_distance_over_radius():
    """0.2 mm at 100 mm: 0.2 % (geometry)."""
    band = Band(
        "b",
        Kind.TONE,
        0.0,
        4.0,
        Channel.LATERAL,
        frequency_hz=3000.0,
        level_cm_per_s=5.0,
        groove_radius_mm=100.0,
    )
    sound = record(BandList((band,)), Flaws(noise=0.0, eccentricity_mm=0.2), rate_hz=RATE_HZ)[:, 0]
    crossings = np.flatnonzero(np.diff(np.signbit(sound[2000 : 4 * RATE_HZ - 2000])))
    exact = crossings + sound[2000 + crossings] / (sound[2000 + crossings] - sound[2001 + crossings])
    hz = 100 * RATE_HZ / (exact[200::200] - exact[:-200:200][: len(exact[200::200])])
    assert (hz.max() / 3000 - 1) == pytest.approx(0.002, abs=2e-5)
    assert (1 - hz.min() / 3000) == pytest.approx(0.002, abs=2e-5)


def test_the_same_seed_gives_the_same_recording_and_it_is_written_as_asked(tmp_path):
    flaws = Flaws(noise=1e-3, clicks_per_s=2.0, hum=((50.0, 1e-3, 1e-3),), random_flutter_percent=0.1)
    one, two = (record(bands(), flaws, rate_hz=RATE_HZ, seed=5) for _ in range(2))
    np.testing.assert_array_equal(one, two)
    assert not np.array_equal(one, record(bands(), flaws, rate_hz=RATE_HZ, seed=6))
    write_recording(tmp_path / "a.flac", one, rate_hz=RATE_HZ)
    info = soundfile.info(tmp_path / "a.flac")
    assert (info.samplerate, info.subtype, info.frames) == (RATE_HZ, "PCM_24", len(one))
