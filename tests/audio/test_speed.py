import numpy as np
import pytest
from scipy.special import jv

from groovewright.audio import Band, Channel, Kind
from groovewright.audio.gather import BandGatherer
from groovewright.audio.spectra import plan_for
from groovewright.audio.speed import Deviation, deviation_of, turning_of

RATE_HZ = 48_000


def heard(signal, hz, clicks=()):
    sound = np.stack([signal, signal], axis=1).astype(np.float32)
    seconds = len(signal) / RATE_HZ
    band = Band("b", Kind.TONE, 0.0, seconds, Channel.LATERAL, frequency_hz=hz)
    gatherer = BandGatherer(band, plan_for(RATE_HZ))
    for place in range(0, len(sound), 100_000):
        gatherer.feed(sound[place : place + 100_000], place)
    return gatherer.finish()


def times(seconds):
    return np.arange(round(seconds * RATE_HZ)) / RATE_HZ


def test_a_frequency_modulated_tone_has_the_sidebands_that_bessel_gives_and_its_deviation_is_read():
    """FM with index b has sidebands J_n(b) (textbook); the deviation that made it must come back."""
    t = times(8.0)
    carrier, rate, index = 3150.0, 10.0, 0.4
    signal = 0.5 * jv(0, index) * np.cos(2 * np.pi * carrier * t)
    for n in range(1, 7):
        up = np.cos(2 * np.pi * (carrier + n * rate) * t)
        down = (-1) ** n * np.cos(2 * np.pi * (carrier - n * rate) * t)
        signal += 0.5 * jv(n, index) * (up + down)
    deviation = deviation_of(heard(signal, carrier).tone)
    peak_percent = 100.0 * index * rate / carrier
    middle = deviation.percent[200:-200]
    assert np.abs(middle).max() == pytest.approx(peak_percent, rel=0.005)
    assert np.sqrt(np.mean(middle**2)) == pytest.approx(peak_percent / np.sqrt(2), rel=0.005)


@pytest.mark.parametrize("error_percent", [-35.0, -3.0, 0.0, 0.4, 3.0])
def test_speed_error_is_read_to_a_thousandth_of_a_percent(error_percent):
    hz = 1000.0 * (1 + error_percent / 100)
    deviation = deviation_of(heard(0.3 * np.sin(2 * np.pi * hz * times(6.0)), 1000.0).tone)
    assert turning_of(deviation, 100 / 3).speed_error_percent.value == pytest.approx(error_percent, abs=0.001)


def test_clicks_do_not_disturb_the_speed():
    t = times(8.0)
    signal = 0.3 * np.sin(2 * np.pi * 1000.0 * t)
    for place in range(20_000, len(t) - 100, 31_111):
        signal[place : place + 8] += 0.5
    data = heard(signal, 1000.0)
    assert len(data.clicks_s) == len(range(20_000, len(t) - 100, 31_111))
    deviation = deviation_of(data.tone)
    assert deviation.used < 1.0
    assert np.abs(deviation.percent).max() < 0.01
    assert turning_of(deviation, 100 / 3).speed_error_percent.value == pytest.approx(0.0, abs=2e-4)


def made(rng, seconds, *, error=0.2, swing=0.15, lines=((4.0, 0.05), (0.71, 0.04)), rms=0.03, cut_hz=30.0):
    """Return a deviation series with known truth: white speed noise below `cut_hz`."""
    rate = 750.0
    count = round(seconds * rate)
    t = 3.0 + np.arange(count) / rate
    pace = 1.0 + error / 100.0
    spectrum = np.zeros(count // 2 + 1, dtype=complex)
    hz = np.fft.rfftfreq(count, 1 / rate)
    inside = (hz > 0) & (hz < cut_hz)
    spectrum[inside] = rng.standard_normal(inside.sum()) + 1j * rng.standard_normal(inside.sum())
    noise = np.fft.irfft(spectrum, n=count) * count / (2 * np.sqrt(inside.sum())) * rms
    # white down to zero frequency: the mean wanders as the density says
    noise += rng.standard_normal() * rms / np.sqrt(2 * inside.sum())
    percent = swing * np.cos(2 * np.pi * pace * t / 1.8 + rng.uniform(0, 6.28)) + noise
    for line_hz, size in lines:
        percent = percent + size * np.cos(2 * np.pi * line_hz * t + rng.uniform(0, 6.28))
    speed = pace * (1 + percent / 100)
    mean = speed.mean()
    return Deviation(100 * (speed / mean - 1), 3150.0 * mean, 3150.0, rate, 3.0, 1.0)


def test_intervals_of_speed_and_off_centre_hold_the_truth_95_times_in_100():
    rng = np.random.default_rng(5)
    inside = np.zeros((300, 2))
    for row in inside:
        turning = turning_of(made(rng, float(rng.uniform(10, 40))), 100 / 3)
        speed, swing = turning.speed_error_percent, turning.once_per_turn_percent
        row[:] = abs(speed.value - 0.2) < 1.96 * speed.sd, abs(swing.value - 0.15) < 1.96 * swing.sd
    covered = inside.mean(axis=0)
    assert ((covered > 0.92) & (covered < 0.98)).all(), covered


def test_steady_flutter_is_set_aside_and_named():
    turning = turning_of(made(np.random.default_rng(1), 30.0), 100 / 3)
    found = {round(hz, 1): size for hz, size in turning.lines}
    assert found[4.0] == pytest.approx(0.05, abs=0.005)
    assert found[0.7] == pytest.approx(0.04, abs=0.01)


def test_off_centre_is_radius_times_the_swing():
    """0.2 mm at 100 mm is 0.2 % (geometry)."""
    turning = turning_of(made(np.random.default_rng(2), 60.0, swing=0.2, rms=1e-5, lines=()), 100 / 3)
    assert turning.off_centre_mm(100.0).value == pytest.approx(0.2, abs=0.0005)


def test_a_band_without_its_tone_has_no_deviation():
    assert heard(np.random.default_rng(0).standard_normal(RATE_HZ * 3) * 0.1, 1000.0).tone is None
