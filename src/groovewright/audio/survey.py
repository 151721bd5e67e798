"""A quick look over a recording before it is measured: a few numbers of half a frame in every other one.

Where a decoder can jump (WAV, AIFF) the frames between are never decoded; a packed file (FLAC) is decoded whole.
Two threads take half of the file each: decoding and transforming leave the interpreter free.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groovewright.audio.reader import Recording, Samples, repaired
from groovewright.audio.spectra import FramePlan
from groovewright.quantities import FloatArray

NOTES = 7
ALIKE_SHARE = 0.2
HIGHEST_HARMONIC = 7
"""Up to here a peak is taken as a harmonic of the strongest, not as a second tone."""
HUM_HZ, HUM_SHARE = 350.0, 0.05
"""Below this a second peak is hum unless it holds such a share of the power."""
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
    pieces: list[Samples] = []
    for number, piece in enumerate(_pieces(recording, plan, first, last)):
        pieces.append(piece)
        if len(pieces) == BATCH:
            rows.append(noted(np.stack(pieces), plan))
            pieces = []
            tell(min(1.0, 2.0 * number * EVERY * plan.frame / max(recording.frames, 1)))
    if pieces:
        rows.append(noted(np.stack(pieces), plan))
    return np.concatenate(rows)


def _pieces(recording: Recording, plan: FramePlan, first: int, last: int | None) -> Iterator[Samples]:
    """Yield one frame of sound in each step from `first` to before `last`, while the file gives any."""
    import soundfile

    step = EVERY * plan.frame
    try:
        with soundfile.SoundFile(recording.path) as sound:
            if first:
                sound.seek(first * step)
            jumps = recording.container in CAN_JUMP and recording.frames > 0
            number = first
            while last is None or number < last:
                piece = _frame_of(sound, plan.frame // 2, step, jumps=jumps)
                if piece is None:
                    return
                yield piece
                number += 1
    except (soundfile.LibsndfileError, RuntimeError, OSError):
        return


def _frame_of(sound: Any, frame: int, step: int, *, jumps: bool) -> Samples | None:
    block: Samples = sound.read(frame if jumps else step, dtype="float32", always_2d=True)
    if len(block) < (frame if jumps else step):
        return None
    if jumps:
        if sound.tell() + step - frame > sound.frames:
            return None
        sound.seek(step - frame, 1)
    return repaired(block[:frame])[0]


def noted(pieces: NDArray[np.float32], plan: FramePlan) -> FloatArray:
    """Return one row of notes for each frame. [pieces: shape=(frames, n, 2); result: shape=(frames, 7)]

    Both columns go through one complex transform: of z = left + i right, Z(k) and conj Z(-k) are the sum and the
    difference of L and i R (W. H. Press et al., Numerical Recipes, "FFT of two real functions").
    """
    from scipy import fft

    count = pieces.shape[1]
    bin_hz = plan.rate_hz / count
    window = np.repeat(np.hanning(count + 1)[:-1], 2).astype(np.float32)
    flat = pieces.reshape(len(pieces), -1)
    spectra = fft.fft((flat * window).view(np.complex64), axis=-1, overwrite_x=True)
    parts = spectra.view(np.float32)
    squares = parts * parts
    power = squares[:, ::2] + squares[:, 1::2]
    half = count // 2
    both = power[:, :half].copy()
    both[:, 1:] += power[:, : count - half : -1]
    both[:, 0] = 0.0
    peaks = np.argmax(both, axis=1)
    total = both.sum(axis=1) + 1e-30
    rows = np.zeros((len(peaks), NOTES))
    for column in (0, 1):
        one = flat[:, column::2]
        rows[:, column] = np.sqrt(np.einsum("fn,fn->f", one, one) / count)
    for index, peak in enumerate(peaks):
        reach = max(3, peak // 50)
        bins = np.arange(max(1, peak - reach), min(half, peak + reach + 1))
        weights = both[index, bins]
        rows[index, 2] = np.average(bins, weights=weights + 1e-30) * bin_hz
        rows[index, 3] = weights.sum() / total[index]
        rows[index, 5:] = _second(both[index], int(peak), float(total[index]), bin_hz)
        if rows[index, 6] > ALIKE_SHARE:
            # of two tones about as loud the lower one leads, or it would change from frame to frame
            rows[index, [2, 5]] = sorted(rows[index, [2, 5]])
            rows[index, 3] += rows[index, 6]
        above, below = spectra[index, bins], np.conj(spectra[index, count - bins])
        left, right = above + below, -1j * (above - below)
        size = math.sqrt(float(np.vdot(left, left).real) * float(np.vdot(right, right).real)) + 1e-30
        rows[index, 4] = float(np.vdot(left, right).real) / size
    return rows


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
    even = np.full((1, factor), 1.0 / factor, dtype=np.float32)
    # a product of matrices: the same mean as along the axis, in a tenth of the time
    slow = np.matmul(even, heard[: len(heard) // factor * factor].reshape(-1, factor, 2))[:, 0]
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


def _second(power: NDArray[np.float32], peak: int, total: float, bin_hz: float) -> tuple[float, float]:
    """Return frequency and share of the power of the strongest peak that is no harmonic of the first."""
    rest = power.copy()
    rest[: max(3, int(20.0 / bin_hz))] = 0.0
    for order in range(1, HIGHEST_HARMONIC + 1):
        reach = max(6, order * peak // 40)
        rest[max(0, order * peak - reach) : order * peak + reach + 1] = 0.0
    place = int(np.argmax(rest))
    near = slice(max(0, place - 3), place + 4)
    hz, share = place * bin_hz, float(power[near].sum()) / total
    around = float(np.median(power[max(0, place - 40) : place + 41]))
    stands_out = power[place] > 100.0 * around
    return (hz, share) if stands_out and (hz > HUM_HZ or share > HUM_SHARE) else (hz, 0.0)
