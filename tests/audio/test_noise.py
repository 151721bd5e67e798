import math

import numpy as np
import pytest

from groovewright.audio import Band, Kind
from groovewright.audio.gather import BandGatherer
from groovewright.audio.noise import hum_of, likely_cause, noise_of
from groovewright.audio.noise_weighting import a_weighting_db
from groovewright.audio.spectra import plan_for

RATE_HZ = 48_000


def heard(sound, seconds):
    band = Band("silence", Kind.SILENCE, 0.0, seconds)
    gatherer = BandGatherer(band, plan_for(RATE_HZ))
    for place in range(0, len(sound), 90_000):
        gatherer.feed(sound[place : place + 90_000].astype(np.float32), place)
    return gatherer.finish()


def test_a_sine_of_the_reference_level_reads_0_db_a_weighted_at_1_khz():
    t = np.arange(6 * RATE_HZ) / RATE_HZ
    sound = np.stack([0.01 * np.sin(2 * np.pi * 1000 * t), 0.001 * np.sin(2 * np.pi * 1000 * t)], axis=1)
    found = noise_of(heard(sound, 6.0), 0.01 / math.sqrt(2))
    assert found.a_weighted_db[0].value == pytest.approx(0.0, abs=0.02)
    assert found.a_weighted_db[1].value == pytest.approx(-20.0, abs=0.02)
    assert found.itu_weighted_db[0].value == pytest.approx(0.0, abs=0.05)


def test_white_noise_reads_what_the_weighting_integrates_to():
    rng = np.random.default_rng(6)
    found = noise_of(heard(0.003 * rng.standard_normal((20 * RATE_HZ, 2)), 20.0), 0.1)
    hz = np.arange(20.0, 20_000.0)
    density = 0.003**2 / (RATE_HZ / 2)
    expected = 10 * np.log10(np.sum(density * 10 ** (a_weighting_db(hz) / 10)) / 0.01)
    assert found.a_weighted_db[0].value == pytest.approx(expected, abs=3 * found.a_weighted_db[0].sd + 0.01)
    assert found.a_weighted_db[0].sd < 0.03


def test_intervals_of_rumble_and_noise_hold_the_truth():
    rng = np.random.default_rng(7)
    long = noise_of(heard(0.01 * rng.standard_normal((200 * RATE_HZ, 2)), 200.0), 0.1)
    truth = np.mean([r.value for r in long.rumble_db]), np.mean([r.value for r in long.a_weighted_db])
    inside = []
    for _ in range(60):
        short = noise_of(heard(0.01 * rng.standard_normal((5 * RATE_HZ, 2)), 5.0), 0.1)
        for column in (0, 1):
            for reading, true in zip(
                (short.rumble_db[column], short.a_weighted_db[column]), truth, strict=True
            ):
                inside.append(abs(reading.value - true) < 1.96 * reading.sd)
    assert 0.91 < np.mean(inside) < 0.985


@pytest.mark.parametrize("mains_hz", [49.93, 50.0, 60.04])
def test_hum_is_found_with_its_frequency_and_level(mains_hz):
    rng = np.random.default_rng(8)
    rate, t = 2900.0, np.arange(round(20 * 2900.0)) / 2900.0
    wave = 1e-3 * np.sin(2 * np.pi * mains_hz * t) + 4e-4 * np.sin(2 * np.pi * 3 * mains_hz * t + 1.0)
    low = np.stack([wave, 0.5 * wave]) + 2e-4 * rng.standard_normal((2, t.size))
    found = hum_of(low, rate, 0.1)
    assert found.mains_hz == pytest.approx(mains_hz, abs=4 * found.mains_sd_hz + 0.003)
    expected = 20 * math.log10(math.hypot(1e-3, 4e-4) / math.sqrt(2) / 0.1)
    for reading, truth in zip(found.total_db, (expected, expected - 6.02), strict=True):
        assert abs(reading.value - truth) < 3.5 * reading.sd
    assert set(found.lines_db) == {1, 3}


def test_noise_alone_is_not_hum():
    rng = np.random.default_rng(9)
    assert [hum_of(1e-3 * rng.standard_normal((2, 58_000)), 2900.0, 0.1) for _ in range(20)] == [None] * 20


def test_the_likely_cause_follows_the_pattern():
    assert "left channel" in likely_cause({1: (1.0, 0.1), 3: (0.5, 0.05)})
    assert "rectifier" in likely_cause({1: (0.1, 0.1), 2: (1.0, 1.0)})
    assert "transformer or motor" in likely_cause({1: (1.0, 1.0), 3: (0.1, 0.1)})
    assert "earth lead" in likely_cause({1: (1.0, 1.0), 3: (0.6, 0.6), 5: (0.4, 0.4)})


def test_a_click_where_two_batches_meet_is_kept_out_of_both():
    """The last frame of a batch reaches a quarter of a frame into the next one."""
    rng = np.random.default_rng(10)
    plan = plan_for(RATE_HZ)
    sound = 0.001 * rng.standard_normal((12 * RATE_HZ, 2))
    clean = noise_of(heard(sound, 12.0), 0.1)
    used = (
        (96_000 - plan.overlap) // plan.hop * plan.hop
    )  # about where a batch ends; a click every 5 ms around
    for place in range(used - 20_000, used + 30_000, 24_001):
        sound[place : place + 6] += 0.4 * np.array([0.3, 1.0, -0.6, 0.3, -0.2, 0.1])[:, None]
    for place in clicked_ends(plan):
        sound[place : place + 6] += 0.4 * np.array([0.3, 1.0, -0.6, 0.3, -0.2, 0.1])[:, None]
    dusty = noise_of(heard(sound, 12.0), 0.1)
    assert dusty.itu_weighted_db[0].value == pytest.approx(clean.itu_weighted_db[0].value, abs=0.1)


def clicked_ends(plan):
    """Return places just behind the end of each batch of a recording fed in blocks of 90,000."""
    first = round(0.2 * RATE_HZ)
    pending, used, ends = -first, 0, []
    for _ in range(0, 12 * RATE_HZ, 90_000):
        pending += 90_000
        if pending >= 16 * plan.hop + plan.overlap:
            taken = (pending - plan.overlap) // plan.hop * plan.hop
            used, pending = used + taken, pending - taken
            ends.append(first + used + plan.overlap // 2)
    return ends


def test_the_intervals_of_hum_hold_the_truth_and_are_no_wider():
    rng = np.random.default_rng(12)
    rate, t = 2900.0, np.arange(round(12 * 2900.0)) / 2900.0
    scores = []
    for _ in range(250):
        mains_hz = rng.uniform(49.9, 50.1)
        wave = 1e-3 * np.sin(2 * np.pi * mains_hz * t + rng.uniform(0, 6))
        found = hum_of(np.stack([wave, wave]) + 2e-3 * rng.standard_normal((2, t.size)), rate, 0.1)
        level = found.total_db[0]
        scores.append(((level.value + 43.0103) / level.sd, (found.mains_hz - mains_hz) / found.mains_sd_hz))
    assert np.sqrt(np.mean(np.square(scores), axis=0)) == pytest.approx([1.0, 1.0], abs=0.13)
