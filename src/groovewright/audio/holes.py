"""Holes in the spectrum: moments in which a lossy coder gave a part of the spectrum nothing at all."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from groovewright.audio.spectra import FramePlan, Spectra, stream_around
from groovewright.quantities import FloatArray

CENTRES_HZ = (7000.0, 9500.0, 12_000.0, 14_500.0)
WIDTH = 128
CELL_S = 0.02
"""About as long as a coder's frame (common practice)."""
DEPTH = 0.01
"""A cell is a hole when it holds less than this share (-20 dB) of what cells there hold usually: the mean of 15
squares of noise falls so low once in 10^20 times (chi-square with 30 degrees of freedom)."""
LEAST_SHARE = 0.005
MOST_S = 10.0


@dataclass
class HoleTrack:
    """Notes the power of narrow bands in short cells, of the first 10 s of a band."""

    plan: FramePlan
    _cells: list[FloatArray] = field(default_factory=list)
    _seconds: float = 0.0

    def feed(self, spectra: Spectra, first_frame: int) -> None:
        """Take the frames of one batch."""
        if self._seconds >= MOST_S:
            return
        size = max(1, round(CELL_S * self.plan.stream_rate_hz(WIDTH)))
        rows = []
        for hz in CENTRES_HZ:
            centre = round(hz / self.plan.bin_hz)
            stream = stream_around(
                spectra, self.plan, centre_bin=centre, width=WIDTH, first_frame=first_frame
            )
            power = np.sum(stream.real**2 + stream.imag**2, axis=0)
            rows.append(power[: power.size // size * size].reshape(-1, size).mean(axis=1))
        self._cells.append(np.stack(rows))
        self._seconds += len(rows[0]) * CELL_S

    def share(self) -> float:
        """Return the share of cells that are holes, of the narrow band that has most of them."""
        if not self._cells:
            return 0.0
        cells = np.concatenate(self._cells, axis=1)
        usual = np.median(cells, axis=1, keepdims=True)
        holes = (cells < DEPTH * usual) & (usual > 0.0)
        return float(holes.mean(axis=1).max())
