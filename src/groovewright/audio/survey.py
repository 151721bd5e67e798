"""A quick look over a recording before it is measured: a few numbers of every other frame.

Where a decoder can jump (WAV, AIFF) the frames between are never decoded; a packed file (FLAC) is decoded whole.
Two threads take half of the file each: decoding and transforming leave the interpreter free.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groovewright.audio.reader import Recording, Samples, repaired
from groovewright.audio.spectra import FramePlan, hann, spectra_of_pieces
from groovewright.quantities import FloatArray

EVERY = 2
"""One frame in so many is looked at: edges are found to about 0.3 s."""
BATCH = 16
"""Frames that are worked on together."""
CAN_JUMP = {"WAV", "WAVEX", "RF64", "W64", "AIFF"}
LEAST_SHARED = 64
"""Files of fewer steps are not worth a second thread."""


def step_s(plan: FramePlan) -> float:
    """Return the time from one noted frame to the next."""
    return EVERY * plan.frame / plan.rate_hz


def survey(recording: Recording, plan: FramePlan, tell: Callable[[float], None]) -> FloatArray:
    """Return rms left, rms right, peak frequency, tonality, cosine between columns. [shape=(frames, 5)]

    A file that breaks off is noted up to there.
    """
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
    rows = [np.zeros((0, 5))]
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
                piece = _frame_of(sound, plan.frame, step, jumps=jumps)
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
    """Return one row of notes for each frame. [pieces: shape=(frames, N, 2); result: shape=(frames, 5)]"""
    columns = np.ascontiguousarray(pieces.transpose(2, 0, 1))
    spectra = hann(spectra_of_pieces(columns))
    parts = spectra.view(np.float32)
    squares = (parts * parts).reshape(*spectra.shape, 2)
    power = squares[..., 0] + squares[..., 1]
    both = power[0] + power[1]
    both[:, 0] = 0.0
    peaks = np.argmax(both, axis=1)
    total = both.sum(axis=1) + 1e-30
    rows = np.zeros((len(peaks), 5))
    rows[:, :2] = np.sqrt(np.einsum("cfn,cfn->fc", columns, columns) / plan.frame)
    for index, peak in enumerate(peaks):
        reach = max(3, peak // 50)
        near = slice(max(1, peak - reach), peak + reach + 1)
        weights = both[index, near]
        bins = np.arange(near.start, near.start + weights.size)
        rows[index, 2] = np.average(bins, weights=weights + 1e-30) * plan.bin_hz
        rows[index, 3] = weights.sum() / total[index]
        cross = np.vdot(spectra[0, index, near], spectra[1, index, near])
        size = np.sqrt(power[0, index, near].sum() * power[1, index, near].sum()) + 1e-30
        rows[index, 4] = float(cross.real / size)
    return rows
