"""What one pass over a band keeps of it: enough for every measure, and little enough for any length."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from groovewright.audio.bands import Band, Kind
from groovewright.audio.clicks import MOST_PER_S, clear_of, find_clicks
from groovewright.audio.holes import HoleTrack
from groovewright.audio.quasi_peak import QuasiPeakTrack
from groovewright.audio.reader import Samples
from groovewright.audio.spectra import (
    HANN_POWER,
    FramePlan,
    Spectra,
    hann,
    low_stream,
    power_density,
    spectra_of,
)
from groovewright.audio.sweep_track import SweepData, SweepTrack
from groovewright.audio.tone_track import ToneData, ToneTrack
from groovewright.quantities import FloatArray, Reading

BATCH = 16
"""Frames that are worked on together: about 2 s."""
FEW = 8
"""Frames of a tone's band whose power is kept, to see what lies above it."""
HELPER = ThreadPoolExecutor(max_workers=1, thread_name_prefix="frames")
"""Transforms the frames of a batch, and looks for clicks, beside the work on the batch before; holds nothing."""
LOW_WIDTH = 512
"""Bins of the low-pass stream: about 3 kHz sample rate, good to 1.3 kHz."""
LOW_SECONDS = 600.0
"""As much of a band's low-pass stream is kept; for a tone band a fifth of it."""
BRIDGE_S = 0.004
"""To either side of a click the low-pass stream is bridged by a straight line."""
GUARD_S = 0.2
"""Left out at either end of a band, since lists are rarely exact; a fiftieth of short bands."""


@dataclass(frozen=True)
class BandData:
    """What the pass kept of one band.

    Parameters
    ----------
    density : FloatArray or None
        Mean power density, full scale squared per Hz. [shape=(2, bins)]
    cross : complex array or None
        Mean cross spectrum right times conj(left) of a noise band, same scale. [shape=(bins,)]
    spectra_count : int
        Frames behind `density`.
    low : float32 array or None
        The low-pass stream. [shape=(2, n)]
    quasi_peak : (Reading, Reading) or None
        What the ITU-R BS.468 meter shows of a silent groove, full scale.
    holes : float
        Share of short cells of a silent groove or of noise in which a part of the spectrum is empty.
    clicks_s : FloatArray
        Times of clicks in the file.
    heard_s : float
        How much of the band was in the file.
    """

    band: Band
    plan: FramePlan
    heard_s: float
    clicks_s: FloatArray
    tone: ToneData | None = None
    sweep: SweepData | None = None
    density: FloatArray | None = None
    cross: NDArray[np.complex128] | None = None
    spectra_count: int = 0
    low: NDArray[np.float32] | None = None
    low_rate_hz: float = 0.0
    quasi_peak: tuple[Reading, Reading] | None = None
    holes: float = 0.0

    @property
    def whole(self) -> bool:
        """Whether (nearly) all of the band was in the file."""
        return self.heard_s >= 0.9 * self.band.duration_s


@dataclass
class BandGatherer:
    """Takes the blocks of a recording in order and keeps what belongs to one band."""

    band: Band
    plan: FramePlan
    with_meter: bool = True
    _pending: list[Samples] = field(default_factory=list)
    _pending_frames: int = 0
    _frame: int = 0
    _transformed: Future[tuple[Spectra, FloatArray]] | None = None
    _heard: int = 0
    _clicks: list[FloatArray] = field(default_factory=list)
    _density: FloatArray | None = None
    _cross: NDArray[np.complex128] | None = None
    _density_frames: int = 0
    _low: list[NDArray[np.float32]] = field(default_factory=list)
    _low_s: float = 0.0

    def __post_init__(self) -> None:
        guard = min(GUARD_S, 0.02 * self.band.duration_s)
        self.first = round((self.band.start_s + guard) * self.plan.rate_hz)
        self.last = round((self.band.end_s - guard) * self.plan.rate_hz)
        kind = self.band.kind
        tonal = kind in (Kind.TONE, Kind.TWO_TONES)
        self._tone = ToneTrack(self.band, self.plan) if tonal else None
        self._quasi_peak = QuasiPeakTrack(self.plan) if kind is Kind.SILENCE and self.with_meter else None
        self._holes = HoleTrack(self.plan) if kind in (Kind.SILENCE, Kind.NOISE) else None
        high = kind is Kind.SWEEP and not self.band.is_low_sweep
        self._sweep = SweepTrack(self.band, self.plan) if high else None
        self._wants_low = kind in (Kind.SILENCE, Kind.TONE, Kind.NOISE) or self.band.is_low_sweep
        self._low_cap_s = LOW_SECONDS / 5.0 if tonal else LOW_SECONDS
        self._all_density = kind in (Kind.SILENCE, Kind.NOISE)

    def feed(self, block: Samples, at_frame: int) -> None:
        """Take the part of a block that lies in the band; `at_frame` is where the block starts."""
        part = block[max(0, self.first - at_frame) : max(0, self.last - at_frame)]
        if not len(part):
            return
        self._pending.append(part)
        self._pending_frames += len(part)
        if self._pending_frames >= BATCH * self.plan.hop + self.plan.overlap:
            self._work()

    def finish(self) -> BandData:
        """Return what was kept."""
        if self._pending_frames >= self.plan.frame:
            self._work()
        self._take_in()
        clicks = np.concatenate([*self._clicks, np.zeros(0)])
        tone = self._tone.finish() if self._tone else None
        return BandData(
            band=self.band,
            plan=self.plan,
            heard_s=(self._heard + self._pending_frames) / self.plan.rate_hz,
            clicks_s=clicks,
            tone=tone,
            sweep=self._sweep.finish() if self._sweep else None,
            density=None if self._density is None else self._density / self._density_frames,
            cross=None if self._cross is None else self._cross / self._density_frames,
            spectra_count=self._density_frames,
            low=np.concatenate(self._low, axis=1) if self._low else None,
            low_rate_hz=self.plan.stream_rate_hz(LOW_WIDTH),
            holes=self._holes.share() if self._holes else 0.0,
            quasi_peak=self._quasi_peak.finish() if self._quasi_peak else None,
        )

    def _work(self) -> None:
        """Have what is pending transformed, and meanwhile take in the batch before it."""
        plan = self.plan
        sound = self._pending[0] if len(self._pending) == 1 else np.concatenate(self._pending)
        columns = np.ascontiguousarray(sound.T)
        frames = (len(sound) - plan.overlap) // plan.hop
        used = frames * plan.hop
        self._pending = [sound[used:]]
        self._pending_frames = len(sound) - used
        following = HELPER.submit(_transformed, columns, plan, used)
        self._take_in()
        self._transformed = following

    def _take_in(self) -> None:
        """Spread the batch that was transformed last."""
        if self._transformed is None:
            return
        spectra, clicks_s = self._transformed.result()
        self._transformed = None
        plan = self.plan
        used = spectra.shape[1] * plan.hop
        start_s = (self.first + self._frame * plan.hop) / plan.rate_hz
        self._clicks.append(start_s + clicks_s[clicks_s < used / plan.rate_hz])
        dusty = len(clicks_s) > MOST_PER_S * used / plan.rate_hz
        self._heard += used
        self._spread(spectra, np.zeros(0) if dusty else clicks_s)
        self._frame += spectra.shape[1]

    def _spread(self, spectra: Spectra, clicks_s: FloatArray) -> None:
        if self._tone:
            self._tone.feed(spectra, self._frame, clicks_s)
        if self._sweep:
            self._sweep.feed(spectra, self._frame, clicks_s)
        if self._holes:
            self._holes.feed(spectra, self._frame)
        if self._quasi_peak:
            self._quasi_peak.feed(spectra, clicks_s)
        if self._all_density:
            self._add_density(spectra, clicks_s)
        elif self._density_frames < FEW:
            self._add_density(spectra[:, :FEW], clicks_s)
        if self._wants_low and self._low_s < self._low_cap_s:
            self._add_low(spectra, clicks_s)

    def _add_low(self, spectra: Spectra, clicks_s: FloatArray) -> None:
        piece = low_stream(spectra, self.plan, width=LOW_WIDTH)
        rate_hz = self.plan.stream_rate_hz(LOW_WIDTH)
        times = np.arange(piece.shape[1]) / rate_hz + self.plan.overlap / 2 / self.plan.rate_hz
        clear = clear_of(clicks_s, times, BRIDGE_S)
        if not clear.all() and clear.any():
            for row in piece:
                row[~clear] = np.interp(times[~clear], times[clear], row[clear])
        self._low.append(piece)
        self._low_s += piece.shape[1] / rate_hz

    def _add_density(self, spectra: Spectra, clicks_s: FloatArray) -> None:
        frame_s = self.plan.frame / self.plan.rate_hz
        middles = np.arange(spectra.shape[1]) * self.plan.hop / self.plan.rate_hz + frame_s / 2.0
        clear = clear_of(clicks_s, middles, frame_s / 2.0)
        if not clear.any():
            return
        windowed = hann(spectra if clear.all() else spectra[:, clear])
        count = windowed.shape[1]
        density = power_density(windowed, self.plan) * count
        self._density = density if self._density is None else self._density + density
        self._density_frames += count
        if self.band.kind is Kind.NOISE:
            cross = np.einsum("fb,fb->b", windowed[1], np.conj(windowed[0])).astype(np.complex128)
            cross *= 2.0 / (self.plan.rate_hz * self.plan.frame * HANN_POWER)
            self._cross = cross if self._cross is None else self._cross + cross


def _transformed(columns: NDArray[np.float32], plan: FramePlan, used: int) -> tuple[Spectra, FloatArray]:
    """Return the spectra of all whole frames, and the times of clicks in them."""
    # the last frame reaches into what comes next: a click in there spoils it, and is counted next time
    clicks = find_clicks(columns[:, : used + plan.overlap], plan.rate_hz)
    return spectra_of(columns, plan), clicks / plan.rate_hz
