"""Cutting a recording into a groove and playing it back, in blocks that overlap: an hour takes no more memory
than a minute.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray
from groovewright.simulate.curves import equaliser_curve

LOWEST_HZ = 20.0
HIGHEST = 0.475
"""Of the sample rate: above it less and less is cut; 20.9 kHz at 44.1 kHz."""
CONTEXT_S = 0.5
"""To either side of a block: filters of 20 Hz have died away by exp(-31) over the half of it that is not faded."""
BLOCK_S = 2.0
SPLINE = 64
"""Samples to either side of a spline of fifth order, whose weights fall by 0.43 from sample to sample."""
ROUNDS = 40
CLOSE_S = 1e-12
"""The moment under the stylus is known when a round changes it by less."""


@dataclass(frozen=True)
class Stylus:
    """How the groove passes under the stylus.

    Parameters
    ----------
    frames : int
        Samples of the groove, and of what is played.
    pace : float
        Speed over nominal.
    swing : float
        Off-centre distance over radius.
    ahead_s : float
        tan(tracking error) over groove speed, for a unit of displacement.
    largest : float
        Largest displacement of the groove.
    """

    rate_hz: int
    frames: int
    pace: float
    turns_per_s: float
    swing: float
    ahead_s: float
    largest: float

    def nominal_s(self, times_s: FloatArray) -> FloatArray:
        """Return the groove time under a stylus without tracking error. [shape=(n,)]"""
        turning = 2.0 * np.pi * self.turns_per_s
        return times_s * self.pace + self.swing / turning * np.sin(turning * self.pace * times_s)


def cut(blocks: Iterable[FloatArray], rate_hz: int) -> Iterator[FloatArray]:
    """Yield lateral and vertical velocity and lateral displacement, unscaled. [shape=(n, 2) to (3, n)]"""

    def work(rows: FloatArray) -> FloatArray:
        from scipy import fft

        size = fft.next_fast_len(rows.shape[1], real=True)
        cutting, inverse = _cutting(size, rate_hz)
        spectra = fft.rfft(rows, n=size, axis=1) * cutting
        lateral, vertical = spectra[0] + spectra[1], spectra[0] - spectra[1]
        motion = np.stack([lateral, vertical, lateral * inverse])
        return np.asarray(fft.irfft(motion, n=size, axis=1)[:, : rows.shape[1]] / np.sqrt(2.0))

    return _in_context((np.asarray(block.T, dtype=np.float64) for block in blocks), rate_hz, work)


def replayed(rows: Iterable[FloatArray], rate_hz: int) -> Iterator[FloatArray]:
    """Yield sound behind the replay equaliser. [shape=(2, n) to (n, 2)]"""

    def work(block: FloatArray) -> FloatArray:
        from scipy import fft

        size = fft.next_fast_len(block.shape[1], real=True)
        spectra = fft.rfft(block, n=size, axis=1) * _replay(size, rate_hz)
        return np.asarray(fft.irfft(spectra, n=size, axis=1)[:, : block.shape[1]])

    return (block.T for block in _in_context(rows, rate_hz, work))


def _frequencies(size: int, rate_hz: int) -> FloatArray:
    return np.asarray(np.fft.rfftfreq(size, 1.0 / rate_hz), dtype=np.float64)


@functools.lru_cache(maxsize=4)
def _cutting(size: int, rate_hz: int) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Return the gain from sound to velocity, without what is too low to be cut, and from that to displacement."""
    hz = _frequencies(size, rate_hz)
    audible = (hz / LOWEST_HZ) ** 2 / (1.0 + (hz / LOWEST_HZ) ** 2)
    audible *= _fading(hz, rate_hz)
    inverse = np.zeros(hz.size, dtype=np.complex128)
    inverse[1:] = 1.0 / (2j * np.pi * hz[1:])
    return np.asarray(audible / equaliser_curve(hz)), inverse


@functools.lru_cache(maxsize=4)
def _replay(size: int, rate_hz: int) -> NDArray[np.complex128]:
    hz = _frequencies(size, rate_hz)
    return equaliser_curve(hz) * _fading(hz, rate_hz)


def _fading(hz: FloatArray, rate_hz: int) -> FloatArray:
    """Return 1 up to `HIGHEST`, 0 at half the sample rate, where a curve that ended abruptly would ring on."""
    return np.asarray(
        np.cos(np.pi / 2.0 * np.clip((hz / rate_hz - HIGHEST) / (0.5 - HIGHEST), 0.0, 1.0)) ** 2
    )


def _in_context(
    blocks: Iterable[FloatArray], rate_hz: int, work: Callable[[FloatArray], FloatArray]
) -> Iterator[FloatArray]:
    """Yield what `work` makes of each stretch, which it sees between its neighbours; silence lies beyond the ends.

    The outer half of what is seen to either side is faded in, so that no edge rings into the stretch.
    [each shape=(rows, n)]
    """
    context = round(CONTEXT_S * rate_hz)
    held: FloatArray | None = None
    for block in blocks:
        if held is None:
            held = np.zeros((len(block), context))
        held = np.concatenate([held, block], axis=1)
        if held.shape[1] > 2 * context:
            yield work(_faded(held, context // 2))[:, context:-context]
            held = held[:, -2 * context :]
    if held is not None and held.shape[1] > context:
        ended = np.concatenate([held, np.zeros((len(held), context))], axis=1)
        yield work(_faded(ended, context // 2))[:, context:-context]


def _faded(rows: FloatArray, count: int) -> FloatArray:
    rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(count) + 0.5) / count)
    faded = rows.copy()
    faded[:, :count] *= rise
    faded[:, -count:] *= rise[::-1]
    return faded


def under_stylus(motion: Iterator[FloatArray], stylus: Stylus) -> Iterator[FloatArray]:
    """Yield the velocity that the stylus follows, lateral and vertical. [each shape=(3, n) to (2, n)]

    Beyond the ends of the groove there is none.
    """
    rate_hz = stylus.rate_hz
    reach = int(np.ceil(abs(stylus.ahead_s) * stylus.largest * rate_hz)) + SPLINE
    held, first = np.zeros((3, 0)), 0
    size = round(BLOCK_S * rate_hz)
    for start in range(0, stylus.frames, size):
        end = min(start + size, stylus.frames)
        # one sample more to either side, for the slope
        places = np.arange(max(start - 1, 0), min(end + 1, stylus.frames))
        nominal = stylus.nominal_s(places / rate_hz)
        while first + held.shape[1] <= nominal[-1] * rate_hz + reach:
            following = next(motion, None)
            if following is None:
                break
            held = np.concatenate([held, following], axis=1)
        past = max(0, min(int(nominal[0] * rate_hz) - reach - first, held.shape[1] - 1))
        held, first = held[:, past:], first + past
        yield _followed(held, first, nominal, stylus)[:, start - places[0] :][:, : end - start]


def _followed(held: FloatArray, first: int, nominal_s: FloatArray, stylus: Stylus) -> FloatArray:
    """Return the velocity at the moments that solve the implicit equation of the tracking error. [shape=(2, n)]"""
    from scipy.ndimage import spline_filter1d

    lateral, vertical, place = spline_filter1d(held, order=5, axis=1, mode="mirror")

    def at(weights: FloatArray, moments_s: FloatArray) -> FloatArray:
        return _between(weights, moments_s * stylus.rate_hz - first)

    moments = nominal_s
    if stylus.ahead_s:
        # the shift is well under a period of the highest tone: substitution converges like the slope, V / v tan e
        for _ in range(ROUNDS):
            before, moments = moments, nominal_s + stylus.ahead_s * at(place, moments)
            if float(np.abs(moments - before).max()) < CLOSE_S:
                break
    rates = np.gradient(moments, 1.0 / stylus.rate_hz)
    return np.stack([at(lateral, moments) * rates, at(vertical, moments) * rates])


def _between(weights: FloatArray, places: FloatArray) -> FloatArray:
    """Return a band-limited signal between its samples, from the weights of a spline of fifth order. [shape=(n,)]"""
    from scipy.ndimage import map_coordinates

    return np.asarray(map_coordinates(weights, places[None, :], order=5, mode="constant", prefilter=False))
