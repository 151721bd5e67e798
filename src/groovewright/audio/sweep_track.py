"""Following a sweep through a band: where it stands in each frame, and the power of both columns there."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from groovewright.audio.bands import Band
from groovewright.audio.clicks import clear_of
from groovewright.audio.spectra import HANN_POWER, FramePlan, Spectra, hann
from groovewright.quantities import FloatArray

REACH = 0.12
"""Bins within this share of the peak's frequency belong to the sweep."""
LEAST_REACH_BINS = 6


@dataclass(frozen=True)
class SweepData:
    """One row for each frame in which the sweep was found.

    Parameters
    ----------
    frequency_hz : FloatArray
        Mean frequency, weighted by power. [shape=(n,)]
    power : FloatArray
        Mean square of both columns, full scale. [shape=(n, 2)]
    cross : complex128 array
        Mean of right times conj(left), same scale. [shape=(n,)]
    """

    frequency_hz: FloatArray
    power: FloatArray
    cross: NDArray[np.complex128]


@dataclass
class SweepTrack:
    """Follows the sweep of one band from batch to batch."""

    band: Band
    plan: FramePlan
    _rows: list[tuple[float, float, float, complex]] = field(default_factory=list)

    def feed(self, spectra: Spectra, first_frame: int, clicks_s: FloatArray) -> None:
        """Take the frames of one batch; clicks count from the start of the first."""
        frame_s = self.plan.frame / self.plan.rate_hz
        middles = np.arange(spectra.shape[1]) * self.plan.hop / self.plan.rate_hz + frame_s / 2.0
        clear = clear_of(clicks_s, middles, frame_s / 2.0)
        ends = sorted((float(self.band.sweep_start_hz or 0.0), float(self.band.sweep_end_hz or 0.0)))
        low = max(1, int(0.8 * ends[0] / self.plan.bin_hz))
        high = min(spectra.shape[2] - 1, int(1.25 * ends[1] / self.plan.bin_hz) + 4)
        windowed = hann(spectra[:, :, : high + 1])
        for frame in np.flatnonzero(clear):
            self._row(windowed[:, frame], low, high)

    def _row(self, columns: NDArray[np.complex64], low: int, high: int) -> None:
        power = columns.real**2 + columns.imag**2
        both = power[0] + power[1]
        peak = low + int(np.argmax(both[low:high]))
        reach = max(LEAST_REACH_BINS, int(REACH * peak))
        near = slice(max(0, peak - reach), min(high, peak + reach) + 1)
        # white noise would put no more than the window's share of the power there
        if both[near].sum() < TONAL_SHARE * both[low:high].sum():
            return
        bins = np.arange(both.size)[near]
        scale = 2.0 / (self.plan.frame**2 * HANN_POWER)
        cross = np.sum(columns[1, near] * np.conj(columns[0, near]), dtype=np.complex128) * scale
        frequency = float(np.average(bins, weights=both[near])) * self.plan.bin_hz
        left, right = (float(power[column, near].sum()) * scale for column in (0, 1))
        self._rows.append((frequency, left, right, complex(cross)))

    def finish(self) -> SweepData | None:
        """Return what was kept, or None where no sweep was found."""
        if len(self._rows) < 5:
            return None
        frequency = np.array([row[0] for row in self._rows])
        smooth = _running_median(np.log(frequency))
        fits = np.abs(np.log(frequency) - smooth) < 0.1
        listed = abs(math.log(float(self.band.sweep_end_hz or 1.0) / float(self.band.sweep_start_hz or 1.0)))
        if np.ptp(smooth) < LEAST_SWEPT * listed:
            return None
        return SweepData(
            frequency_hz=frequency[fits],
            power=np.array([row[1:3] for row in self._rows])[fits],
            cross=np.array([row[3] for row in self._rows])[fits],
        )


LEAST_SWEPT = 0.05
"""Of the listed range, in log f: what moves less is a tone."""
TONAL_SHARE = 0.7
"""A frame counts where this share of the power lies around its peak."""


def _running_median(values: FloatArray) -> FloatArray:
    padded = np.pad(values, 2, mode="edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1))
