"""Frequency response and crosstalk over frequency, from sweeps and from noise."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.audio.averages import widened
from groovewright.audio.bands import Band, Channel, Law, Replay
from groovewright.audio.equaliser import cut_velocity, expected_gain
from groovewright.audio.gather import BandData
from groovewright.quantities import FloatArray, Reading

PER_OCTAVE = 6
"""Points of a curve."""
UNKNOWN_PACE = Reading(1.0, 0.002)
"""Where no tone tells: 0.2 mm off centre, and a speed that is 0.15 % off."""
REFERENCE_BAND_HZ = (800.0, 1250.0)


@dataclass(frozen=True)
class Response:
    """Response over frequency of one band, leads put right.

    Parameters
    ----------
    frequency_hz : FloatArray
        [shape=(n,)]
    left_db, right_db : FloatArray or None
        Deviation from what an ideal cartridge and the equaliser would give, 0 at 1 kHz; None where the band
        does not drive that channel. [shape=(n,)]
    left_sd_db, right_sd_db : FloatArray or None
    crosstalk_db, crosstalk_deg : FloatArray or None
        From the driven channel to the other, size and phase, for bands of one channel only.
    """

    band: Band
    frequency_hz: FloatArray
    left_db: FloatArray | None
    right_db: FloatArray | None
    left_sd_db: FloatArray | None
    right_sd_db: FloatArray | None
    crosstalk_db: FloatArray | None
    crosstalk_deg: FloatArray | None

    def against(self, load_hz: FloatArray, load_db: FloatArray) -> Response:
        """Return what is left when a load model's curve is taken off. [load_hz, load_db: shape=(m,)]"""
        expected = np.interp(np.log(self.frequency_hz), np.log(load_hz), load_db)
        expected = expected - float(np.interp(np.log(1000.0), np.log(load_hz), load_db))
        return replace(
            self,
            left_db=None if self.left_db is None else self.left_db - expected,
            right_db=None if self.right_db is None else self.right_db - expected,
        )


def response_of(
    data: BandData, replay: Replay, *, swapped: bool = False, pace: Reading = UNKNOWN_PACE
) -> Response | None:
    """Return the response of a sweep or noise band; None where it was not found or misses 1 kHz.

    Parameters
    ----------
    pace : Reading
        Speed over nominal, and the rms of its swing once per turn, which moves a sweep along what was cut.
    """
    if data.sweep is not None:
        hz, power, cross = data.sweep.frequency_hz, data.sweep.power, data.sweep.cross
        counts = None
    elif data.density is not None and data.cross is not None:
        hz = np.asarray(np.arange(data.density.shape[1]) * data.plan.bin_hz, dtype=np.float64)
        inside = (hz > 20.0) & (hz < 0.45 * data.plan.rate_hz)
        hz, power, cross = hz[inside], data.density[:, inside].T, data.cross[inside]
        # neighbouring bins of a Hann frame share their noise: 1.94 of them count as one
        counts = max(data.spectra_count, 1) / 1.94
    else:
        return None
    if swapped:
        power, cross = power[:, ::-1], np.conj(cross)
    return _curves(data.band, hz, power, cross, counts, replay, pace)


def _curves(
    band: Band,
    hz: FloatArray,
    power: FloatArray,
    cross: NDArray[np.complex128],
    counts: float | None,
    replay: Replay,
    pace: Reading,
) -> Response | None:
    ideal = expected_gain(hz, band.law, replay, pace.value)
    flat = power / ideal[:, None] ** 2
    octave = np.round(np.log2(hz / 1000.0) * PER_OCTAVE).astype(int)
    groups = [np.flatnonzero(octave == number) for number in np.unique(octave)]
    groups = [group for group in groups if group.size]
    centre = np.array([float(np.exp(np.mean(np.log(hz[group])))) for group in groups])
    near = (centre > REFERENCE_BAND_HZ[0]) & (centre < REFERENCE_BAND_HZ[1])
    if not near.any():
        return None
    level = np.array([flat[group].mean(axis=0) for group in groups])
    spread = (
        _scatter(hz, flat, groups)
        if counts is None
        else np.array([np.full(2, 1.0 / np.sqrt(counts * group.size)) for group in groups])
    )
    decibels = 10.0 * np.log10(np.maximum(level, 1e-30))
    decibels = np.asarray(decibels - decibels[near].mean(axis=0), dtype=np.float64)
    sd = 10.0 / np.log(10.0) * spread
    # the reference at 1 kHz is measured too
    sd = np.hypot(sd, np.sqrt(np.sum(sd[near] ** 2, axis=0)) / near.sum())
    if counts is None:
        # a sweep catches the swing at another phase at each point, and at 1 kHz; noise averages it
        moved = 20.0 / np.log(10.0) * pace.sd * _by_pace(centre, band.law)
        sd = np.hypot(sd, np.hypot(moved, moved[near].mean())[:, None])
    left, right = band.channel is not Channel.RIGHT, band.channel is not Channel.LEFT
    crosstalk = None
    if band.channel in (Channel.LEFT, Channel.RIGHT):
        driven = 0 if band.channel is Channel.LEFT else 1
        to_other = cross if driven == 0 else np.conj(cross)
        crosstalk = np.array([to_other[g].sum() / max(float(power[g, driven].sum()), 1e-30) for g in groups])
    return Response(
        band=band,
        frequency_hz=centre,
        left_db=decibels[:, 0] if left else None,
        right_db=decibels[:, 1] if right else None,
        left_sd_db=sd[:, 0] if left else None,
        right_sd_db=sd[:, 1] if right else None,
        crosstalk_db=None if crosstalk is None else 20.0 * np.log10(np.maximum(np.abs(crosstalk), 1e-9)),
        crosstalk_deg=None if crosstalk is None else np.degrees(np.angle(crosstalk)),
    )


def _by_pace(hz: FloatArray, law: Law) -> FloatArray:
    """Return the relative change of level with speed, after the equaliser is undone for what is heard. [shape=(n,)]"""
    slope = np.log(cut_velocity(1.01 * hz, law) / cut_velocity(hz / 1.01, law)) / (2.0 * np.log(1.01))
    return np.asarray(1.0 - slope)


def _scatter(hz: FloatArray, flat: FloatArray, groups: list[NDArray[np.intp]]) -> FloatArray:
    """Return the relative uncertainty of the mean power of each group of a sweep's rows. [shape=(groups, 2)]

    Rows within a third of an octave of the group scatter about a line in log f: what is left of the slope and bend
    of the response itself does not count.
    """
    log_hz, level = np.log2(hz), np.log(np.maximum(flat, 1e-30))
    out = np.empty((len(groups), flat.shape[1]))
    for place, group in enumerate(groups):
        distance = log_hz - log_hz[group].mean()
        near = np.abs(distance) < 1.0 / 3.0
        if near.sum() < 5:
            near = np.argsort(np.abs(distance))[:5]
        table = np.stack([np.ones_like(distance[near]), distance[near], distance[near] ** 2], axis=1)
        solution = np.linalg.lstsq(table, level[near], rcond=None)[0]
        freedom = len(table) - 3
        rest = np.sqrt(np.sum((level[near] - table @ solution) ** 2, axis=0) / freedom)
        out[place] = rest / np.sqrt(group.size) * widened(1.0, freedom)
    return out
