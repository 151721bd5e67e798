"""Rumble, hiss and hum of a silent groove, relative to the reference level."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.audio.averages import decibels, widened
from groovewright.audio.gather import BandData
from groovewright.audio.noise_weighting import (
    a_weighting_db,
    itu_weighting_db,
    rumble_plain_db,
    rumble_weighted_db,
    to_gain,
)
from groovewright.quantities import FloatArray, Reading

MAINS_HZ = (50.0, 60.0)
MAINS_SPREAD = 0.004
"""How far the mains may be off: common practice."""
HUM_ORDERS = (1, 2, 3, 4, 5, 6)
HUM_LEAST_S = 4.0
HUM_TO_FLOOR = 12.0
"""A hum line stands this far (in power) above the median of its surroundings."""
NEAR_BINS = 8
"""To either side of a line: what lies further off adds nothing to the spectrum between bins under a Hann window."""
HANN_COST = 1.530
AUDIBLE_HZ = (20.0, 20_000.0)


@dataclass(frozen=True)
class Noise:
    """Levels of both columns in dB relative to the reference (0 dB: the rms of the reference tone).

    Parameters
    ----------
    rumble_db, rumble_weighted_db, a_weighted_db, itu_weighted_db : (Reading, Reading)
    itu_quasi_peak_db : (Reading, Reading) or None
        As the recommendation's own meter shows it; None for short bands.
    """

    rumble_db: tuple[Reading, Reading]
    rumble_weighted_db: tuple[Reading, Reading]
    a_weighted_db: tuple[Reading, Reading]
    itu_weighted_db: tuple[Reading, Reading]
    itu_quasi_peak_db: tuple[Reading, Reading] | None = None


@dataclass(frozen=True)
class Hum:
    """Hum of both columns.

    Parameters
    ----------
    mains_hz, mains_sd_hz : float
        What it is a multiple of, 50 or 60 nominally, and its standard uncertainty.
    lines_db : dict of order to (left, right)
        Only lines that stand out.
    total_db : (Reading, Reading)
    likely_cause : str
        By common practice, never certain.
    """

    mains_hz: float
    mains_sd_hz: float
    lines_db: dict[int, tuple[float, float]]
    total_db: tuple[Reading, Reading]
    likely_cause: str


def noise_of(data: BandData, reference_rms: float) -> Noise | None:
    """Return rumble and weighted noise of a silent band; None where nothing was heard of it."""
    if data.density is None or data.low is None:
        return None
    hz = np.arange(data.density.shape[1]) * data.plan.bin_hz
    audible = (hz >= AUDIBLE_HZ[0]) & (hz <= AUDIBLE_HZ[1])

    def fine(weighting: FloatArray, column: int) -> Reading:
        density = np.asarray(data.density)[column]
        return _level(
            density, weighting * audible, data.plan.bin_hz, data.spectra_count / 1.94, reference_rms
        )

    low_hz, low_density = _low_density(data)
    plain, heavy = to_gain(rumble_plain_db(low_hz)), to_gain(rumble_weighted_db(low_hz))
    plain[low_hz < 2.0] = 0.0
    a, itu = to_gain(a_weighting_db(hz)), to_gain(itu_weighting_db(hz))
    left, right = 0, 1
    return Noise(
        (
            _level_of_stretches(low_density[left], plain, low_hz[1], reference_rms),
            _level_of_stretches(low_density[right], plain, low_hz[1], reference_rms),
        ),
        (
            _level_of_stretches(low_density[left], heavy, low_hz[1], reference_rms),
            _level_of_stretches(low_density[right], heavy, low_hz[1], reference_rms),
        ),
        (fine(a, left), fine(a, right)),
        (fine(itu, left), fine(itu, right)),
        _against(data.quasi_peak, reference_rms),
    )


def _against(pair: tuple[Reading, Reading] | None, reference_rms: float) -> tuple[Reading, Reading] | None:
    if pair is None:
        return None
    left, right = (decibels(Reading(one.value / reference_rms, one.sd / reference_rms)) for one in pair)
    return left, right


def _level(
    density: FloatArray, gain: FloatArray, step_hz: float, averages: float, reference_rms: float
) -> Reading:
    """Return the level of a weighted density, and its uncertainty from the number of independent averages."""
    parts = density * gain**2 * step_hz
    total = float(parts.sum())
    if total <= 0.0:
        return Reading(-200.0, 1.0)
    # bandwidth times time: 1 average of a bin is 1 / step of time (Hann frames that barely overlap use 1 /
    # 1.94)
    relative = math.sqrt(float(np.sum(parts**2)) / max(averages, 1.0)) / total
    return Reading(10.0 * math.log10(total / reference_rms**2), 10.0 / math.log(10.0) * relative)


def _level_of_stretches(
    density: FloatArray, gain: FloatArray, step_hz: float, reference_rms: float
) -> Reading:
    """Return the level of a weighted density, and its uncertainty from how stretches differ: steady hum in it
    is not uncertain. [density: shape=(stretches, bins)]
    """
    totals = np.sum(density * gain**2, axis=1) * step_hz
    mean = float(totals.mean())
    if mean <= 0.0:
        return Reading(-200.0, 1.0)
    count = totals.size
    # neighbours that share half their Hann window have 1/36 of their variance in common (P. D. Welch, 1967)
    spread = float(totals.std(ddof=1)) * math.sqrt(1.06 / count) / mean if count > 1 else 0.5
    relative = widened(spread, count - 1) if count > 2 else 0.5
    return Reading(10.0 * math.log10(mean / reference_rms**2), 10.0 / math.log(10.0) * relative)


def _low_density(data: BandData) -> tuple[FloatArray, FloatArray]:
    """Return frequencies and fine one-sided densities of stretches of about 2.7 s of the low-pass stream.
    [shape=(bins,), (2, stretches, bins)]
    """
    low = np.asarray(data.low, dtype=np.float64)
    length = min(low.shape[1], 8192)
    pieces = np.lib.stride_tricks.sliding_window_view(low, length, axis=1)[:, :: max(1, length // 2)]
    window = np.hanning(length + 1)[:-1]
    # P. D. Welch, IEEE Trans. Audio Electroacoust. 15, 70, 1967
    spectra = np.fft.rfft((pieces - pieces.mean(axis=2, keepdims=True)) * window, axis=2)
    density = 2.0 * np.abs(spectra) ** 2 / (data.low_rate_hz * float(np.sum(window**2)))
    hz = np.fft.rfftfreq(length, 1.0 / data.low_rate_hz)
    return np.asarray(hz, dtype=np.float64), np.asarray(density, dtype=np.float64)


def hum_of(low: ArrayLike, rate_hz: float, reference_rms: float) -> Hum | None:
    """Return the hum in a low-pass stream, or None where no multiple of 50 or 60 Hz stands out. [low:
    shape=(2, n)]
    """
    sound = np.asarray(low, dtype=np.float64)
    if sound.shape[1] < HUM_LEAST_S * rate_hz:
        return None
    lines = max(
        (_lines(sound, rate_hz, mains) for mains in MAINS_HZ),
        key=lambda found: sum(sum(size.value for size in line.sizes) ** 2 for line in found.values()),
    )
    if not lines:
        return None
    pairs = {order: line.sizes for order, line in lines.items()}
    totals = tuple(_total([pair[column] for pair in pairs.values()], reference_rms) for column in (0, 1))

    def level_db(size: Reading) -> float:
        return 20.0 * math.log10(max(size.value, 1e-9) * math.sqrt(0.5) / reference_rms)

    return Hum(
        *_mains_of(lines),
        lines_db={order: (level_db(left), level_db(right)) for order, (left, right) in pairs.items()},
        total_db=(totals[0], totals[1]),
        likely_cause=likely_cause({order: (pair[0].value, pair[1].value) for order, pair in pairs.items()}),
    )


def _total(sizes: list[Reading], reference_rms: float) -> Reading:
    square = sum(size.value**2 for size in sizes) / 2.0
    spread = math.sqrt(sum((size.value * size.sd) ** 2 for size in sizes)) / 2.0 * math.sqrt(2.0)
    if square <= 0.0:
        return Reading(-200.0, 1.0)
    return Reading(
        10.0 * math.log10(square / reference_rms**2),
        min(10.0 / math.log(10.0) * spread * math.sqrt(2.0) / square, 20.0),
    )


@dataclass(frozen=True)
class _Line:
    """A line of hum: where it was found, and the amplitudes in both columns."""

    hz: float
    sd_hz: float
    sizes: tuple[Reading, Reading]


def _lines(sound: FloatArray, rate_hz: float, nominal_hz: float) -> dict[int, _Line]:
    """Return the lines that stand out, by order."""
    from scipy import fft

    count = sound.shape[1]
    window = np.hanning(count)
    spectrum = fft.rfft(sound * window, axis=-1)
    power = np.abs(spectrum) ** 2
    hz = fft.rfftfreq(count, 1.0 / rate_hz)
    step = hz[1]
    lines: dict[int, _Line] = {}
    for order in HUM_ORDERS:
        centre = order * (_mains_of(lines)[0] if lines else nominal_hz)
        reach = max(order * MAINS_SPREAD * nominal_hz if not lines else 0.0005 * centre, 2.0 * step)
        off = np.abs(hz - centre)
        near = np.flatnonzero(off <= reach)
        around = np.flatnonzero((off > reach + 3.0 * step) & (off < reach + 8.0))
        if not near.size or around.size < 6:
            continue
        peak = int(near[int(np.argmax(power[:, near].sum(axis=0)))])
        # a dead column has a floor of nothing at all
        floor = np.median(power[:, around], axis=1) / math.log(2.0) + 1e-12 * float(power[:, peak].max())
        if not np.any(power[:, peak] > HUM_TO_FLOOR * floor * (1.0 + math.log(near.size))):
            continue
        sizes = _amplitude(power[0], peak, floor[0], window), _amplitude(power[1], peak, floor[1], window)
        place, sd = _placed(spectrum, peak, floor, sizes)
        lines[order] = _Line(place * step, sd * step, sizes)
    return lines


def _mains_of(lines: dict[int, _Line]) -> tuple[float, float]:
    """Return the frequency that all lines are multiples of, and its standard uncertainty."""
    orders = np.array(list(lines))
    found = np.array([line.hz for line in lines.values()]) / orders
    weights = (orders / np.array([line.sd_hz for line in lines.values()])) ** 2
    return float(np.sum(weights * found) / weights.sum()), float(weights.sum() ** -0.5)


def _placed(
    spectrum: NDArray[np.complex128], peak: int, floor: FloatArray, sizes: tuple[Reading, Reading]
) -> tuple[float, float]:
    """Return a line's place in bins, and its standard uncertainty, from both columns.

    The place is the peak of the spectrum between its bins (a sum of sines over x), each column over its floor. The
    bound for it is sqrt(3) / pi over the root of A^2 N / 2 s^2 (D. C. Rife and R. R. Boorstyn, IEEE Trans. Inf. Theory
    20, 591, 1974), for noise of the same density as around the line; a window w of length 1 about 0 costs the root of
    integral w^2 t^2 / 12 (integral w t^2)^2, 1.53 for Hann's.
    """
    places = peak + np.linspace(-1.0, 1.0, 401)
    bins = np.arange(max(peak - NEAR_BINS, 0), min(peak + NEAR_BINS + 1, spectrum.shape[1]))
    apart = bins - places[:, None]
    between = (np.sinc(apart) * np.exp(1j * np.pi * apart)) @ spectrum[:, bins].T
    height = np.sum(np.abs(between) ** 2 / floor, axis=1)
    top = int(np.clip(np.argmax(height), 1, places.size - 2))
    left, right = height[top - 1] - height[top], height[top + 1] - height[top]
    shift = 0.5 * (left - right) / min(left + right, -1e-300)
    place = places[top] + float(np.clip(shift, -1.0, 1.0)) * (places[1] - places[0])
    strength = 2.0 * sum((size.value / size.sd) ** 2 for size in sizes)
    return float(place), HANN_COST * math.sqrt(3.0 / max(strength, 1e-300)) / math.pi


def _amplitude(power: FloatArray, peak: int, floor: float, window: FloatArray) -> Reading:
    """Return a line's amplitude from the power of its main lobe, less the floor's share.

    A line's energy under a window is A^2 / 4 N sum(w^2), whatever its place between two bins (Parseval).
    """
    lobe = power[peak - 2 : peak + 3]
    energy = max(float(lobe.sum()) - lobe.size * floor, 0.0)
    scale = 4.0 / (window.size * float(np.sum(window**2)))
    amplitude = math.sqrt(energy * scale)
    # noise in bins that overlap as a Hann window makes them adds up along the line's lobe to this floor (0.97 on a bin)
    sd = math.sqrt(floor * scale)
    return Reading(amplitude, sd if amplitude > sd else 2.0 * sd)


def likely_cause(amplitudes: dict[int, tuple[float, float]]) -> str:
    """Return where to look first, from the pattern of the lines: common practice, never certain."""
    first = sum(amplitudes.get(1, (0.0, 0.0)))
    odd = sum(sum(pair) for order, pair in amplitudes.items() if order in (3, 5))
    even = sum(sum(pair) for order, pair in amplitudes.items() if order % 2 == 0)
    left = math.hypot(*(pair[0] for pair in amplitudes.values()), 0.0)
    right = math.hypot(*(pair[1] for pair in amplitudes.values()), 0.0)
    if max(left, right) > 3.0 * min(left, right):
        side = "left" if left > right else "right"
        return (
            f"mostly in the {side} channel: look at that channel's leads and return, and for an open return"
        )
    if even > 1.5 * (first + odd):
        return "mostly even multiples: rectifier ripple, so look at power supplies and at the earth lead"
    if first > 2.0 * (odd + even):
        return "mostly the mains frequency itself: a transformer or motor near the cartridge; move things"
    return "mains with a string of harmonics in both channels: earth lead loose or doubled (a loop)"
