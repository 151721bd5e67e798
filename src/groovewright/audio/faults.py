"""What spoils a recording before any measure is taken: clipping, offset, one channel twice, low level,
lossy coding.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from groovewright.audio.bands import Kind
from groovewright.audio.gather import BandData
from groovewright.audio.reader import Samples
from groovewright.quantities import FloatArray

FULL_SCALE = 0.9995
FLAT_RUN = 3
"""Equal samples in a row at the top that are clipping at full scale; one more below it."""
STEP = 0.002
"""Clipping below full scale is entered with a step of at least this share of the peak; a slow sine's top is
not.
"""
OFFSET = 0.001
"""An offset worth telling, full scale."""
LOW_PEAK_DB = -40.0
EDGE_DROP_DB = 25.0
EDGE_HZ = (3000.0, 19_400.0)
"""Lossy coders cut off in here; a converter's own filter, or noise that was made for the ear, lies higher."""


@dataclass
class LevelTally:
    """What is counted over the whole file, block by block.

    `clipped_samples` stand at full scale; `flat_samples` are flat tops below it, which an earlier stage made, or
    a stylus that stops following.
    """

    rate_hz: int
    frames: int = 0
    peak: float = 0.0
    sums: FloatArray = field(default_factory=lambda: np.zeros(2))
    identical: bool = True
    clipped_samples: int = 0
    flat_samples: int = 0
    clipped_s: set[int] = field(default_factory=set)

    def add(self, block: Samples) -> None:
        """Count one block."""
        if self.identical and not np.array_equal(block[:, 0], block[:, 1]):
            self.identical = False
        top = max(float(block.max()), -float(block.min()))
        if top >= 0.98 * self.peak and top > 0.02:
            self._count_flat(block, top)
        self.peak = max(self.peak, top)
        self.sums += np.sum(block, axis=0, dtype=np.float32)
        self.frames += len(block)

    @property
    def offsets(self) -> tuple[float, float]:
        """Mean of both columns, full scale."""
        means = self.sums / max(self.frames, 1)
        return float(means[0]), float(means[1])

    @property
    def peak_db(self) -> float:
        """Peak in dB re full scale."""
        return 20.0 * math.log10(max(self.peak, 1e-10))

    def _count_flat(self, block: Samples, top: float) -> None:
        for column in block.T:
            for sign in (1.0, -1.0):
                self._count_side(column * np.float32(sign), top)

    def _count_side(self, column: NDArray[np.float32], top: float) -> None:
        peak = float(column.max())
        at_top = np.flatnonzero(column >= peak)
        if peak < 0.5 * top or at_top.size < FLAT_RUN:
            return
        runs = np.split(at_top, np.flatnonzero(np.diff(at_top) > 1) + 1)
        for run in runs:
            full = peak >= FULL_SCALE and run.size >= FLAT_RUN
            entered = peak - float(column[max(int(run[0]) - 1, 0)])
            if not full and run.size > FLAT_RUN and entered > STEP * peak:
                self.flat_samples += run.size
            if full:
                self.clipped_samples += run.size
                self.clipped_s.add(int((self.frames + int(run[0])) / self.rate_hz))

    def clipped_within(self, start_s: float, end_s: float) -> bool:
        """Return whether any clipping lies between two times."""
        return any(start_s - 1.0 < second < end_s for second in self.clipped_s)


def lossy_edge_hz(data: Sequence[BandData]) -> float | None:
    """Return where the spectrum ends like a lossy coder's, or None.

    Common practice: such coders leave next to nothing above an edge between 10 and 20.5 kHz, where a record's
    own noise falls gently.
    """
    # noise on a record may have been cut with an edge of its own
    kept = [entry for entry in data if entry.density is not None and entry.band.kind is not Kind.NOISE]
    if not kept:
        return None
    plan = kept[0].plan
    density = np.mean([np.asarray(entry.density).sum(axis=0) for entry in kept], axis=0)
    width = max(4, int(500.0 / plan.bin_hz))
    smooth_db = 10.0 * np.log10(_running_floor(density, width) + 1e-22)
    gap = int(400.0 / plan.bin_hz)
    first, last = (int(hz / plan.bin_hz) for hz in EDGE_HZ)
    last = min(last, smooth_db.size - gap - 1)
    if last <= first:
        return None
    places = np.arange(first, last)
    drop = smooth_db[places - gap] - smooth_db[places + gap]
    worst = int(np.argmax(drop))
    above = float(np.median(smooth_db[places[worst] + gap :]))
    stays_down = above < smooth_db[places[worst] - gap] - EDGE_DROP_DB
    return float(places[worst] * plan.bin_hz) if drop[worst] > EDGE_DROP_DB and stays_down else None


def _running_floor(density: FloatArray, width: int) -> FloatArray:
    """Return the median over about `width` bins, in coarse steps: tones don't count, noise does."""
    count = density.size // width
    coarse = np.median(density[: count * width].reshape(count, width), axis=1)
    return np.asarray(np.interp(np.arange(density.size), (np.arange(count) + 0.5) * width, coarse))
