import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import jv

from groovewright.audio import Band, Channel, Kind, Replay
from groovewright.audio.averages import together
from groovewright.audio.distortion import harmonics_of, joined, ladder_of, mixing_of, tracking_error_from
from groovewright.audio.equaliser import gain_between
from groovewright.audio.gather import BandGatherer
from groovewright.audio.spectra import plan_for
from groovewright.quantities import Reading

RATE_HZ = 48_000


def heard(signals, band):
    sound = np.stack(signals, axis=1).astype(np.float32)
    gatherer = BandGatherer(band, plan_for(RATE_HZ))
    for place in range(0, len(sound), 90_000):
        gatherer.feed(sound[place : place + 90_000], place)
    return gatherer.finish().tone


def lateral(level=5.0, hz=1000.0, kind=Kind.TONE, **more):
    return Band(f"{level}", kind, 0.0, 6.0, Channel.LATERAL, frequency_hz=hz, level_cm_per_s=level, **more)


def times():
    return np.arange(6 * RATE_HZ) / RATE_HZ


def test_harmonics_survive_wow_that_would_smear_a_spectrum():
    angle = 2 * np.pi * 1000.0 * times() + 30.0 * np.sin(2 * np.pi * 0.5556 * times())
    signal = 0.3 * (np.cos(angle) + 0.01 * np.cos(2 * angle + 1.0) + 0.002 * np.cos(3 * angle))
    found = harmonics_of(lateral(), heard((signal, signal), lateral()), Replay.NONE)
    assert found.by_order_percent[2].value == pytest.approx(1.0, rel=0.001)
    assert found.by_order_percent[3].value == pytest.approx(0.2, rel=0.005)
    assert found.by_order_percent[4].value < 0.0005
    assert found.thd_percent.value == pytest.approx(math.hypot(1.0, 0.2), rel=0.001)


def test_the_equalisers_share_is_undone():
    """2 kHz stands 2.589 dB below 1 kHz after replay (IEC 60098, computed)."""
    angle = 2 * np.pi * 1000.0 * times()
    signal = 0.3 * (np.cos(angle) + 0.01 * 10 ** (-2.589 / 20) * np.cos(2 * angle))
    found = harmonics_of(lateral(), heard((signal, signal), lateral()), Replay.EQUALISED)
    assert found.by_order_percent[2].value == pytest.approx(1.0, rel=0.001)
    assert found.as_heard_percent[2].value == pytest.approx(0.742, rel=0.001)


def test_the_kepler_ratio_gives_the_tracking_error_back():
    """Second harmonic J_2(2 k) / J_1(k) with k = V / v tan(e); 10 cm/s at 60.325 mm and 33 1/3 rpm: v 21.06
    cm/s.
    """
    for error_deg in (0.1, 1.8, 5.0):
        k = 10.0 / 21.058 * math.tan(math.radians(error_deg))
        ratio = jv(2, 2 * k) / jv(1, k)
        found = tracking_error_from(Reading(100 * ratio, 0.001), 10.0, 100 / 3, 60.325)
        assert found.value == pytest.approx(error_deg, abs=0.001)


def test_the_second_harmonic_at_the_worst_place_is_the_published_size():
    """10 cm/s, Lofgren A, d = 222 mm: largest second harmonic 0.618 % (brute force), from its 1.806 degrees
    where error over radius is largest, at the outer end (146.05 mm): first-order formula of Baerwald 1941."""
    found = tracking_error_from(Reading(0.618, 0.0), 10.0, 100 / 3, 146.05)
    assert found.value == pytest.approx(1.806, abs=0.005)


def test_mixing_products_are_read_with_their_sizes():
    t = times()
    low, high = np.cos(2 * np.pi * 400.0 * t), np.cos(2 * np.pi * 4000.0 * t)
    signal = 0.2 * low + 0.05 * high * (1 + 0.04 * low)
    band = lateral(hz=400.0, kind=Kind.TWO_TONES, second_frequency_hz=4000.0)
    found = mixing_of(band, heard((signal, signal), band), Replay.NONE)
    assert found.products_percent[(1, 1)].value == pytest.approx(2.0, rel=0.01)
    assert found.difference_percent.value == pytest.approx(2.0, rel=0.01)
    assert found.products_percent[(-2, 1)].value < 0.01
    assert found.total_percent.value == pytest.approx(2.0 * math.sqrt(2), rel=0.01)


def rungs(left_limit, right_limit, levels=(5.0, 8.0, 12.0, 16.0, 20.0)):
    out = []
    rng = np.random.default_rng(0)
    for level in levels:
        band = lateral(level, hz=300.0)
        wave = level / 50.0 * np.sin(2 * np.pi * 300.0 * times())
        pair = [
            np.clip(wave, -limit / 50, limit / 50) + 1e-5 * rng.standard_normal(wave.size)
            for limit in (left_limit, right_limit)
        ]
        out.append((band, heard(pair, band)))
    return out


def test_the_ladder_finds_where_each_channel_breaks_up_and_which_way_to_go():
    found = ladder_of(rungs(18.0, 10.0), Replay.NONE)
    assert (found.left_breaks_cm_per_s, found.right_breaks_cm_per_s) == (20.0, 12.0)
    assert (found.left_clean_cm_per_s, found.right_clean_cm_per_s) == (16.0, 8.0)
    assert found.side_force_share > 0.1  # right first: more anti-skating
    assert ladder_of(rungs(10.0, 18.0), Replay.NONE).side_force_share < -0.1


def test_a_ladder_that_is_followed_to_the_top_asks_for_nothing():
    found = ladder_of(rungs(90.0, 90.0), Replay.NONE)
    assert (found.left_breaks_cm_per_s, found.right_breaks_cm_per_s, found.side_force_share) == (
        None,
        None,
        None,
    )
    assert ladder_of(rungs(90.0, 90.0, (5.0, 8.0)), Replay.NONE) is None


def test_ladders_of_one_channel_each_are_joined_and_alone_ask_for_nothing():
    left, right = (
        ladder_of([(replace(b, channel=c), t) for b, t in rungs(18.0, 10.0)], Replay.NONE)
        for c in (Channel.LEFT, Channel.RIGHT)
    )
    assert (left.left_breaks_cm_per_s, left.right_percent, left.side_force_share) == (20.0, (), None)
    assert (right.right_breaks_cm_per_s, right.left_percent, right.side_force_share) == (12.0, (), None)
    assert joined(left, right).side_force_share == ladder_of(rungs(18.0, 10.0), Replay.NONE).side_force_share


def test_mixing_products_of_60_hz_do_not_lean_on_the_tone_beside_them_nor_on_flutter():
    """4 kHz modulated by 4 % at 60 Hz: 2 % on either side; the tone itself stands only 60 Hz away from them."""
    t = times()
    groove = t + 0.004 / (2 * np.pi * 0.5556) * np.sin(2 * np.pi * 0.5556 * t)
    groove = groove + 0.001 / (2 * np.pi * 11.0) * np.sin(2 * np.pi * 11.0 * t)
    low, high = np.cos(2 * np.pi * 60.0 * groove), np.cos(2 * np.pi * 4000.0 * groove)
    signal = 0.2 * low + 0.05 * high * (1 + 0.04 * low)
    band = lateral(hz=60.0, kind=Kind.TWO_TONES, second_frequency_hz=4000.0)
    found = mixing_of(band, heard((signal, signal), band), Replay.NONE)
    for reading in (found.products_percent[(1, 1)], found.difference_percent):
        assert reading.value == pytest.approx(2.0, rel=1e-3)
        assert reading.sd < 0.002


@pytest.mark.parametrize("hz", [100.0, 315.0])
def test_harmonics_of_a_low_tone_do_not_lean_on_the_tone_itself(hz):
    """The stream around the second harmonic is wide enough to hold the tone."""
    angle = 2 * np.pi * hz * times() + 3.0 * np.sin(2 * np.pi * 0.5556 * times())
    signal = 0.3 * (np.cos(angle) + 0.01 * np.cos(2 * angle + 1.0))
    band = lateral(hz=hz)
    found = harmonics_of(band, heard((signal, signal), band), Replay.NONE)
    assert found.by_order_percent[2].value == pytest.approx(1.0, rel=0.002)
    assert found.by_order_percent[3].value < 0.002


def test_products_are_freed_of_the_equaliser_where_they_are_not_where_a_bin_is():
    """A slope of 6 dB an octave: 58.6 Hz instead of 60 would put the difference tone 0.04 % off."""
    t = times()
    gains = np.abs(gain_between([3940.0, 4000.0, 4060.0], Replay.EQUALISED))
    waves = [np.cos(2 * np.pi * hz * t) for hz in (3940.0, 4000.0, 4060.0)]
    high = gains[1] * waves[1] + 0.02 * (gains[0] * waves[0] + gains[2] * waves[2])
    signal = 0.2 * np.cos(2 * np.pi * 60.0 * t) + 0.05 * high
    band = lateral(hz=60.0, kind=Kind.TWO_TONES, second_frequency_hz=4000.0)
    found = mixing_of(band, heard((signal, signal), band), Replay.EQUALISED)
    assert found.difference_percent.value == pytest.approx(2.0, rel=1e-4)


@pytest.mark.parametrize("size", [0.0, 0.3, 1.0, 4.0, 10.0])
def test_harmonics_lost_in_noise_do_not_add_up_and_their_interval_covers(size):
    """Five mean phasors, each part with a standard deviation of 1, of which one has a size."""
    rng = np.random.default_rng(4)
    noise = math.sqrt(15) * (rng.standard_normal((600, 5, 15)) + 1j * rng.standard_normal((600, 5, 15)))
    noise[:, 0] += size
    found = [together(list(trial)) for trial in noise]
    inside = [abs(reading.value - size) < 1.96 * reading.sd for reading in found]
    assert 0.92 < np.mean(inside) <= 0.995
    squares = np.mean([reading.value**2 for reading in found])
    assert squares < size**2 + 3.0  # 10 would be all the noise


def test_a_click_does_not_let_the_low_tone_into_the_difference_tone():
    """Two clicks in the last two seconds, where most segments are cut; 60 Hz is 35 times the second tone."""
    t = np.arange(round(7.6 * RATE_HZ)) / RATE_HZ
    low = np.cos(2 * np.pi * 60.0 * t)
    signal = 0.35 * low + 0.01 * np.cos(2 * np.pi * 4000.0 * t) * (1 + 0.06 * low)
    pulse = 0.3 * np.hanning(14) * np.cos(1.3 * np.arange(14))
    for at_s in (5.99, 6.93):
        signal[round(at_s * RATE_HZ) :][: pulse.size] += pulse
    band = Band(
        "two",
        Kind.TWO_TONES,
        0.0,
        7.6,
        Channel.LATERAL,
        frequency_hz=60.0,
        second_frequency_hz=4000.0,
        level_cm_per_s=5.0,
    )
    found = mixing_of(band, heard((signal, signal), band), Replay.NONE).difference_percent
    assert found.value == pytest.approx(3.0, abs=0.01)
    assert found.sd < 0.01
