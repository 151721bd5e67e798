import numpy as np
import pytest
from scipy import signal

from groovewright.audio import Law, Replay
from groovewright.audio.from_grooves import pilot_resonances
from groovewright.audio.measures import Sheet
from groovewright.audio.resonance import from_sweep, resonance_gain, slower
from groovewright.audio.resonance_noise import from_noise, seconds_wanted
from groovewright.audio.speed import Deviation, turning_of

RATE_HZ = 250.0
LOST_S = 172 / 3000.0
# f = 1000 / (2 pi sqrt(M C)), M in g, C in um/mN (textbook): 20 g, 12: 10.27 Hz; 25, 15: 8.22; 30, 6: 11.86.
CASES = [(10.27, 3.0), (8.22, 6.0), (11.86, 2.0)]


def arm(series, hz, q, rate_hz=RATE_HZ):
    """Return a series behind mass, spring and damper, by scipy's bilinear filter at 16 times the rate."""
    up = signal.resample_poly(series, 16, 1)
    w = 2 * np.pi * hz
    b, a = signal.bilinear([1, 0, 0], [1, w / q, w**2], fs=16 * rate_hz)
    return signal.resample_poly(signal.lfilter(b, a, up), 1, 16)


def swept(first_hz, last_hz, seconds):
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return signal.chirp(t, first_hz, seconds, last_hz, method="logarithmic")


@pytest.mark.parametrize(("hz", "q"), CASES)
@pytest.mark.parametrize(("ends", "seconds"), [((25.0, 4.0), 30.0), ((25.0, 4.0), 12.0), ((5.0, 20.0), 20.0)])
def test_a_sweep_gives_frequency_within_half_a_percent_and_q_within_3(hz, q, ends, seconds):
    found = from_sweep(
        arm(swept(*ends, seconds), hz, q), RATE_HZ, Law.CONSTANT_VELOCITY, Replay.NONE, ends, 0.5556
    )
    assert found.frequency_hz.value == pytest.approx(hz, rel=0.005)
    assert found.q.value == pytest.approx(q, rel=0.03)


def test_a_sweep_on_a_record_that_is_off_centre_reads_its_resonance_and_its_interval_is_narrow():
    """0.3 % of swing once per turn, as 0.3 mm at 100 mm give."""
    t, turns = np.arange(round(15 * RATE_HZ)) / RATE_HZ, 1 / 1.8
    for phase in (0.0, 2.0, 4.0):
        angle = 2 * np.pi * turns * t + phase
        pace = 1 + 0.003 * np.cos(angle)
        groove_s = t + 0.003 / (2 * np.pi * turns) * (np.sin(angle) - np.sin(phase))
        rate = np.log(4.0 / 25.0) / 15.0
        velocity = pace * np.sin(2 * np.pi * 25.0 * np.expm1(rate * groove_s) / rate)
        found = from_sweep(
            arm(velocity, 10.0, 5.0), RATE_HZ, Law.CONSTANT_VELOCITY, Replay.NONE, (25.0, 4.0), turns
        )
        assert found.frequency_hz.value == pytest.approx(10.0, abs=0.004)
        assert found.q.value == pytest.approx(5.0, abs=0.02)
        assert found.frequency_hz.sd < 0.002


def test_a_linear_sweep_of_constant_amplitude_is_read_with_its_law():
    t = np.arange(round(25 * RATE_HZ)) / RATE_HZ
    velocity = signal.chirp(t, 20.0, 25.0, 4.0) * (20.0 + (4.0 - 20.0) * t / 25.0)
    found = from_sweep(
        arm(velocity, 9.0, 4.0), RATE_HZ, Law.CONSTANT_AMPLITUDE, Replay.NONE, (20.0, 4.0), 0.5556
    )
    assert found.frequency_hz.value == pytest.approx(9.0, rel=0.005)
    assert found.q.value == pytest.approx(4.0, rel=0.04)


def test_intervals_of_the_noise_fit_hold_the_truth():
    rng = np.random.default_rng(4)
    inside = np.zeros((30, 2))
    for row in inside:
        hz, q = rng.uniform(7, 13), rng.uniform(2, 6)
        noise = arm(rng.standard_normal(round(62 * RATE_HZ)), hz, q)[round(2 * RATE_HZ) :]
        found = from_noise([noise], RATE_HZ, Replay.NONE)
        row[:] = (
            abs(found.frequency_hz.value - hz) < 1.96 * found.frequency_hz.sd,
            abs(found.q.value - q) < 1.96 * found.q.sd,
        )
        assert found.frequency_hz.value == pytest.approx(hz, rel=0.06)
    assert (inside.mean(axis=0) > 0.87).all(), inside.mean(axis=0)


def test_noise_without_a_resonance_and_too_short_a_groove_give_nothing():
    rng = np.random.default_rng(5)
    found = [from_noise([rng.standard_normal(round(60 * RATE_HZ))], RATE_HZ, Replay.NONE) for _ in range(8)]
    assert found == [None] * 8
    assert from_noise([rng.standard_normal(1000)], RATE_HZ, Replay.NONE) is None


def test_the_gain_at_resonance_is_q():
    assert abs(resonance_gain(9.0, 9.0, 4.0)) == pytest.approx(4.0)
    assert abs(resonance_gain(900.0, 9.0, 4.0)) == pytest.approx(1.0, abs=1e-3)


def test_slowing_a_stream_down_keeps_what_is_below_100_hz():
    # the filter has 5.72 rate / (stop - pass) taps (Kaiser), half of which are lost at either end
    t = np.arange(30_000) / 3000.0
    slow, rate = slower(np.sin(2 * np.pi * 9.0 * t), 3000.0)
    np.testing.assert_allclose(
        slow, np.sin(2 * np.pi * 9.0 * (np.arange(slow.size) / rate + LOST_S)), atol=1e-4
    )
    assert np.abs(slower(np.sin(2 * np.pi * 150.0 * t), 3000.0)[0]).max() < 1e-4


def test_a_pilot_tones_speed_shows_a_resonance_beside_a_steady_line():
    rng = np.random.default_rng(12)
    t = np.arange(round(60 * 750.0)) / 750.0
    noise = arm(rng.standard_normal(t.size), 9.5, 4.0, 750.0) * 0.01 + 0.05 * np.sin(2 * np.pi * 4.0 * t)
    deviation = Deviation(noise, 3150.0, 3150.0, 750.0, 0.0, 1.0)
    sheet = Sheet(None)
    found = pilot_resonances(sheet, {"speed": deviation}, {"speed": turning_of(deviation, 100 / 3)})
    assert found["pilot: speed"].frequency_hz.value == pytest.approx(9.5, rel=0.05)
    told = sheet.measures["resonance_pilot_hz"].value, sheet.measures["resonance_pilot_q"].value
    assert abs(told[0].value - 9.5) < 2.6 * told[0].sd
    assert abs(told[1].value - 4.0) < 2.6 * told[1].sd
    assert "s of tone for 10 %" in sheet.measures["resonance_pilot_q"].note


def test_four_short_grooves_together_say_as_much_as_one_long_one():
    rng = np.random.default_rng(8)
    noise = arm(rng.standard_normal(round(122 * RATE_HZ)), 9.5, 4.0)[round(2 * RATE_HZ) :]
    whole = from_noise([noise], RATE_HZ, Replay.NONE)
    parts = from_noise([3.0 * part for part in noise.reshape(4, -1)], RATE_HZ, Replay.NONE)
    assert parts.q.sd == pytest.approx(whole.q.sd, rel=0.25)
    assert parts.q.value == pytest.approx(whole.q.value, rel=0.08)
    one = from_noise([noise[: noise.size // 4]], RATE_HZ, Replay.NONE)
    assert one.q.sd > 1.6 * whole.q.sd
    # four times the time, half the uncertainty: what is asked for is enough
    assert seconds_wanted(one, 30.0) == pytest.approx(seconds_wanted(whole, 120.0), rel=0.5)
