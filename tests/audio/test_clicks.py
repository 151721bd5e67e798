import numpy as np
import pytest

from groovewright.audio.clicks import clear_of, find_clicks

RATE_HZ = 48_000


def dusty(base, places, height=0.2):
    sound = np.array(base, dtype=np.float32)
    for place in places:
        sound[:, place : place + 6] += height * np.array([0.3, 1.0, -0.6, 0.3, -0.2, 0.1], dtype=np.float32)
    return sound


@pytest.mark.parametrize("hz", [50.0, 300.0, 1000.0, 3150.0, 10_000.0])
def test_clicks_on_a_tone_are_all_found_and_nothing_else(hz):
    t = np.arange(4 * RATE_HZ) / RATE_HZ
    base = np.stack([0.2 * np.sin(2 * np.pi * hz * t)] * 2) + 1e-5 * np.random.default_rng(0).standard_normal(
        (2, t.size)
    )
    places = list(range(5_000, 4 * RATE_HZ - 100, 17_003))
    height = 0.2 if hz < 5000 else 1.5
    found = find_clicks(dusty(base, places, height), RATE_HZ)
    np.testing.assert_allclose(found, places, atol=3)


def test_noise_and_music_like_sound_have_no_clicks():
    rng = np.random.default_rng(1)
    assert len(find_clicks(rng.standard_normal((2, 20 * RATE_HZ)).astype(np.float32), RATE_HZ)) == 0
    t = np.arange(10 * RATE_HZ) / RATE_HZ
    chord = sum(np.sin(2 * np.pi * hz * t) / (1 + hz / 500) for hz in (110, 220.5, 331, 442, 880, 1760, 3520))
    assert len(find_clicks(np.stack([chord, chord]).astype(np.float32), RATE_HZ)) == 0


def test_silence_and_scraps_have_none():
    assert len(find_clicks(np.zeros((2, 9000), dtype=np.float32), RATE_HZ)) == 0
    assert len(find_clicks(np.zeros((2, 2), dtype=np.float32), RATE_HZ)) == 0


def test_clear_of_is_every_time_further_than_the_reach():
    times = np.linspace(0, 10, 1001)
    clicks = np.array([2.0, 7.5])
    expected = (np.abs(times[:, None] - clicks) > 0.05).all(axis=1)
    np.testing.assert_array_equal(clear_of(clicks, times, 0.05), expected)
    assert clear_of(np.zeros(0), times, 0.05).all()
