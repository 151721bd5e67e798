"""Phases of carriers: without what two tones do to each other, and means that let no neighbour in."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray


def unit(carrier: NDArray[np.complex64]) -> NDArray[np.complex64]:
    """Return the carrier's phase as a unit phasor. [shape=(n,)]"""
    return np.asarray(carrier / np.maximum(np.abs(carrier), np.float32(1e-20)))


def apart(
    carriers: Sequence[NDArray[np.complex64]], good: NDArray[np.bool_], period: float
) -> list[NDArray[np.complex64]]:
    """Return carriers' phases without the sidebands that two tones, or harmonics, give them, as unit phasors.

    What mixes shows in a carrier's phase at the lower tone's frequency and its multiples. A Hann window as long as
    two periods of that tone has nulls there; what it takes from slow wow and flutter, W(f) < 1, is given back by
    going twice over what was left out, 1 - (1 - W)^3 (J. W. Tukey, Exploratory Data Analysis, 1977, "twicing").
    Phases, unlike the carriers, may be smoothed however far the speed has moved a tone off its place.

    Parameters
    ----------
    carriers : sequence of complex64 array
        [each shape=(n,)]
    good : bool array
        Where no click is near. [shape=(n,)]
    period : float
        Of the lower tone, in samples.
    """
    half = math.ceil(period)
    if half < 2:
        return [unit(carrier) for carrier in carriers]
    places = np.arange(-half, half + 1)
    taps = np.where(np.abs(places) <= period, 1.0 + np.cos(np.pi * places / period), 0.0)
    # twice, since a window of a few samples has no perfect null
    taps = np.convolve(taps, taps)
    missed = -taps / taps.sum()
    missed[2 * half] += 1.0
    taps = -np.convolve(np.convolve(missed, missed), missed)
    taps[6 * half] += 1.0
    return [_smooth(carrier, good, taps) for carrier in carriers]


def _smooth(
    carrier: NDArray[np.complex64], good: NDArray[np.bool_], taps: FloatArray
) -> NDArray[np.complex64]:
    """Return the carrier's phase after smoothing, clicks bridged, as a unit phasor. [shape=(n,)]"""
    if good.size <= taps.size or not good.any():
        return unit(carrier)
    index = np.arange(good.size)
    angle = np.interp(index, index[good], np.unwrap(np.angle(carrier[good].astype(np.complex128))))
    padded = np.pad(angle, taps.size // 2, mode="reflect", reflect_type="odd")
    return np.asarray(np.exp(1j * np.convolve(padded, taps, mode="valid")), dtype=np.complex64)


def taper_of(size: int) -> NDArray[np.float32]:
    """Return the Hann weights of a segment's samples. [shape=(size,)]

    Where a stream is wide enough to hold the neighbours of what is averaged (other products of two tones, other
    harmonics of a low one), a plain mean of T seconds would let 1 / (pi f T) of one that stands f away leak in, and a
    click's gap would too.
    """
    return np.asarray(2.0 * np.sin(np.pi * (np.arange(size) + 0.5) / size) ** 2, dtype=np.float32)
