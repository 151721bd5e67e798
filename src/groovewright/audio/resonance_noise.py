"""The resonance of arm and cartridge from noise: of silent grooves, and from under and around tones."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.audio.averages import density_of
from groovewright.audio.bands import Replay
from groovewright.audio.descent import descend
from groovewright.audio.equaliser import gain_between
from groovewright.audio.resonance import HIGHEST_HZ, LOWEST_HZ, Resonance
from groovewright.quantities import FloatArray, Reading

LEAST_NOISE_S = 20.0
LEAST_EACH_S = 6.0
MOST_NOISE_S = 120.0
"""More would sharpen Q beyond 5 % (sd) and cost time."""
UNIT = 1e3
"""A gain of 0.01 in log likelihood ends a search."""
FAR_BEYOND_CHANCE = 25.0
"""Twice the gain in log likelihood is chi-square; this is far beyond chance for two parameters."""
Q_WANTED = 0.10
"""Relative half width of the 95 % interval of Q from which on nothing more is asked for."""
Q_ERRS = 1.1
"""Q errs by so much more than Fisher's information says, which is the least: its likelihood is skewed, and a third
of it lies to the low side (218 recordings of the benchmark, docs/listen.md)."""


@dataclass(frozen=True)
class _Part:
    """Frequencies and periodogram of one band, equaliser undone, scaled to a median of 1. [each shape=(n,)]

    Parameters
    ----------
    square_hz, tilt : FloatArray
        The frequencies' square, and their logarithm over 10 Hz.
    """

    hz: FloatArray
    power: FloatArray
    duration_s: float
    square_hz: FloatArray
    tilt: FloatArray


def from_noise(
    many: Sequence[FloatArray], rate_hz: float, replay: Replay, *, lines_hz: tuple[float, ...] = ()
) -> Resonance | None:
    """Return the resonance that colours noise, or None where none stands out. [many: arrays of shape (n,)]

    Maximum of the Whittle likelihood (P. Whittle, Bull. Int. Stat. Inst. 34, 1953) of the periodograms from 3
    to 30 Hz of all series together, for S = a f^p |H|^2 + c with one H, and a, p and c for each series; the
    uncertainty is the inverse of Fisher's information, all parameters free, in log f and log Q. Bins near
    `lines_hz` and their multiples are left out. A series in which no resonance shows by itself says nothing
    about it and is left out.
    """
    parts = [part for series in many if (part := _part(series, rate_hz, replay, lines_hz)) is not None]
    parts.sort(key=lambda part: -part.duration_s)
    if sum(part.duration_s for part in parts) < LEAST_NOISE_S:
        return None
    showing: list[_Part] = []
    for part in parts:
        if sum(one.duration_s for one in showing) > MOST_NOISE_S:
            break
        found = _fit([part])
        if found is not None and 2.0 * (_plain_cost(part) - _cost(found, [part])) > FAR_BEYOND_CHANCE:
            showing.append(part)
    if sum(part.duration_s for part in showing) < LEAST_NOISE_S:
        return None
    best = _fit(showing)
    return None if best is None else _judged(best, showing)


def seconds_wanted(resonance: Resonance, heard_s: float) -> float:
    """Return how much noise would give Q to 10 %, since uncertainty falls with the root of time."""
    return heard_s * (1.96 * resonance.q.sd / resonance.q.value / Q_WANTED) ** 2


def _part(series: FloatArray, rate_hz: float, replay: Replay, lines_hz: tuple[float, ...]) -> _Part | None:
    if series.size < LEAST_EACH_S * rate_hz:
        return None
    hz, power = density_of(series - series.mean(), rate_hz)
    used = (hz >= LOWEST_HZ) & (hz <= HIGHEST_HZ)
    for line in lines_hz:
        used &= np.abs(hz - line * np.maximum(np.round(hz / line), 1.0)) > 0.15
    hz, power = hz[used], power[used]
    undone = power / np.abs(gain_between(hz, replay)) ** 2
    middle = float(np.median(undone)) if undone.size else 0.0
    if middle <= 0.0:
        return None
    return _Part(hz, undone / middle, series.size / rate_hz, hz**2, np.log(hz / 10.0))


def _terms(square_hz: FloatArray, log_hz: float, log_q: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return u^2, (u / Q)^2 and their (1 - u^2)^2 + (u / Q)^2, since |H|^2 = u^4 over that. [each shape=(n,)]"""
    square = square_hz * math.exp(-2.0 * log_hz)
    damped = square * math.exp(-2.0 * log_q)
    return square, damped, (1.0 - square) ** 2 + damped


def _model(shared: FloatArray, own: FloatArray, part: _Part) -> tuple[FloatArray, FloatArray]:
    """Return S, and the derivatives of log S by the shared and the own parameters. [shape=(n,), (5, n)]"""
    square, damped, below = _terms(part.square_hz, float(shared[0]), float(shared[1]))
    total, floor = _total(square, below, own, part.tilt)
    share = 1.0 - floor / total
    # the derivatives of log |H|^2 by log f0 and log Q
    by_q = 2.0 * damped / below
    by_hz = by_q - 4.0 - 4.0 * square * (1.0 - square) / below
    return total, np.array([share * by_hz, share * by_q, share, share * part.tilt, floor / total])


def _total(
    square: FloatArray, below: FloatArray, own: FloatArray, tilt: FloatArray
) -> tuple[FloatArray, float]:
    """Return S and its floor c. [shape=(n,)]"""
    floor = math.exp(float(own[2]))
    return np.exp(own[0] + own[1] * tilt) * (square**2 / below) + floor, floor


def _split(parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
    return parameters[:2], parameters[2:].reshape(-1, 3)


def _cost(parameters: FloatArray, parts: Sequence[_Part]) -> float:
    shared, owns = _split(parameters)
    total = 0.0
    for own, part in zip(owns, parts, strict=True):
        square, _, below = _terms(part.square_hz, float(shared[0]), float(shared[1]))
        model = _total(square, below, own, part.tilt)[0]
        total += float(np.sum(np.log(model) + part.power / model))
    return total


def _slopes(parameters: FloatArray, parts: Sequence[_Part]) -> tuple[FloatArray, FloatArray]:
    """Return gradient and Fisher's information of exponentially distributed bins."""
    shared, owns = _split(parameters)
    gradient = np.zeros(parameters.size)
    information = np.zeros((parameters.size, parameters.size))
    for number, (own, part) in enumerate(zip(owns, parts, strict=True)):
        model, table = _model(shared, own, part)
        places = np.array([0, 1, 2 + 3 * number, 3 + 3 * number, 4 + 3 * number])
        gradient[places] += table @ (1.0 - part.power / model)
        information[np.ix_(places, places)] += table @ table.T
    return gradient, information


LOW = np.array([math.log(LOWEST_HZ), math.log(0.5)])
HIGH = np.array([math.log(HIGHEST_HZ), math.log(40.0)])
OWN_LOW, OWN_HIGH = np.array([-12.0, -6.0, -14.0]), np.array([12.0, 4.0, 8.0])


def _fit(parts: Sequence[_Part]) -> FloatArray | None:
    longest = max(parts, key=lambda part: part.duration_s)
    smooth = np.convolve(longest.power, np.ones(9) / 9.0, mode="same")
    starts = {float(longest.hz[np.argmax(smooth * longest.hz**tilt)]) for tilt in (0.0, 1.0)}
    low, high = (
        np.concatenate([shared, np.tile(own, len(parts))])
        for shared, own in ((LOW, OWN_LOW), (HIGH, OWN_HIGH))
    )
    fits = [
        descend(
            lambda p: _cost(p, parts),
            lambda p: _slopes(p, parts),
            np.concatenate([[math.log(start), 1.2], np.tile([0.0, 0.0, -3.0], len(parts))]),
            low,
            high,
            tolerance=UNIT,
        )
        for start in starts
    ]
    best = min(fits, key=lambda p: _cost(p, parts))
    return best if np.all(np.isfinite(best)) else None


def _plain_cost(part: _Part) -> float:
    """Return the least cost of a spectrum without a resonance: a power law on a floor."""
    tilt = part.tilt

    def model(own: FloatArray) -> tuple[FloatArray, FloatArray]:
        sloped = np.exp(own[0] + own[1] * tilt)
        total = sloped + math.exp(float(own[2]))
        return total, np.array([sloped / total, sloped / total * tilt, math.exp(float(own[2])) / total])

    def cost(own: FloatArray) -> float:
        total = model(own)[0]
        return float(np.sum(np.log(total) + part.power / total))

    def slopes(own: FloatArray) -> tuple[FloatArray, FloatArray]:
        total, table = model(own)
        return table @ (1.0 - part.power / total), table @ table.T

    return cost(descend(cost, slopes, np.array([0.0, 0.0, -1.0]), OWN_LOW, OWN_HIGH, tolerance=UNIT))


def _judged(parameters: FloatArray, parts: Sequence[_Part]) -> Resonance | None:
    information = _slopes(parameters, parts)[1]
    f_sd, q_sd = np.sqrt(np.maximum(np.diag(np.linalg.pinv(information))[:2], 0.0))
    resonance_hz, q = math.exp(parameters[0]), math.exp(parameters[1])
    edge = resonance_hz < 1.05 * LOWEST_HZ or resonance_hz > 0.95 * HIGHEST_HZ
    if edge or f_sd > 0.2 or q_sd > 0.7:
        return None
    longest = max(parts, key=lambda part: part.duration_s)
    curve = np.convolve(longest.power, np.ones(9) / 9.0, mode="same")
    return Resonance(
        frequency_hz=Reading(resonance_hz, resonance_hz * float(f_sd)),
        q=Reading(q, q * Q_ERRS * float(q_sd)),
        curve_hz=longest.hz,
        curve_db=10.0 * np.log10(np.maximum(curve, 1e-12)),
    )
