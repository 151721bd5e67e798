"""A quick look over a recording before it is measured: a few numbers of half a frame in every other one.

Where a decoder can jump (WAV, AIFF) the frames between are never decoded; a packed file (FLAC) is decoded whole.
Two threads take half of the file each: decoding and transforming leave the interpreter free.
"""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groovewright.audio.reader import Recording, repaired
from groovewright.audio.spectra import FramePlan
from groovewright.quantities import FloatArray

NOTES = 7
ALIKE_SHARE = 0.2
HIGHEST_HARMONIC = 7
"""Up to here a peak is taken as a harmonic of the strongest, not as a second tone."""
HUM_HZ, HUM_SHARE = 350.0, 0.05
"""Below this a second peak is hum unless it holds such a share of the power."""
AROUND_BINS = 40
"""To either side of a second peak: it must stand out of the median of what is there."""
EVERY = 2
"""One frame in so many is looked at, and of that the first half: edges are found to about 0.3 s."""
BATCH = 16
"""Frames that are worked on together."""
CAN_JUMP = {"WAV", "WAVEX", "RF64", "W64", "AIFF"}
LOW_HZ = 60.0
"""Below this the short frames are too coarse: longer ones are looked at."""
LOW_RATE_HZ = 250.0
LONG_S = 1.0
LOUDEST_LOW_DB = -38.0
LONGEST_LOW_S = 120.0
LONG_TONAL = 0.85
LEAST_SHARED = 64
"""Files of fewer steps are not worth a second thread."""


def step_s(plan: FramePlan) -> float:
    """Return the time from one noted frame to the next."""
    return EVERY * plan.frame / plan.rate_hz


def survey(recording: Recording, plan: FramePlan, tell: Callable[[float], None]) -> FloatArray:
    """Return rms left, rms right, peak frequency, tonality, cosine between columns, frequency and share of the
    power of a second tone. [shape=(frames, 7)]

    A file that breaks off is noted up to there.
    """
    table = _whole(recording, plan, tell)
    with ThreadPoolExecutor(max_workers=2) as pool:
        runs = [
            (slice(first, last), pool.submit(_looked_at_longer, recording, plan, table[first:last], first))
            for first, last in _low_runs(table, step_s(plan))
        ]
    for rows, looked in runs:
        table[rows] = looked.result()
    return table


def _whole(recording: Recording, plan: FramePlan, tell: Callable[[float], None]) -> FloatArray:
    steps = recording.frames // (EVERY * plan.frame)
    if steps < LEAST_SHARED:
        return _noted_between(recording, plan, 0, None, tell)
    half = steps // 2
    with ThreadPoolExecutor(max_workers=1) as pool:
        later = pool.submit(_noted_between, recording, plan, half, None, tell)
        first = _noted_between(recording, plan, 0, half, tell)
        second = later.result()
    if len(first) < half:
        return first
    if not len(second):
        # a damaged file may not let itself be entered in the middle
        return _noted_between(recording, plan, 0, None, tell)
    return np.concatenate([first, second])


def _noted_between(
    recording: Recording, plan: FramePlan, first: int, last: int | None, tell: Callable[[float], None]
) -> FloatArray:
    rows = [np.zeros((0, NOTES))]
    number = 0
    for pieces in _batches(recording, plan, first, last):
        rows.append(noted(_two_columns(pieces), plan))
        number += len(pieces)
        tell(min(1.0, 2.0 * number * EVERY * plan.frame / max(recording.frames, 1)))
    return np.concatenate(rows)


def _batches(
    recording: Recording, plan: FramePlan, first: int, last: int | None
) -> Iterator[NDArray[np.float32]]:
    """Yield half a frame of sound in each step from `first` to before `last`, `BATCH` together, while the file gives
    any. [each shape=(pieces, n, columns of the file)]

    The memory is used again: a batch must be worked off before the next one is asked for.
    """
    import soundfile

    step, count = EVERY * plan.frame, plan.frame // 2
    jumps = recording.container in CAN_JUMP and recording.frames > 0
    filled = 0
    try:
        with soundfile.SoundFile(recording.path) as sound:
            batch = np.empty((BATCH, count, sound.channels), dtype=np.float32)
            between = np.empty((step - count, sound.channels), dtype=np.float32)
            if first:
                sound.seek(first * step)
            for number in range(first, sys.maxsize if last is None else last):
                if jumps:
                    if (number + 1) * step > sound.frames:
                        break
                    sound.seek(number * step)
                if sound.buffer_read_into(batch[filled], "float32") < count:
                    break
                if not jumps and sound.buffer_read_into(between, "float32") < len(between):
                    break
                filled += 1
                if filled == BATCH:
                    yield batch
                    filled = 0
    except (soundfile.LibsndfileError, RuntimeError, OSError):
        pass  # what came so far is noted
    if filled:
        yield batch[:filled]


def _two_columns(pieces: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return pieces of one or two columns as pieces of two, without what is no sound. [shape=(pieces, n, 2)]"""
    heard = repaired(pieces.reshape(-1, pieces.shape[2]))[0]
    return heard.reshape(*pieces.shape[:2], 2)


def noted(pieces: NDArray[np.float32], plan: FramePlan) -> FloatArray:
    """Return one row of notes for each frame. [pieces: shape=(frames, n, 2); result: shape=(frames, 7)]

    Both columns go through one complex transform: of z = left + i right, Z(k) and conj Z(-k) are the sum and the
    difference of L and i R (W. H. Press et al., Numerical Recipes, "FFT of two real functions").
    """
    from scipy import fft

    count = pieces.shape[1]
    bin_hz = plan.rate_hz / count
    flat = pieces.reshape(len(pieces), -1)
    spectra = fft.fft((flat * _window(count)).view(np.complex64), axis=-1, overwrite_x=True)
    parts = spectra.view(np.float32)
    squares = parts * parts
    power = squares[:, ::2] + squares[:, 1::2]
    half = count // 2
    both = power[:, :half].copy()
    both[:, 1:] += power[:, : count - half : -1]
    both[:, 0] = 0.0
    peaks = np.argmax(both, axis=1)
    total = both.sum(axis=1, dtype=np.float64) + 1e-30
    rows = np.zeros((len(peaks), NOTES))
    rows[:, :2] = np.sqrt(_means(pieces * pieces, count)[:, 0])
    near = _Near.around(peaks, np.maximum(3, peaks // 50), half)
    weights = both[near.frames, near.bins]
    rows[:, 3] = near.sums(weights) / total
    # where all is silent every bin weighs the same
    weights = weights + np.float32(1e-30)
    rows[:, 2] = near.sums(weights * near.bins) / near.sums(weights) * bin_hz
    above, below = spectra[near.frames, near.bins], np.conj(spectra[near.frames, count - near.bins])
    left, right = above + below, -1j * (above - below)
    size = np.sqrt(near.sums(np.abs(left) ** 2) * near.sums(np.abs(right) ** 2)) + 1e-30
    rows[:, 4] = near.sums((left * np.conj(right)).real) / size
    rows[:, 5], rows[:, 6] = _seconds(both, peaks, total, bin_hz)
    # of two tones about as loud the lower one leads, or it would change from frame to frame
    alike = rows[:, 6] > ALIKE_SHARE
    both_hz = np.sort(rows[:, [2, 5]], axis=1)
    rows[:, [2, 5]] = np.where(alike[:, None], both_hz, rows[:, [2, 5]])
    rows[alike, 3] += rows[alike, 6]
    return rows


@functools.lru_cache(maxsize=4)
def _window(count: int) -> NDArray[np.float32]:
    """Return a Hann window for two columns side by side. [shape=(2 count,)]"""
    return np.repeat(np.hanning(count + 1)[:-1], 2).astype(np.float32)


def _means(values: NDArray[np.float32], count: int) -> NDArray[np.float32]:
    """Return the means of `count` samples each. [shape=(..., n, 2) to (..., n // count, 2)]"""
    even = np.full((1, count), 1.0 / count, dtype=np.float32)
    # a product of matrices: the same mean as along the axis, in a tenth of the time
    whole = values[..., : values.shape[-2] // count * count, :]
    return np.asarray(np.matmul(even, whole.reshape(*values.shape[:-2], -1, count, 2))[..., 0, :])


@dataclass(frozen=True)
class _Near:
    """The bins around one place in each frame, all frames in a row. [frames, bins: shape=(n,)]

    Parameters
    ----------
    starts : intp array
        Where each frame's bins begin. [shape=(frames,)]
    """

    frames: NDArray[np.intp]
    bins: NDArray[np.intp]
    starts: NDArray[np.intp]

    @classmethod
    def around(cls, places: NDArray[np.intp], reach: NDArray[np.intp] | int, end: int) -> _Near:
        """Return the bins within `reach` of the places, from 1 to before `end`. [places: shape=(frames,)]"""
        first = np.maximum(1, places - reach)
        counts = np.minimum(end, places + reach + 1) - first
        starts = np.cumsum(counts) - counts
        bins = np.arange(counts.sum()) + np.repeat(first - starts, counts)
        return cls(np.repeat(np.arange(len(places)), counts), bins, starts)

    def sums(self, values: NDArray[np.floating[Any]]) -> FloatArray:
        """Return the sum of each frame's values. [shape=(n,) to (frames,)]"""
        return np.asarray(np.add.reduceat(values, self.starts, dtype=np.float64))


def _seconds(
    power: NDArray[np.float32], peaks: NDArray[np.intp], total: FloatArray, bin_hz: float
) -> tuple[FloatArray, FloatArray]:
    """Return frequency and share of the power of the strongest peak that is no harmonic of the first, in each
    frame. [power: shape=(frames, bins); the others: shape=(frames,)]
    """
    rest = power.copy()
    rest[:, : max(3, int(20.0 / bin_hz))] = 0.0
    for row, peak in zip(rest, peaks.tolist(), strict=True):
        for order in range(1, HIGHEST_HARMONIC + 1):
            reach = max(6, order * peak // 40)
            row[max(0, order * peak - reach) : order * peak + reach + 1] = 0.0
    places = np.argmax(rest, axis=1)
    near = _Near.around(places, 3, power.shape[1])
    hz, share = places * bin_hz, near.sums(power[near.frames, near.bins]) / total
    frames = np.arange(len(places))
    around = places[:, None] + np.arange(-AROUND_BINS, AROUND_BINS + 1)
    inside = (around >= 0) & (around < power.shape[1])
    # what lies outside comes last, and the median is that of the rest
    values = np.sort(np.where(inside, power[frames[:, None], np.where(inside, around, 0)], np.inf), axis=1)
    counts = inside.sum(axis=1)
    usual = 0.5 * (values[frames, (counts - 1) // 2] + values[frames, counts // 2])
    stands_out = power[frames, places] > 100.0 * usual
    return hz, np.where(stands_out & ((hz > HUM_HZ) | (share > HUM_SHARE)), share, 0.0)


def _low_runs(table: FloatArray, step: float) -> Iterator[tuple[int, int]]:
    """Yield first row and the one behind the last of every loud stretch of low tones, 2 s or longer."""
    if not len(table):
        return
    loudness = table[:, :2].max(axis=1)
    loud = loudness > np.percentile(loudness, 90) * 10.0 ** (LOUDEST_LOW_DB / 20.0)
    low = np.concatenate([[False], loud & (table[:, 2] < LOW_HZ), [False]])
    edges = np.flatnonzero(np.diff(low.astype(int)))
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        if (last - first) * step >= 2.0:
            yield int(first), min(int(last), int(first) + int(LONGEST_LOW_S / step))


def _looked_at_longer(recording: Recording, plan: FramePlan, rows: FloatArray, first: int) -> FloatArray:
    """Return rows with frequency and tonality from frames of a second, at a lower sample rate."""
    import soundfile

    factor = round(recording.rate_hz / LOW_RATE_HZ)
    rate_hz = recording.rate_hz / factor
    long = int(LONG_S * rate_hz)
    ahead = int(0.5 * LONG_S * recording.rate_hz)
    step = EVERY * plan.frame
    start = max(0, first * step + plan.frame // 4 - ahead)
    try:
        with soundfile.SoundFile(recording.path) as sound:
            sound.seek(start)
            heard = repaired(sound.read(len(rows) * step + 2 * ahead, dtype="float32", always_2d=True))[0]
    except (soundfile.LibsndfileError, RuntimeError, OSError):
        return rows
    slow = _means(heard, factor)
    out = rows.copy()
    window = np.hanning(long + 1)[:-1]
    for index in range(len(rows)):
        middle = ((first + index) * step + plan.frame // 4 - start) // factor
        piece = slow[max(0, middle - long // 2) : middle + long // 2]
        if len(piece) < long // 2:
            break
        column = piece[:, int(np.argmax(rows[index, :2]))]
        spectrum = np.fft.rfft((column - column.mean()) * window[: len(piece)], n=4 * long)
        power = np.abs(spectrum) ** 2
        peak = int(np.argmax(power))
        near = np.arange(max(1, peak - 12), min(power.size, peak + 13))
        share = power[near].sum() / (power.sum() + 1e-30)
        # a sweep that hurries through fills the long frame, and is better seen in the short one
        if share > LONG_TONAL:
            out[index, 2] = np.average(near, weights=power[near] + 1e-30) * rate_hz / (4 * long)
            out[index, 3] = share
    return out
