"""Following a tone, or two, through a band: its speed-modulated carrier, its harmonics, its mixing products.

The carrier itself is the clock: the n-th harmonic is averaged after turning it back by n times the carrier's
phase, so that wow and flutter smear nothing, and averages over segments show how well the average is known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from groovewright.audio.bands import Band, Kind
from groovewright.audio.clicks import clear_of
from groovewright.audio.phases import apart, taper_of, unit
from groovewright.audio.spectra import FramePlan, Spectra, Stream, hann, stream_around
from groovewright.quantities import FloatArray

WIDTH = 128
"""Bins of a stream: 750 Hz sample rate at 96 kHz, flat to +-225 Hz."""
SEGMENT_FRAMES = 4
"""Frames averaged together: about 0.5 s."""
HIGHEST_ORDER = 7
TWO_TONE_TERMS = ((-1, 1), (1, 1), (-2, 1), (2, 1), (2, -1), (-1, 2))
"""Mixing products m f1 + n f2 that are looked for; the first is the difference tone."""
TONAL = 0.5
"""A tone is there when its peak holds this share of the power around the nominal frequency."""

Term = tuple[int, int]
"""(m, n) stands for m f1 + n f2."""


@dataclass(frozen=True)
class ToneData:
    """What was kept of a tone.

    Parameters
    ----------
    nominal_hz, centre_hz : float
        The listed frequency, and the one that the carrier was turned down by.
    rate_hz, first_s : float
        Sample rate of `carrier`, and the time of its first sample in the file.
    carrier : complex64 array
        Both columns combined, so that noise is least. [shape=(n,)]
    good : bool array
        Where the tone is there and no click is near. [shape=(n,)]
    terms : tuple of (m, n)
        What was averaged; (1, 0) first.
    averages : complex128 array
        Amplitudes by segment, term and column, peak, full scale; phase relative to the carrier.
        [shape=(segments, terms, 2)]
    pace : FloatArray
        Frequency of the carrier in each segment, over `nominal_hz`. [shape=(segments,)]
    """

    nominal_hz: float
    centre_hz: float
    rate_hz: float
    first_s: float
    carrier: NDArray[np.complex64]
    good: NDArray[np.bool_]
    terms: tuple[Term, ...]
    averages: NDArray[np.complex128]
    pace: FloatArray = field(default_factory=lambda: np.zeros(0))

    @property
    def heard_hz(self) -> float:
        """The tone's mean frequency."""
        return self.nominal_hz * float(self.pace.mean()) if self.pace.size else self.centre_hz

    def term(self, m: int, n: int) -> NDArray[np.complex128] | None:
        """Return the segments of one product, or None where it was not looked for. [shape=(segments, 2)]"""
        return self.averages[:, self.terms.index((m, n))] if (m, n) in self.terms else None


@dataclass
class ToneTrack:
    """Follows the tone of one band from batch to batch."""

    band: Band
    plan: FramePlan
    _centres: tuple[int, ...] = ()
    _first_frame: int = 0
    _leading: int = 0
    _loudness: float = 0.0
    _carrier: list[NDArray[np.complex64]] = field(default_factory=list)
    _good: list[NDArray[np.bool_]] = field(default_factory=list)
    _averages: list[NDArray[np.complex128]] = field(default_factory=list)
    _pace: list[FloatArray] = field(default_factory=list)
    _intact: list[NDArray[np.bool_]] = field(default_factory=list)
    _terms: tuple[Term, ...] = ()

    def feed(self, spectra: Spectra, first_frame: int, clicks_s: FloatArray) -> None:
        """Take the frames of one batch; clicks count from the start of the first."""
        if not self._centres and not self._locate(spectra, first_frame):
            return
        stream = self._stream(spectra, self._centres[0], first_frame)
        carrier, good = self._combine(stream, clicks_s)
        self._carrier.append(carrier)
        self._good.append(good)
        carriers = [carrier]
        if len(self._centres) > 1:
            second = self._stream(spectra, self._centres[1], first_frame)
            carriers.append(_mixed(_principal(second), second))
        period = WIDTH / min(self._exact)
        units = apart(carriers, good, period) if self._crowded else [unit(one) for one in carriers]
        self._average(spectra, first_frame, units, good)

    def finish(self) -> ToneData | None:
        """Return what was kept, or None where no tone was found."""
        if not self._carrier:
            return None
        plan = self.plan
        table = np.concatenate([*self._averages, np.zeros((0, len(self._terms), 2), dtype=np.complex128)])
        loudness = np.abs(table[:, 0]).max(axis=1)
        # a segment that caught the tone's start or end is not the tone
        whole = loudness > 0.8 * np.median(loudness) if len(loudness) else np.zeros(0, dtype=bool)
        # the gap of a click lets a neighbour leak in: such segments count only where most are like that
        intact = np.concatenate([*self._intact, np.zeros(0, dtype=bool)])
        if self._crowded and 2 * np.sum(whole & intact) >= np.sum(whole):
            whole &= intact
        guard_s = (self._first_frame * plan.hop + plan.overlap / 2) / plan.rate_hz
        return ToneData(
            nominal_hz=float(self.band.frequency_hz or 0.0),
            centre_hz=self._centres[0] * plan.bin_hz,
            rate_hz=plan.stream_rate_hz(WIDTH),
            first_s=guard_s,
            carrier=np.concatenate(self._carrier),
            good=np.concatenate(self._good),
            terms=self._terms,
            averages=table[whole],
            pace=np.concatenate([*self._pace, np.zeros(0)])[whole],
        )

    @property
    def _crowded(self) -> bool:
        """Whether a stream is wide enough to hold neighbours: other products or harmonics."""
        return min(self._exact) <= WIDTH // 2

    def _locate(self, spectra: Spectra, first_frame: int) -> bool:
        nominals = [self.band.frequency_hz]
        if self.band.kind is Kind.TWO_TONES:
            nominals.append(self.band.second_frequency_hz)
        size = spectra.shape[2]
        highest = min(
            size, int(1.6 * max(float(nominal or 0.0) for nominal in nominals) / self.plan.bin_hz) + 16
        )
        windowed = hann(spectra[:, :, :highest])
        power = np.zeros(size)
        power[:highest] = np.sum(windowed.real**2 + windowed.imag**2, axis=(0, 1), dtype=np.float64)
        places = [float(nominal or 0.0) / self.plan.bin_hz for nominal in nominals]
        # of two tones each is looked for on its own side of the middle between them
        between = math.sqrt(places[0] * places[-1]) if len(places) > 1 else None
        found = [
            _peak_bin(
                power,
                place,
                above=between if between is not None and place > between else 0.0,
                below=between if between is not None and place < between else math.inf,
            )
            for place in places
        ]
        if any(centre is None for centre in found):
            return False
        self._centres = tuple(round(centre) for centre in found if centre is not None)
        self._first_frame = first_frame
        exact = [centre for centre in found if centre is not None]
        self._terms = _terms_for(exact, size - 1 - WIDTH // 2)
        self._exact = exact
        first = self._stream(spectra, self._centres[0], first_frame)
        self._leading = int(np.argmax(np.sum(np.abs(first) ** 2, axis=1)))
        return True

    def _stream(self, spectra: Spectra, centre: int, first_frame: int) -> Stream:
        return stream_around(spectra, self.plan, centre_bin=centre, width=WIDTH, first_frame=first_frame)

    def _combine(
        self, stream: Stream, clicks_s: FloatArray
    ) -> tuple[NDArray[np.complex64], NDArray[np.bool_]]:
        weights = _principal(stream)
        weights = weights * np.conj(weights[self._leading]) / max(abs(weights[self._leading]), 1e-12)
        carrier = _mixed(weights, stream)
        loudness = np.abs(carrier)
        self._loudness = max(
            self._loudness, float(np.partition(loudness, place := loudness.size * 9 // 10)[place])
        )
        rate_hz = self.plan.stream_rate_hz(WIDTH)
        reach_s = self.plan.overlap / 2 / self.plan.rate_hz
        times_s = np.arange(carrier.size) / rate_hz + reach_s
        return carrier, clear_of(clicks_s, times_s, reach_s) & (loudness > 0.5 * self._loudness)

    def _average(
        self,
        spectra: Spectra,
        first_frame: int,
        units: list[NDArray[np.complex64]],
        good: NDArray[np.bool_],
    ) -> None:
        size = SEGMENT_FRAMES * WIDTH * 3 // 4
        whole = good.size // size * size
        if not whole:
            return
        taper = taper_of(size) if self._crowded else np.ones(size, dtype=np.float32)
        weights = good[:whole].reshape(-1, size) * taper
        share = weights.mean(axis=1) / taper.mean()
        keep = share > 0.4
        self._intact.append(share[keep] > 0.99)
        rows = np.zeros((int(keep.sum()), len(self._terms), 2), dtype=np.complex128)
        for index, term in enumerate(self._terms):
            turned = self._turned(spectra, first_frame, units, term)[:, :whole]
            pieces = turned.reshape(2, -1, size)[:, keep]
            means = np.sum(pieces * weights[keep], axis=2, dtype=np.complex128) / weights[keep].sum(axis=1)
            rows[:, index] = means.T
        self._averages.append(rows)
        first = units[0][:whole].reshape(-1, size)[keep]
        steps = np.angle(np.sum(first[:, 1:] * np.conj(first[:, :-1]), axis=1, dtype=np.complex128))
        hz = self._centres[0] * self.plan.bin_hz + steps * self.plan.stream_rate_hz(WIDTH) / (2.0 * np.pi)
        self._pace.append(np.asarray(hz / float(self.band.frequency_hz or 1.0)))

    def _turned(
        self, spectra: Spectra, first_frame: int, units: list[NDArray[np.complex64]], term: Term
    ) -> Stream:
        """Return the stream of one product, turned back by the carriers' phases."""
        centre = round(sum(order * exact for order, exact in zip(term, self._exact, strict=False)))
        stream = self._stream(spectra, centre, first_frame)
        back = np.ones(stream.shape[1], dtype=np.complex64)
        for order, phasor in zip(term, units, strict=False):
            back *= np.conj(phasor) ** order if order >= 0 else phasor ** (-order)
        rest = centre - sum(order * c for order, c in zip(term, self._centres, strict=False))
        if rest:
            start = first_frame * self.plan.hop + self.plan.overlap // 2
            # the same again after `WIDTH` samples
            samples = start + np.arange(WIDTH) * (self.plan.frame // WIDTH)
            turn = np.exp(2j * np.pi * (rest * samples % self.plan.frame) / self.plan.frame)
            back *= np.resize(turn.astype(np.complex64), back.size)
        return np.asarray(stream * back)


def _principal(stream: Stream) -> NDArray[np.complex64]:
    """Return the weights that combine both columns with least noise: the strongest eigenvector,
    conjugated.
    """
    cross = np.vdot(stream[1], stream[0])
    power = [np.vdot(column, column).real for column in stream]
    covariance = np.array([[power[0], cross], [np.conj(cross), power[1]]], dtype=np.complex128)
    return np.asarray(np.linalg.eigh(covariance)[1][:, -1].conj(), dtype=np.complex64)


def _mixed(weights: NDArray[np.complex64], stream: Stream) -> NDArray[np.complex64]:
    return np.asarray(weights[0] * stream[0] + weights[1] * stream[1])


def _peak_bin(
    power: FloatArray, nominal_bin: float, *, above: float = 0.0, below: float = math.inf
) -> float | None:
    """Return the peak between 0.55 and 1.5 times the nominal bin, in fractions of a bin, if it is a tone."""
    low = max(2, int(max(0.55 * nominal_bin, above)))
    high = min(power.size - 3, int(min(1.5 * nominal_bin, below)) + 3)
    if high - low < 3:
        return None
    peak = low + int(np.argmax(power[low:high]))
    near = slice(max(peak - 3, 0), peak + 4)
    # a click or a step fills the range evenly; a tone doesn't
    wide = power[low:high].sum()
    if wide <= 0.0 or power[near].sum() < TONAL * wide:
        return None
    return float(np.average(np.arange(power.size)[near], weights=power[near]))


def _terms_for(exact: list[float], highest_bin: float) -> tuple[Term, ...]:
    if len(exact) == 1:
        orders = range(1, HIGHEST_ORDER + 1)
        return tuple((order, 0) for order in orders if order == 1 or order * exact[0] < highest_bin)
    first, second = exact
    terms: list[Term] = [(1, 0), (0, 1)]
    for m, n in TWO_TONE_TERMS:
        if 2.0 < m * first + n * second < highest_bin:
            terms.append((m, n))
    return tuple(terms)
