"""Speed error, the deviation of speed over time, and the part of it that turns with the record."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.audio.averages import density_of, widened
from groovewright.audio.tone_track import ToneData
from groovewright.quantities import FloatArray, Reading

FIT_RATE_HZ = 50.0
MOST_LINES = 6
LINE_TO_FLOOR = 25.0
"""A peak is a line when it stands this far (in power) above the median around it."""


@dataclass(frozen=True)
class Deviation:
    """Speed against its mean, in percent, evenly sampled.

    Parameters
    ----------
    percent : FloatArray
        [shape=(n,)]
    mean_hz : float
    nominal_hz : float
    rate_hz, first_s : float
        Sample rate, and the time of the first sample in the file.
    used : float
        Share of the samples that were measured; the rest lie near clicks and were bridged.
    """

    percent: FloatArray
    mean_hz: float
    nominal_hz: float
    rate_hz: float
    first_s: float
    used: float

    @property
    def duration_s(self) -> float:
        """Length of the series."""
        return self.percent.size / self.rate_hz


@dataclass(frozen=True)
class Turning:
    """Mean speed and once-per-turn part of one band.

    Parameters
    ----------
    speed_error_percent : Reading
    frequency_hz : Reading
        Mean frequency of the tone.
    once_per_turn_percent : Reading
        Amplitude of the part that turns with the record.
    phase_deg : float
        Of its cosine at the time 0 of the file.
    turns_per_s : float
    lines : tuple of (frequency_hz, amplitude_percent)
        Other steady components that were found and set aside.
    """

    speed_error_percent: Reading
    frequency_hz: Reading
    once_per_turn_percent: Reading
    phase_deg: float
    turns_per_s: float
    lines: tuple[tuple[float, float], ...]

    @property
    def steady_hz(self) -> list[float]:
        """Frequencies of everything steady: one and two per turn, and the lines."""
        return [self.turns_per_s, 2.0 * self.turns_per_s, *(hz for hz, _ in self.lines)]

    def off_centre_mm(self, radius_mm: float) -> Reading:
        """Return how far the spindle hole is off the spiral's middle: the speed swings by e / r."""
        part = self.once_per_turn_percent
        return Reading(part.value / 100.0 * radius_mm, part.sd / 100.0 * radius_mm)


def deviation_of(tone: ToneData) -> Deviation | None:
    """Return the speed deviation, or None where less than a second of the tone is there."""
    carrier = tone.carrier
    good = tone.good
    present = np.flatnonzero(good)
    if present.size < tone.rate_hz:
        return None
    span = slice(int(present[0]), int(present[-1]) + 1)
    carrier, good = carrier[span].astype(np.complex128), good[span]
    steps = np.asarray(np.angle(carrier[1:] * np.conj(carrier[:-1])), dtype=np.float64)
    fine = good[1:] & good[:-1]
    index = np.arange(steps.size)
    if not fine.all():
        steps = np.interp(index, index[fine], steps[fine])
    frequency = tone.centre_hz + steps * tone.rate_hz / (2.0 * np.pi)
    mean = float(frequency.mean())
    return Deviation(
        percent=100.0 * (frequency / mean - 1.0),
        mean_hz=mean,
        nominal_hz=tone.nominal_hz,
        rate_hz=tone.rate_hz,
        first_s=tone.first_s + (span.start + 0.5) / tone.rate_hz,
        used=float(fine.mean()),
    )


def turning_of(deviation: Deviation, speed_rpm: float) -> Turning:
    """Return mean speed and once-per-turn part: least squares of constant, one and two per turn, and lines.

    Steady flutter lines are found in what is left and fitted along, so that they do not leak into the result
    when the band is not a whole number of their periods long. The rest is taken as random: its power
    density near 0 and near one per turn gives the uncertainties.
    """
    size = max(1, int(deviation.rate_hz / FIT_RATE_HZ))
    count = deviation.percent.size // size
    values = np.asarray(deviation.percent[: count * size].reshape(count, size).mean(axis=1), dtype=np.float64)
    rate_hz = deviation.rate_hz / size
    times: FloatArray = np.asarray(
        deviation.first_s + (np.arange(count) * size + (size - 1) / 2.0) / deviation.rate_hz, dtype=np.float64
    )
    nominal = deviation.nominal_hz or deviation.mean_hz
    turns = speed_rpm / 60.0 * deviation.mean_hz / nominal
    frequencies = [turns, 2.0 * turns]
    for _ in range(MOST_LINES):
        rest: FloatArray = np.subtract(values, _fit(times, values, frequencies)[1])
        line = _strongest_line(rest, rate_hz, frequencies)
        if line is None:
            break
        frequencies.append(_refined(times, values, frequencies, line))
    solution, model = _fit(times, values, frequencies)
    rest = np.subtract(values, model)
    mean_sd, turn_sd = _uncertainties(times, rest, rate_hz, frequencies, solution)
    correction = solution[0] / 100.0
    frequency = deviation.mean_hz * (1.0 + correction)
    # a mean over one sample's width swings a little less
    part = math.hypot(solution[1], solution[2]) / float(np.sinc(turns / rate_hz))
    lines = tuple(
        (hz, math.hypot(solution[2 * i + 1], solution[2 * i + 2]))
        for i, hz in enumerate(frequencies)
        if i > 1
    )
    return Turning(
        speed_error_percent=Reading(100.0 * (frequency / nominal - 1.0), mean_sd * frequency / nominal),
        frequency_hz=Reading(frequency, mean_sd / 100.0 * frequency),
        once_per_turn_percent=Reading(math.sqrt(max(part**2 - turn_sd**2, 0.0)), turn_sd),
        phase_deg=math.degrees(math.atan2(-solution[2], solution[1])),
        turns_per_s=turns,
        lines=lines,
    )


def steady_of(values: FloatArray, rate_hz: float, frequencies: Sequence[float]) -> NDArray[np.complex128]:
    """Return amplitude times exp(i phase at the first sample) of these frequencies, by least squares; 0 where the
    series is too short for them. [shape=(len(frequencies),)]
    """
    if values.size <= 2 * len(frequencies) + 1:
        return np.zeros(len(frequencies), dtype=np.complex128)
    times = np.asarray(np.arange(values.size) / rate_hz, dtype=np.float64)
    solution = _fit(times, values, list(frequencies))[0]
    return np.asarray(solution[1::2] - 1j * solution[2::2])


def sum_of_steady(
    amplitudes: NDArray[np.complex128], frequencies: Sequence[float], rate_hz: float, samples: int
) -> FloatArray:
    """Return the sum of cosines with these complex amplitudes. [shape=(samples,)]"""
    total = np.zeros(samples)
    turns = np.arange(samples) / rate_hz
    for amplitude, hz in zip(amplitudes, frequencies, strict=True):
        total += (amplitude * np.exp(2j * np.pi * hz * turns)).real
    return total


def without_lines(values: FloatArray, rate_hz: float, frequencies: Sequence[float]) -> FloatArray:
    """Return a series less its mean and the steady parts of these frequencies. [shape=(n,)]"""
    if not values.size:
        return values
    steady = sum_of_steady(steady_of(values, rate_hz, frequencies), frequencies, rate_hz, values.size)
    rest = np.asarray(values - steady)
    return np.asarray(rest - rest.mean())


def _columns(times: FloatArray, frequencies: list[float]) -> FloatArray:
    columns = [np.ones_like(times)]
    for hz in frequencies:
        angle = 2.0 * np.pi * hz * times
        columns += [np.cos(angle), np.sin(angle)]
    return np.stack(columns, axis=1)


def _fit(times: FloatArray, values: FloatArray, frequencies: list[float]) -> tuple[FloatArray, FloatArray]:
    table = _columns(times, frequencies)
    solution = _solved(table, values)
    return solution, np.asarray(table @ solution)


def _solved(table: FloatArray, values: FloatArray) -> FloatArray:
    """Return the least-squares solution by normal equations: the columns are nearly orthogonal."""
    scale = 1.0 / np.sqrt(np.einsum("ij,ij->j", table, table))
    normal = (table.T @ table) * np.outer(scale, scale)
    normal[np.diag_indices_from(normal)] += 1e-12
    return np.asarray(np.linalg.solve(normal, (table.T @ values) * scale) * scale)


def _strongest_line(rest: FloatArray, rate_hz: float, known: list[float]) -> float | None:
    """Return the frequency of the strongest steady component from 0.2 to 20 Hz, if one stands out."""
    from scipy import fft

    padded = fft.next_fast_len(4 * rest.size, real=True)
    power = np.abs(fft.rfft(rest * np.hanning(rest.size), n=padded)) ** 2
    hz = fft.rfftfreq(padded, 1.0 / rate_hz)
    width = 1.5 * rate_hz / rest.size
    allowed = (hz > 0.2) & (hz < 20.0)
    for other in known:
        allowed &= np.abs(hz - other) > width
    if not allowed.any():
        return None
    peak = int(np.argmax(np.where(allowed, power, 0.0)))
    around = (
        allowed & (np.abs(hz - hz[peak]) < max(1.0, 12.0 * width)) & (np.abs(hz - hz[peak]) > 2.0 * width)
    )
    if around.sum() < 8 or power[peak] < LINE_TO_FLOOR * np.median(power[around]):
        return None
    return float(hz[peak])


def _refined(times: FloatArray, values: FloatArray, known: list[float], line: float) -> float:
    """Return the line's frequency after Gauss-Newton steps along its derivative."""
    middle = float(times.mean())
    hz = line
    limit = 0.5 / (times[-1] - times[0])
    for _ in range(4):
        table = _columns(times, [*known, hz])
        angle = 2.0 * np.pi * hz * times
        solution = _solved(table, values)
        slope = (
            2.0 * np.pi * (times - middle) * (-solution[-2] * np.sin(angle) + solution[-1] * np.cos(angle))
        )
        wide = np.column_stack([table, slope])
        change = float(_solved(wide, values)[-1])
        hz += min(max(change, -limit), limit)
    return hz if abs(hz - line) < 2.0 * limit else line


def _uncertainties(
    times: FloatArray, rest: FloatArray, rate_hz: float, frequencies: list[float], solution: FloatArray
) -> tuple[float, float]:
    """Return the standard uncertainties of the mean and of the once-per-turn amplitude, in percent.

    The random rest is white near the frequency in question, with the density found there; the covariance of
    least squares with free line frequencies does the rest (GUM H.3; JCGM 100:2008).
    """
    hz, power = density_of(rest, rate_hz)
    duration = rest.size / rate_hz
    table = _columns(times, frequencies)
    slopes = [
        (times - times.mean())
        * (solution[2 * i + 2] * table[:, 2 * i + 1] - solution[2 * i + 1] * table[:, 2 * i + 2])
        for i in range(2, len(frequencies))
    ]
    wide = np.column_stack([table, *slopes])
    scale = np.sqrt(np.sum(wide**2, axis=0))
    covariance = np.linalg.pinv((wide / scale).T @ (wide / scale)) / np.outer(scale, scale)
    along = solution[1:3] / max(float(np.hypot(solution[1], solution[2])), 1e-300)
    shares = (covariance[0, 0], float(along @ covariance[1:3, 1:3] @ along))
    turns = frequencies[0]
    out = []
    for low, high, share in ((0.0, 1.5, shares[0]), (0.3 * turns, 2.6 * turns, shares[1])):
        high = max(high, low + 14.0 / duration)
        near = (hz > low) & (hz < high)
        # each bin is two degrees of freedom; what was fitted in here took some of them
        freedom = 2.0 * float(near.sum())
        freedom -= sum(2.0 if i < 2 else 3.0 for i, line in enumerate(frequencies) if low < line < high)
        density = 2.0 * float(power[near].sum()) / max(freedom, 2.0)
        out.append(widened(math.sqrt(density * rate_hz * share), max(freedom, 2.0)))
    return out[0], out[1]
