"""Wow and flutter: weighted and not, two-sigma and quasi-peak (IEC 60386:1972 with amendment 1,
AES6-2008).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.audio.averages import density_of, widened
from groovewright.audio.flutter_parts import Parts, rms_of, two_sigma
from groovewright.audio.speed import Deviation, steady_of, sum_of_steady
from groovewright.quantities import FloatArray, Reading

WEIGHTING_HZ = np.array(
    [0.1, 0.2, 0.315, 0.4, 0.63, 0.8, 1.0, 1.6, 2.0, 4.0, 6.3, 10.0, 20.0, 40.0, 63.0, 100.0, 200.0]
)
WEIGHTING_DB = np.array(
    [
        -48.0,
        -30.6,
        -19.7,
        -15.0,
        -8.4,
        -6.0,
        -4.2,
        -1.8,
        -0.9,
        0.0,
        -0.9,
        -2.1,
        -5.9,
        -10.4,
        -14.2,
        -17.3,
        -23.0,
    ]
)
"""The weighting curve of IEC 60386 and AES6-2008 (from memory, agrees with a public listing of the AES
curve).
"""
WEIGHTING_SHARE = 0.0025
"""Of a weighted value, what the network that follows the table leaves open (34 recordings by another generator stood
up to 0.46 % from the table's own values, benchmarks/listen_foreign.py)."""
LEAST_S = 5.0
"""The two-sigma method wants at least this much tone (AES6-2008)."""
SETTLE_S = 1.0
LOWEST_HZ, HIGHEST_HZ = 0.2, 200.0
CHARGE_S, LEAK_S, FOLLOW_S, DISCHARGE_S = 0.0201, 0.2165, 0.1733, 0.776
"""Quasi-peak meter: time constants of its two stages, fitted to the pulse responses of IEC 60386."""
LONGEST_METER_S = 120.0
LEAST_GROUPS = 4
"""Stretches of the meter's course whose scatter gives the uncertainty."""
LEAST_TURNS = 4


@dataclass(frozen=True)
class Flutter:
    """Wow and flutter of one band, in percent.

    Parameters
    ----------
    unweighted_rms, weighted_rms, weighted_two_sigma : Reading
    weighted_quasi_peak : Reading
    spectrum_hz, spectrum_percent : FloatArray
        Rms deviation in each bin of the spectrum.
    """

    unweighted_rms: Reading
    weighted_rms: Reading
    weighted_two_sigma: Reading
    weighted_quasi_peak: Reading
    spectrum_hz: FloatArray
    spectrum_percent: FloatArray


def weighting_db(frequency_hz: ArrayLike) -> FloatArray:
    """Return the flutter weighting; between the table's points smooth in log f, beyond them straight.
    [shape=(...)]
    """
    log_hz = np.log(np.maximum(np.asarray(frequency_hz, dtype=float), 1e-6))
    table = np.log(WEIGHTING_HZ)
    place = np.clip(log_hz, table[0], table[-1])
    # cubic through the points, with the slopes of the parabola through each point and its neighbours
    slopes = np.gradient(WEIGHTING_DB, table)
    index = np.clip(np.searchsorted(table, place) - 1, 0, table.size - 2)
    width = table[index + 1] - table[index]
    u = (place - table[index]) / width
    first = WEIGHTING_DB[index] * (1.0 + 2.0 * u) + slopes[index] * width * u
    second = WEIGHTING_DB[index + 1] * (3.0 - 2.0 * u) - slopes[index + 1] * width * (1.0 - u)
    inside = first * (1.0 - u) ** 2 + second * u**2
    # 18 dB an octave below the table, 6 dB above: the slopes at its ends
    below = np.minimum(log_hz - table[0], 0.0) * (18.06 / math.log(2.0))
    above = np.maximum(log_hz - table[-1], 0.0) * (6.02 / math.log(2.0))
    return np.asarray(inside + below - above)


def weighted(percent: FloatArray, rate_hz: float, steady_hz: Sequence[float] = ()) -> FloatArray:
    """Return the deviation after the weighting filter, with the phase of a meter's. [shape=(n,)]"""
    return _filtered(percent, rate_hz, _meter_like, steady_hz).whole


def unweighted(percent: FloatArray, rate_hz: float, steady_hz: Sequence[float] = ()) -> FloatArray:
    """Return the deviation between 0.2 and 200 Hz. [shape=(n,)]"""
    return _filtered(percent, rate_hz, _pass_band, steady_hz).whole


def _pass_band(hz: FloatArray) -> NDArray[np.complex128]:
    return np.asarray(((hz >= LOWEST_HZ) & (hz <= HIGHEST_HZ)).astype(complex))


def _meter_like(hz: FloatArray) -> NDArray[np.complex128]:
    """Return the weighting's gain with the phase of a network that follows the table to 0.3 dB.

    Three poles below 1.5 Hz and three zeros at 0 cut the slow end, two poles and a zero the fast one; their
    corners were fitted to the table. The size is the table's own.
    """
    s = 1j * hz
    network = (s / (s + SLOW_HZ)) * s**2 / (s**2 + s * SLOW_PAIR_HZ / SLOW_PAIR_Q + SLOW_PAIR_HZ**2)
    network *= (1.0 + s / FAST_ZERO_HZ) / ((1.0 + s / FAST_HZ[0]) * (1.0 + s / FAST_HZ[1]))
    phase = network / np.maximum(np.abs(network), 1e-300)
    return np.asarray(10.0 ** (weighting_db(hz) / 20.0) * phase)


SLOW_HZ, SLOW_PAIR_HZ, SLOW_PAIR_Q = 1.4198, 0.44568, 0.6535
FAST_HZ, FAST_ZERO_HZ = (9.7159, 61.571), 46.735


def _filtered(
    percent: FloatArray,
    rate_hz: float,
    gain: Callable[[FloatArray], NDArray[np.complex128]],
    steady_hz: Sequence[float],
) -> Parts:
    """Return a series behind a filter.

    What is steady is taken out and has the filter's gain applied to it as it is, since a slow swing that is cut off
    at the ends of the series would ring in the filter. The rest has its ends mirrored.
    """
    from scipy import fft

    series = percent - percent.mean()
    amplitudes = steady_of(series, rate_hz, steady_hz)
    series = series - sum_of_steady(amplitudes, steady_hz, rate_hz, series.size)
    edge = min(series.size - 1, int(6.0 * rate_hz))
    padded = np.pad(series, edge, mode="reflect", reflect_type="odd")
    size = fft.next_fast_len(padded.size, real=True)

    def whole(hz: FloatArray) -> NDArray[np.complex128]:
        # the deviation came from differences of phase, which are means over one sample
        return gain(hz) / np.sinc(np.minimum(hz / rate_hz, 0.5))

    hz = np.asarray(fft.rfftfreq(size, 1.0 / rate_hz), dtype=np.float64)
    filtered = fft.irfft(fft.rfft(padded, n=size) * whole(hz), n=size)[edge : edge + series.size]
    passed = amplitudes * whole(np.array(steady_hz, dtype=np.float64))
    steady = sum_of_steady(passed, steady_hz, rate_hz, series.size)
    return Parts(steady, filtered, 0.5 * float(np.sum(np.abs(passed) ** 2)), rate_hz)


def flutter_of(
    deviation: Deviation, *, turns_per_s: float = 0.0, steady_hz: Sequence[float] = ()
) -> Flutter | None:
    """Return wow and flutter, or None where the tone is shorter than `LEAST_S` plus the filter's settling.

    Parameters
    ----------
    turns_per_s : float
        Of the record, where it is known: then whole turns are taken, since what turns with it swings more or less
        in a part of a turn.
    steady_hz : sequence of float
        Frequencies of what is steady in the deviation, once per turn included.
    """
    rate_hz = deviation.rate_hz
    settle = int(SETTLE_S * rate_hz)
    if deviation.percent.size < LEAST_S * rate_hz + 2 * settle:
        settle = int(0.25 * rate_hz)
    if deviation.percent.size < LEAST_S * rate_hz:
        return None
    span = slice(settle, settle + _whole_turns(deviation.percent.size - 2 * settle, rate_hz, turns_per_s))
    heavy = _filtered(deviation.percent, rate_hz, _meter_like, steady_hz).cut(span)
    plain = _filtered(deviation.percent, rate_hz, _pass_band, steady_hz).cut(span)
    hz, density = density_of(plain.whole, rate_hz)
    step = hz[1]
    shown = (hz >= LOWEST_HZ) & (hz <= HIGHEST_HZ)
    return Flutter(
        unweighted_rms=rms_of(plain),
        weighted_rms=_as_weighted(rms_of(heavy)),
        weighted_two_sigma=_as_weighted(two_sigma(heavy)),
        weighted_quasi_peak=quasi_peak(heavy.whole, rate_hz, turns_per_s),
        spectrum_hz=hz[shown],
        spectrum_percent=np.sqrt(2.0 * density[shown] * step),
    )


def _whole_turns(samples: int, rate_hz: float, turns_per_s: float) -> int:
    """Return how many samples to use: whole turns where there are a few."""
    turns = int(samples * turns_per_s / rate_hz)
    return samples if turns < LEAST_TURNS else int(turns * rate_hz / turns_per_s)


def meter(series: FloatArray, rate_hz: float) -> FloatArray:
    """Return what a quasi-peak meter shows over time. [shape=(n,)]

    Both polarities charge a first store fast, which leaks and charges a second one; half their sum is shown.
    The time constants reproduce the pulse responses of IEC 60386 (docs/listen.md); a 4 Hz sine reads its
    amplitude.
    """
    return (
        METER_SCALE
        * 0.5
        * (_held(np.maximum(series, 0.0), rate_hz) + _held(np.maximum(-series, 0.0), rate_hz))
    )


def _held(series: FloatArray, rate_hz: float) -> FloatArray:
    charge = -math.expm1(-1.0 / (CHARGE_S * rate_hz))
    leak = math.exp(-1.0 / (LEAK_S * rate_hz))
    follow = -math.expm1(-1.0 / (FOLLOW_S * rate_hz))
    fall = math.exp(-1.0 / (DISCHARGE_S * rate_hz))
    shown = np.empty(series.size)
    first = second = 0.0
    for index, value in enumerate(series.tolist()):
        first *= leak
        if value > first:
            first += (value - first) * charge
        second *= fall
        if first > second:
            second += (first - second) * follow
        shown[index] = second
    return shown


METER_SCALE = 1.0 / 0.4972
"""Makes a steady 4 Hz sine read its amplitude."""


def _as_weighted(reading: Reading) -> Reading:
    """Return a weighted value with what the weighting's own network leaves open."""
    return Reading(reading.value, math.hypot(reading.sd, WEIGHTING_SHARE * reading.value))


def quasi_peak(series: FloatArray, rate_hz: float, turns_per_s: float = 0.0) -> Reading:
    """Return the quasi-peak value: the mean of what the meter shows once it has settled (common practice)."""
    used = series[: int(LONGEST_METER_S * rate_hz)]
    shown = meter(used, rate_hz)[int(min(3.0 * rate_hz, used.size // 2)) :]
    # the meter remembers for a second: stretches of three, or of whole turns, are nearly independent
    each = 3.0 * rate_hz
    if turns_per_s > 0.0:
        turns = int(shown.size * turns_per_s / rate_hz)
        each = max(1, min(math.ceil(3.0 * turns_per_s), turns // LEAST_GROUPS)) * rate_hz / turns_per_s
    groups = max(LEAST_GROUPS, min(16, int(shown.size / each)))
    shown = shown[: int(min(shown.size, groups * each))]
    means = shown[: shown.size // groups * groups].reshape(groups, -1).mean(axis=1)
    # neighbours of length L share what a memory of T seconds leaves: correlation T / 2 L
    spread = float(means.std(ddof=1)) * math.sqrt((1.0 + DISCHARGE_S * rate_hz / each) / groups)
    return Reading(float(shown.mean()), widened(spread, groups - 1) + 1e-9)
