"""Ticks and clicks: found by their sharpness, counted, and kept out of the other measures."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

PIECE = 4096
"""Samples over which the usual sharpness is taken."""
SHARP = 10.0
"""A click is sharper than this many times the median; Gaussian noise reaches it once in 10^11 samples."""
APART_S = 0.002
"""Peaks that are closer than this are one click."""
MOST_PER_S = 20.0
"""More than this many a second is not dust but distortion: counted, yet nothing is left out."""


def find_clicks(columns: NDArray[np.float32], rate_hz: int) -> NDArray[np.intp]:
    """Return the positions of clicks, in samples, both channels together. [columns: shape=(2, n)]

    Sharpness is the magnitude of the second difference, which a smooth tone keeps small. A sine's peak is 1.4
    times its median and noise rarely passes 5 times; `SHARP` times the piece's median is a click.
    """
    if columns.shape[1] < 3:
        return np.zeros(0, dtype=np.intp)
    pieces = max(1, (columns.shape[1] - 2) // PIECE)
    length = (columns.shape[1] - 2) // pieces
    bends = [_bend(column)[: pieces * length].reshape(pieces, length) for column in columns]
    some = np.maximum(*(np.abs(bend[:, ::8]) for bend in bends))
    middle = some.shape[1] // 2
    usual = np.partition(some, middle, axis=1)[:, middle]
    limit = SHARP * usual + 1e-5
    # extremes by piece first: few pieces hold a click, and the rest needs no more passes
    loud = np.zeros(pieces, dtype=bool)
    for bend in bends:
        loud |= (bend.max(axis=1) > limit) | (bend.min(axis=1) < -limit)
    found: list[NDArray[np.intp]] = []
    for piece in np.flatnonzero(loud):
        sharpness = np.maximum(*(np.abs(bend[piece]) for bend in bends))
        found.append(np.flatnonzero(sharpness > limit[piece]) + piece * length + 1)
    if not found:
        return np.zeros(0, dtype=np.intp)
    places = np.concatenate(found)
    first = np.diff(places, prepend=-rate_hz) > APART_S * rate_hz
    return np.asarray(places[first], dtype=np.intp)


def _bend(values: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the second difference. [shape=(n,) to (n - 2,)]"""
    steps = values[1:] - values[:-1]
    return np.asarray(steps[1:] - steps[:-1])


def clear_of(
    clicks_s: NDArray[np.float64], times_s: NDArray[np.float64], reach_s: float
) -> NDArray[np.bool_]:
    """Return which of the ascending times are further than `reach_s` from every click. [shape=(n,)]"""
    if not len(clicks_s):
        return np.ones(len(times_s), dtype=bool)
    clicks = np.sort(clicks_s)
    after = np.searchsorted(clicks, times_s)
    left = times_s - clicks[np.clip(after - 1, 0, len(clicks) - 1)]
    right = clicks[np.clip(after, 0, len(clicks) - 1)] - times_s
    return np.asarray((np.abs(left) > reach_s) & (np.abs(right) > reach_s))
