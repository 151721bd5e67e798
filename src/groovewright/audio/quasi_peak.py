"""The quasi-peak meter of ITU-R BS.468-4 behind its weighting, for silent grooves."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from groovewright.audio.averages import widened
from groovewright.audio.clicks import clear_of
from groovewright.audio.noise_weighting import itu_weighting_db, to_gain
from groovewright.audio.spectra import FramePlan, Spectra
from groovewright.quantities import FloatArray, Reading

CHARGE_S, LEAK_S, FOLLOW_S, FALL_S = 1.489e-3, 0.2912, 0.2276, 0.3616
"""Time constants of two stores, fitted to the recommendation's bursts (docs/listen.md); it gives no circuit."""
SINE_SHOWS = 0.5893
"""What the stores show of a steady sine of amplitude 1: the meter is set to read that sine's rms."""
PIECE_S = 0.25e-3
"""Samples within such a piece are taken in order of size: far shorter than any time constant."""
LONGEST_S = 8.0
SETTLE_S = 1.5


def shown(rectified: FloatArray, rate_hz: float) -> FloatArray:
    """Return what the meter shows at the end of each piece, rms of a sine. [shape=(n,) to (pieces,)]

    A sample above the first store charges it fast; the store leaks, and charges a second one, which falls
    slowly and is shown.
    """
    count = max(1, round(PIECE_S * rate_hz))
    pieces = rectified[: rectified.size // count * count].reshape(-1, count)
    charge = math.exp(-1.0 / (CHARGE_S * rate_hz))
    leak, fall = (math.exp(-count / (time_s * rate_hz)) for time_s in (LEAK_S, FALL_S))
    follow = -math.expm1(-count / (FOLLOW_S * rate_hz))
    out = []
    first = second = 0.0
    for place, top in enumerate(pieces.max(axis=1).tolist()):
        first *= leak
        # few pieces rise above the store: only their samples are looked at
        if top > first:
            first = _charged(first, pieces[place], charge)
        second *= fall
        if first > second:
            second += (first - second) * follow
        out.append(second)
    return np.array(out) * (math.sqrt(0.5) / SINE_SHOWS)


def _charged(store: float, piece: FloatArray, charge: float) -> float:
    """Return the first store after the samples of a piece that lie above it, the largest first. [piece:
    shape=(n,)]
    """
    above, total = 0, 0.0
    for value in sorted(piece.tolist(), reverse=True):
        if value <= store:
            break
        above += 1
        total += value
    return store + (total / above - store) * (1.0 - charge**above)


@dataclass
class QuasiPeakTrack:
    """Weights the frames of a silent groove and keeps the sound of its first 8 s, without clicks."""

    plan: FramePlan
    _kept: list[FloatArray] = field(default_factory=list)
    _seconds: float = 0.0

    def feed(self, spectra: Spectra, clicks_s: FloatArray) -> None:
        """Take the frames of one batch; clicks count from the start of the first."""
        from scipy import fft

        if self._seconds >= LONGEST_S:
            return
        plan = self.plan
        gain = to_gain(itu_weighting_db(np.arange(spectra.shape[2]) * plan.bin_hz)).astype(np.float32)
        gain[0] = 0.0
        # the filter's response is over within half the overlap
        start = plan.overlap // 2
        sound = fft.irfft(spectra * gain, n=plan.frame, axis=-1)[:, :, start : start + plan.hop].reshape(
            2, -1
        )
        times_s = (start + np.arange(sound.shape[1])) / plan.rate_hz
        clear = clear_of(clicks_s, times_s, 0.005)
        self._kept.append(np.abs(sound[:, clear]))
        self._seconds += sound.shape[1] / plan.rate_hz

    def finish(self) -> tuple[Reading, Reading] | None:
        """Return the mean of what the meter shows of both columns, full scale; None for under 4 s."""
        if self._seconds < 4.0:
            return None
        left, right = (
            _read(column, float(self.plan.rate_hz)) for column in np.concatenate(self._kept, axis=1)
        )
        return left, right


def _read(rectified: FloatArray, rate_hz: float) -> Reading:
    needle = shown(rectified, rate_hz)
    used = needle[int(SETTLE_S / PIECE_S) :]
    # the meter remembers for half a second: stretches of one are nearly independent
    groups = max(2, min(16, int(used.size * PIECE_S)))
    means = used[: used.size // groups * groups].reshape(groups, -1).mean(axis=1)
    return Reading(
        float(used.mean()), widened(float(means.std(ddof=1)) / math.sqrt(groups), groups - 1) + 1e-12
    )
