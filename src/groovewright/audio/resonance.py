"""The resonance of arm and cartridge: from low sweeps, from groove noise, from what it does to a pilot
tone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.audio.bands import Law, Replay
from groovewright.audio.descent import descend
from groovewright.audio.equaliser import cut_velocity, gain_between
from groovewright.quantities import FloatArray, Reading

LOWEST_HZ, HIGHEST_HZ = 3.0, 30.0
"""Where a resonance of arm and cartridge is looked for."""
ROUNDS = 3
"""Fits of a sweep; each starts from a better course."""
RATE_HZ = 250.0
PASS_HZ, STOP_HZ = 100.0, 150.0
"""What `slower` keeps, and from where on it keeps nothing."""
FAR = 0.1
"""A point of a sweep's envelope that is this far off, in nepers, is an outlier."""
LAGS = 25
"""Points of the envelope over which neighbours share what disturbs them: a second."""
STEP = 1e-3
STEPS = np.array([[0.0, 0.0], [STEP, 0.0], [0.0, STEP]])
"""Of the logarithms of frequency and Q, to see how the model changes."""


@dataclass(frozen=True)
class Resonance:
    """A resonance that was found.

    Parameters
    ----------
    frequency_hz, q : Reading
    curve_hz, curve_db : FloatArray
        What it was read from, for a drawing: levels after the equaliser is undone.
    """

    frequency_hz: Reading
    q: Reading
    curve_hz: FloatArray
    curve_db: FloatArray


def resonance_gain(frequency_hz: ArrayLike, resonance_hz: ArrayLike, q: ArrayLike) -> NDArray[np.complex128]:
    """Return the motion of the stylus against the cartridge, over that of the groove. [shape=(...), broadcast]

    H = -u^2 / (1 - u^2 + i u / Q) with u = f / f0: a mass on spring and damper (textbook).
    """
    u = np.asarray(np.asarray(frequency_hz, dtype=float) / resonance_hz)
    square = u**2
    below = np.empty(square.shape, dtype=np.complex128)
    np.subtract(1.0, square, out=below.real)
    below.imag = u / q
    return np.asarray(-square / below)


def slower(low: FloatArray, rate_hz: float) -> tuple[FloatArray, float]:
    """Return a low-pass stream at about 250 Hz and its exact rate, shorter by the filter. [shape=(n,) to (m,)]

    The filter stops a tone at 150 Hz or above by 90 dB (Kaiser window, beta 9), and nothing rings at the ends, so
    that what lies below the tone can be read.
    """
    factor = max(1, int(rate_hz / RATE_HZ))
    # J. F. Kaiser's rule: length = (attenuation - 7.95) / (14.36 transition)
    half = int(np.ceil(0.5 * (90.0 - 7.95) / 14.36 * rate_hz / (STOP_HZ - PASS_HZ)))
    places = np.arange(-half, half + 1)
    cutoff = (PASS_HZ + STOP_HZ) / rate_hz
    taps = cutoff * np.sinc(cutoff * places) * np.kaiser(places.size, 9.0)
    if low.size <= taps.size:
        return np.zeros(0), rate_hz / factor
    from scipy import fft

    values = np.asarray(low, dtype=np.float64)
    size = fft.next_fast_len(values.size + taps.size, real=True)
    whole = fft.irfft(fft.rfft(values, n=size) * fft.rfft(taps / taps.sum(), n=size), n=size)
    return np.asarray(whole[taps.size - 1 : values.size : factor]), rate_hz / factor


def from_sweep(
    series: FloatArray,
    rate_hz: float,
    law: Law,
    replay: Replay,
    limits_hz: tuple[float, float],
    turns_per_s: float,
) -> Resonance | None:
    """Return the resonance that shapes a low sweep, or None where it can't be read. [series: shape=(n,)]

    The sweep's own course, with its swing once per turn of the record, is read from the phase of what came out; the
    same sweep is then sent through the model in time, so that a fast sweep's ringing belongs to the model; frequency,
    Q and level are fitted to the logarithm of the envelope. The model's own phase is then taken off the course, and
    the fit repeated.
    """
    course = _course(series, rate_hz, replay, limits_hz, turns_per_s)
    found = None
    for _ in range(ROUNDS):
        if course is None:
            return None
        found = _fit_sweep(course, rate_hz, law)
        if found is None:
            return None
        everywhere = _drive(course, rate_hz, slice(0, course.angle.size, 1))
        model = _swept(everywhere, np.array([found.frequency_hz.value, found.q.value]))
        driven = course.measured_angle - (np.unwrap(np.angle(model)) - course.angle)
        course = _smoothed(driven, course.envelope, rate_hz, limits_hz, turns_per_s, course.measured_angle)
    return found


@dataclass(frozen=True)
class _Course:
    """The sweep's phase, frequency and speed over its mean; what came out: phase, envelope. [each shape=(n,)]"""

    angle: FloatArray
    frequency_hz: FloatArray
    pace: FloatArray
    measured_angle: FloatArray
    envelope: FloatArray
    inside: slice


def _course(
    series: FloatArray, rate_hz: float, replay: Replay, limits_hz: tuple[float, float], turns_per_s: float
) -> _Course | None:
    from scipy import fft

    if series.size < 4.0 * rate_hz:
        return None
    low, high = 0.5 * min(limits_hz), min(2.0 * max(limits_hz), 0.4 * rate_hz)
    hz = fft.fftfreq(series.size, 1.0 / rate_hz)
    spectrum = fft.fft(series) * ((hz > low) & (hz < high)) * 2.0
    spectrum[hz > 0.0] /= gain_between(hz[hz > 0.0], replay)
    analytic = fft.ifft(spectrum)
    angle = np.unwrap(np.angle(analytic))
    return _smoothed(angle, np.abs(analytic), rate_hz, limits_hz, turns_per_s, angle)


def _smoothed(
    angle: FloatArray,
    size: FloatArray,
    rate_hz: float,
    limits_hz: tuple[float, float],
    turns_per_s: float,
    measured_angle: FloatArray,
) -> _Course | None:
    """Return the course whose log frequency is a cubic of time, which any sweep's is nearly, and a swing once per turn
    of a record that is off centre.
    """
    # a straight line through 0.8 s of phase (A. Savitzky and M. J. E. Golay, Anal. Chem. 36, 1627, 1964)
    half = int(0.4 * rate_hz)
    places = np.arange(-half, half + 1)
    slope = np.convolve(np.pad(angle, half, mode="edge"), -places / np.sum(places**2), mode="valid")
    rough = slope * rate_hz / (2.0 * np.pi)
    edge = int(0.6 * rate_hz)
    usable = (rough > 0.7 * min(limits_hz)) & (rough < 1.4 * max(limits_hz))
    usable[:edge] = usable[-edge:] = False
    if usable.sum() < 3.0 * rate_hz:
        return None
    # the line through 0.8 s shows less of the swing
    turn = 2.0 * np.pi * turns_per_s / rate_hz
    shown = float(np.sum(places * np.sin(turn * places)) / (turn * np.sum(places**2)))
    ends = np.flatnonzero(usable)
    first, last = int(ends[0]), int(ends[-1])
    place = np.clip(2.0 * (np.arange(angle.size) - first) / max(last - first, 1) - 1.0, -1.0, 1.0)
    swing = np.exp(1j * turn * np.arange(angle.size))
    table = np.stack([*(place**n for n in range(4)), swing.real, swing.imag])
    weights = size[usable] ** 0.5
    solution = np.linalg.lstsq((table[:, usable] * weights).T, np.log(rough[usable]) * weights, rcond=None)[0]
    pace = np.exp(solution[4:] @ table[4:] / shown)
    frequency = np.exp(solution[:4] @ table[:4]) * pace
    phase = 2.0 * np.pi * np.cumsum(frequency) / rate_hz
    return _Course(phase, frequency, pace, measured_angle, size, slice(first, last + 1))


def _fit_sweep(track: _Course, rate_hz: float, law: Law) -> Resonance | None:
    inside = track.inside
    step = max(1, int(rate_hz / 25.0))
    pick = slice(inside.start, inside.stop, step)
    measured = np.log(np.maximum(track.envelope[pick], 1e-12))
    log_hz = np.log(track.frequency_hz[pick])
    pace = track.pace[pick]
    known = np.log(pace * cut_velocity(track.frequency_hz[pick] / pace, law))
    drive = _drive(track, rate_hz, pick)

    def rest(parameters: FloatArray) -> FloatArray:
        """Return what is left of the envelope, in nepers. [shape=(..., 2) to (..., points)]"""
        model = np.log(np.maximum(np.abs(_swept(drive, np.exp(parameters))), 1e-12))
        difference = measured - known - model
        return np.asarray(difference - difference.mean(axis=-1, keepdims=True))

    def cost(parameters: FloatArray) -> float:
        # far-off points count by their distance, not its square
        return float(np.sum(np.sqrt(1.0 + (rest(parameters) / FAR) ** 2))) * FAR**2

    def with_slopes(parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what is left, and its derivatives. [shape=(points,), (points, 2)]"""
        here, *moved = rest(parameters + STEPS)
        return here, np.stack([(there - here) / STEP for there in moved], axis=1)

    def slopes(parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
        here, table = with_slopes(parameters)
        weights = 1.0 / np.sqrt(1.0 + (here / FAR) ** 2)
        return table.T @ (weights * here), table.T @ (weights[:, None] * table)

    peak = float(np.exp(log_hz[np.argmax(measured - known)]))
    starts = [np.log([hz, q]) for hz in (peak, 0.85 * peak) for q in (2.0, 6.0)]
    best = descend(
        cost, slopes, min(starts, key=cost), np.log([2.0, 0.4]), np.log([60.0, 60.0]), tolerance=1e-3
    )
    here, table = with_slopes(best)
    return _judged(best, table, here, track, pick)


@dataclass(frozen=True)
class _Drive:
    """The spectrum of a sweep, turned so that the first of every `step` samples is the first that is wanted.

    Parameters
    ----------
    hz : FloatArray
        Size of the frequency of each bin. [shape=(n,)]
    spectrum : complex128 array
        [shape=(n,)]
    """

    hz: FloatArray
    spectrum: NDArray[np.complex128]
    step: int
    count: int


def _drive(track: _Course, rate_hz: float, pick: slice) -> _Drive:
    from scipy import fft

    size, step = track.angle.size, pick.step
    pad = step * fft.next_fast_len(-(-(size + int(4.0 * rate_hz)) // step))
    driven = np.zeros(pad, dtype=complex)
    driven[:size] = np.exp(1j * track.angle)
    turns = fft.fftfreq(pad)
    hz = np.maximum(np.abs(turns) * rate_hz, 1e-6)
    spectrum = fft.fft(driven) * np.exp(2j * np.pi * turns * pick.start) / step
    return _Drive(hz, spectrum, step, len(range(pick.start, pick.stop, step)))


def _swept(drive: _Drive, hz_and_q: FloatArray) -> NDArray[np.complex128]:
    """Return the sweep behind the model, as amplitude and phase, at the wanted samples. [shape=(..., 2) to
    (..., count)]

    Of every `step` samples only one is transformed back: the spectrum is folded first, as decimation folds it.
    """
    from scipy import fft

    own_hz, q = hz_and_q[..., :1], hz_and_q[..., 1:]
    # the sweep turns forward only: negative frequencies hold nothing of it
    behind = drive.spectrum * resonance_gain(drive.hz, own_hz, q)
    folded = behind.reshape(*behind.shape[:-1], drive.step, -1).sum(axis=-2)
    return np.asarray(fft.ifft(folded, axis=-1)[..., : drive.count])


def _judged(
    parameters: FloatArray, slopes: FloatArray, rest: FloatArray, track: _Course, pick: slice
) -> Resonance | None:
    resonance_hz, q = np.exp(parameters)
    swept = track.frequency_hz[track.inside]
    if not swept.min() * 0.95 < resonance_hz < swept.max() * 1.05 or q > 50.0 or q < 0.45:
        return None
    f_sd, q_sd = np.sqrt(np.maximum(np.diag(_covariance(slopes, rest)), 1e-12))
    curve_hz = track.frequency_hz[pick]
    return Resonance(
        frequency_hz=Reading(float(resonance_hz), float(resonance_hz * f_sd)),
        q=Reading(float(q), float(q * q_sd)),
        curve_hz=curve_hz,
        curve_db=20.0 * np.log10(np.maximum(track.envelope[pick], 1e-12)),
    )


def _covariance(slopes: FloatArray, rest: FloatArray) -> FloatArray:
    """Return the covariance of fitted parameters. [slopes: shape=(n, 2), rest: (n,), to (2, 2)]

    Noise and flutter weigh most where the sweep is faint and steep, which is not where frequency and Q are read from,
    and a point's flutter is partly taken back by its neighbours: products of slope times rest, summed over lags under
    Bartlett's triangle, stand between the inverse normal matrices (W. K. Newey and K. D. West, Econometrica 55, 703,
    1987). The rms of errors over these uncertainties was 0.98 for frequency and 0.86 for Q (60 sweeps with
    resonances, flutter and noise of seeds 9100 to 9159 of benchmarks/listen_coverage.py).
    """
    scores = slopes * rest[:, None]
    inverse = np.linalg.pinv(slopes.T @ slopes)
    middle = scores.T @ scores
    for lag in range(1, min(LAGS, len(scores))):
        products = scores[lag:].T @ scores[:-lag]
        middle += (1.0 - lag / LAGS) * (products + products.T)
    return np.asarray(inverse @ middle @ inverse)
