import math

import numpy as np
import pytest

from groovewright.audio.flutter import (
    WEIGHTING_SHARE,
    flutter_of,
    meter,
    quasi_peak,
    unweighted,
    weighted,
    weighting_db,
)
from groovewright.audio.flutter_parts import Parts, rms_of, two_sigma
from groovewright.audio.speed import Deviation, steady_of, sum_of_steady

# Weighting of IEC 60386 and AES6-2008, from memory, agrees with a public listing of the AES curve.
TABLE = {
    0.1: -48.0, 0.2: -30.6, 0.315: -19.7, 0.4: -15.0, 0.63: -8.4, 0.8: -6.0, 1.0: -4.2, 1.6: -1.8, 2.0: -0.9,
    4.0: 0.0, 6.3: -0.9, 10: -2.1, 20: -5.9, 40: -10.4, 63: -14.2, 100: -17.3, 200: -23.0,
}  # fmt: skip
# Responses to single pulses, one a second, of the peak-to-peak value of a 4 Hz sine: IEC 60386 (60 ms from
# the
# AES abstract, others and all tolerances from memory).
PULSES = {0.010: (0.21, 0.03), 0.030: (0.62, 0.06), 0.060: (0.90, 0.06), 0.100: (1.00, 0.04)}
RATE_HZ = 750.0


def sine(hz, seconds=24.0, rate_hz=RATE_HZ):
    return np.sin(2 * np.pi * hz * np.arange(round(seconds * rate_hz)) / rate_hz)


@pytest.mark.parametrize(("hz", "level_db"), TABLE.items())
def test_the_weighting_has_its_tabulated_levels(hz, level_db):
    assert weighting_db(hz) == pytest.approx(level_db, abs=1e-9)


@pytest.mark.parametrize("hz", [0.4, 0.63, 1.0, 4.0, 10.0, 40.0, 100.0])
def test_a_sine_through_the_filter_has_the_tables_amplitude(hz):
    out = weighted(sine(hz, 60.0), RATE_HZ)[3000:]
    out = out[: int(int(40.0 * hz) * RATE_HZ / hz)]
    rms_db = 20 * np.log10(np.sqrt(2 * np.mean(out**2)))
    sinc_db = -20 * np.log10(np.sinc(hz / RATE_HZ))
    assert rms_db == pytest.approx(TABLE[hz] + sinc_db, abs=0.05)


def test_between_the_points_the_curve_has_no_bumps():
    hz = np.geomspace(0.1, 4.0, 400)
    assert (np.diff(weighting_db(hz)) > -0.02).all()
    hz = np.geomspace(4.0, 200.0, 400)
    assert (np.diff(weighting_db(hz)) < 0.02).all()


@pytest.mark.parametrize(("width_s", "entry"), PULSES.items())
def test_the_quasi_peak_meter_answers_single_pulses_as_the_standard_says(width_s, entry):
    rate = 1000.0
    t = np.arange(round(20 * rate)) / rate
    pulses = ((t % 1.0) < width_s - 1e-9) * 2.0
    shown = meter(weighted(pulses, rate), rate)[round(10 * rate) : round(16 * rate)]
    reference = meter(weighted(sine(4.0, 20.0, rate), rate), rate)[round(10 * rate) : round(16 * rate)].mean()
    expected, tolerance = entry
    assert shown.max() / reference == pytest.approx(expected, abs=tolerance)
    if width_s == 0.100:
        assert shown.min() / reference == pytest.approx(0.40, abs=0.04)


def test_a_steady_4_hz_sine_reads_its_amplitude():
    assert quasi_peak(weighted(0.1 * sine(4.0), RATE_HZ)[750:-750], RATE_HZ).value == pytest.approx(
        0.1, rel=0.01
    )


def test_two_sigma_of_a_sine_is_0_997_of_its_amplitude():
    """sin(0.95 pi / 2) = 0.9969: the level that |sin| does not exceed for 95 % of the time."""
    steady = sine(4.0)[:9000]
    assert two_sigma(Parts(steady, 0.0 * steady, 0.5, RATE_HZ)).value == pytest.approx(
        np.sin(0.475 * np.pi), abs=0.001
    )


def test_flutter_of_gaussian_noise_is_what_the_table_says_and_its_intervals_cover():
    """White speed noise below 60 Hz: weighted rms by integrating the table; two-sigma of a normal is 1.96
    rms.
    """
    rng = np.random.default_rng(3)
    hz = np.linspace(0.1, 60.0, 60_000)
    level = np.interp(np.log(hz), np.log(list(TABLE)), list(TABLE.values()))
    rms = 0.03 * np.sqrt(np.sum(10.0 ** (level / 10.0)) * (hz[1] - hz[0]) / 60.0)
    count, inside = 15_000, np.zeros((250, 2))
    low = np.fft.rfftfreq(2 * count, 1 / RATE_HZ) < 60.0
    for row in inside:
        spectrum = (rng.standard_normal(count + 1) + 1j * rng.standard_normal(count + 1)) * low
        noise = np.fft.irfft(spectrum, n=2 * count)[:count] * count / np.sqrt(low.sum())
        found = flutter_of(Deviation(0.03 * noise, 3150.0, 3150.0, RATE_HZ, 0.0, 1.0))
        for place, (reading, truth) in enumerate(
            ((found.weighted_rms, rms), (found.weighted_two_sigma, 1.95996 * rms))
        ):
            row[place] = abs(reading.value - truth) < 1.96 * reading.sd + 0.01 * truth
            assert reading.value == pytest.approx(truth, rel=0.12)
    assert ((inside.mean(axis=0) > 0.93) & (inside.mean(axis=0) <= 0.99)).all(), inside.mean(axis=0)


def test_unweighted_flutter_lets_0_2_to_200_hz_through():
    out = unweighted(sine(0.5) + sine(50.0), RATE_HZ)[1500:-1500]
    assert np.sqrt(np.mean(out**2)) == pytest.approx(1.0, rel=0.01)
    assert np.abs(unweighted(sine(0.05, 80.0), RATE_HZ)[7500:-7500]).max() < 0.05


def test_less_than_5_s_gives_no_flutter():
    short = Deviation(0.1 * sine(4.0, 4.5), 3150.0, 3150.0, RATE_HZ, 0.0, 1.0)
    assert flutter_of(short) is None
    assert flutter_of(Deviation(0.1 * sine(4.0, 8.0), 3150.0, 3150.0, RATE_HZ, 0.0, 1.0)) is not None


def test_wow_that_is_cut_off_within_a_turn_reads_its_own_size():
    """A sine of 1 % reads 1 / sqrt 2 rms: neither the filters' ends nor a part of a turn count."""
    turns = 0.5575
    percent = np.sin(2 * np.pi * turns * np.arange(14_760) / RATE_HZ + 1.0)
    found = flutter_of(
        Deviation(percent, 3150.0, 3150.0, RATE_HZ, 0.0, 1.0), turns_per_s=turns, steady_hz=[turns]
    )
    assert found.unweighted_rms.value == pytest.approx(math.sqrt(0.5), rel=5e-4)
    assert found.unweighted_rms.sd < 5e-4
    heavy = 10 ** (float(weighting_db(turns)) / 20)
    assert found.weighted_rms.value == pytest.approx(math.sqrt(0.5) * heavy, rel=5e-4)
    assert found.weighted_two_sigma.value == pytest.approx(np.sin(0.475 * np.pi) * heavy, rel=2e-3)
    assert found.weighted_two_sigma.sd < 1.1 * WEIGHTING_SHARE * found.weighted_two_sigma.value


def test_random_flutter_beside_wow_is_covered():
    rng = np.random.default_rng(5)
    turns, count = 0.5556, 14_760
    wow = 0.1 * np.sin(2 * np.pi * turns * np.arange(count) / RATE_HZ)
    low = np.fft.rfftfreq(2 * count, 1 / RATE_HZ) < 50.0
    inside = np.zeros((150, 2))
    for row in inside:
        spectrum = (rng.standard_normal(count + 1) + 1j * rng.standard_normal(count + 1)) * low
        noise = 0.05 * np.fft.irfft(spectrum, n=2 * count)[:count] * count / np.sqrt(low.sum())
        found = flutter_of(
            Deviation(wow + noise, 3150.0, 3150.0, RATE_HZ, 0.0, 1.0), turns_per_s=turns, steady_hz=[turns]
        ).unweighted_rms
        row[0] = abs(found.value - math.hypot(0.1 / math.sqrt(2), 0.05)) < 1.96 * found.sd
        row[1] = found.sd / found.value
    assert 0.9 < inside[:, 0].mean() <= 0.99
    assert inside[:, 1].mean() < 0.018


@pytest.mark.parametrize(("wow", "line", "q"), [(0.1, 0.03, 0.0), (0.0, 0.0, 4.0), (0.1, 0.0, 4.0)])
def test_the_spread_of_rms_and_two_sigma_over_many_bands_is_the_stated_one(wow, line, q):
    """Random speed noise below 50 Hz, white or with a resonance at 9.5 Hz, beside steady wow and flutter."""
    rng = np.random.default_rng(17)
    count, rms = 13_500, 0.03
    t, hz = np.arange(count) / RATE_HZ, np.fft.rfftfreq(2 * count, 1 / RATE_HZ)
    u = hz / 9.5
    shape = np.where(hz <= 50.0, np.abs(u**2 / (1 - u**2 + 1j * u / q)) if q else 1.0, 0.0)
    steady = wow * np.cos(2 * np.pi * 0.5556 * t) + line * np.cos(2 * np.pi * 5.13 * t)
    lines = [0.5556, 5.13] if wow else []
    found = []
    for _ in range(120):
        noise = np.fft.irfft(shape * np.fft.rfft(rng.standard_normal(2 * count)), n=2 * count)[:count]
        whole = steady + rms * math.sqrt(RATE_HZ / 100.0) * noise
        fitted = sum_of_steady(steady_of(whole, RATE_HZ, lines), lines, RATE_HZ, count)
        parts = Parts(fitted, whole - fitted, np.mean(fitted**2), RATE_HZ)
        found.append([(one.value, one.sd) for one in (rms_of(parts), two_sigma(parts))])
    values, stated = np.moveaxis(np.array(found), 2, 0)
    # 120 bands tell a spread to 6.5 %
    assert values.std(axis=0) / np.sqrt(np.mean(stated**2, axis=0)) == pytest.approx([1.0, 1.0], abs=0.15)
