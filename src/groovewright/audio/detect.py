"""Finding bands without a list: tones, sweeps, noise and silence, and which columns they are in."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from groovewright.audio.bands import Band, BandList, Channel, Kind, Law, Replay
from groovewright.quantities import RPM_33, FloatArray

NOMINAL_HZ = (
    20, 25, 30, 31.5, 40, 50, 60, 63, 80, 100, 125, 160, 200, 250, 300, 315, 400, 440, 500, 630, 700, 800,
    1000, 1250, 1600, 2000, 2500, 3000, 3150, 4000, 5000, 6300, 7000, 8000, 10000, 12000, 12500, 14000, 15000,
    16000, 18000, 20000,
)  # fmt: skip
"""Frequencies that test records use: ISO 266 and common practice."""
NEAR_NOMINAL = 0.025
LEAST_S = 2.0
SECOND_SHARE = 1e-4
TONAL, SILENT_DB, NOTHING_DB = 0.85, -38.0, -120.0
"""A tone's share of the power; silence, below the loud parts and below full scale."""
SAME_HZ, SAME_DB = 0.01, 1.5
ONE_SIDED = 3.2
"""10 dB: a tone this much louder in one column is on one channel."""

QUIET, TONE, OTHER = 0, 1, 2


def find_bands(table: FloatArray, frame_s: float, *, replay: Replay, speed_rpm: float = RPM_33) -> BandList:
    """Return the bands that the notes show, to be confirmed: channels are taken as if all leads were
    right.

    Parameters
    ----------
    table : FloatArray
        What `survey` noted of each frame. [shape=(frames, 7)]
    frame_s : float
        From one of these frames to the next.
    """
    bands = []
    for start, end, kind in _stretches(table, frame_s):
        band = _band(table[start:end], kind, start * frame_s, end * frame_s)
        if band is not None:
            bands.append(band)
    named = tuple(_named(bands))
    note = "bands were found, not listed: which channel each is cut on is assumed from the file itself"
    return BandList(bands=named, speed_rpm=speed_rpm, replay=replay, listed=False, notes=(note,))


def _stretches(table: FloatArray, frame_s: float) -> Iterable[tuple[int, int, Kind]]:
    """Yield first frame, frame behind the last, and kind of every stretch of at least `LEAST_S`."""
    if not len(table):
        return
    levels = 20.0 * np.log10(table[:, :2].max(axis=1) + 1e-9)
    loud = float(np.percentile(levels, 90))
    state = np.where(
        levels < max(loud + SILENT_DB, NOTHING_DB), QUIET, np.where(table[:, 3] > TONAL, TONE, OTHER)
    )
    least = max(2, int(LEAST_S / frame_s))
    place = 0
    while place < len(table):
        end = place + 1
        while end < len(table) and state[end] == state[place]:
            end += 1
        if state[place] == TONE:
            yield from _tonal(table, levels, place, end, least)
        elif end - place >= least:
            kind = Kind.SILENCE if state[place] == QUIET else _noisy(levels[place:end])
            yield place, end, kind
        place = end


def _noisy(levels: FloatArray) -> Kind:
    return Kind.NOISE if float(np.std(levels[1:-1])) < 0.7 else Kind.OTHER


def _tonal(
    table: FloatArray, levels: FloatArray, start: int, end: int, least: int
) -> Iterable[tuple[int, int, Kind]]:
    """Split a run of tonal frames where frequency, level or column changes; what glides is a sweep."""
    place = start
    while place < end:
        stop = place + 1
        while stop < end and _same(table, levels, place, stop):
            stop += 1
        if stop - place >= least:
            yield place, stop, Kind.TONE
            place = stop
            continue
        stop = _glide_end(table, place, end)
        if stop - place >= least and _range_of(table[place:stop, 2]) > 1.5:
            yield place, stop, Kind.SWEEP
            place = stop
        else:
            place += 1


def _same(table: FloatArray, levels: FloatArray, first: int, other: int) -> bool:
    a, b = table[first], table[other]
    near = abs(np.log(b[2] / a[2])) < SAME_HZ and abs(levels[other] - levels[first]) < SAME_DB
    return bool(near and _column(a) == _column(b))


def _glide_end(table: FloatArray, start: int, end: int) -> int:
    """Return where a glide that starts here ends: small steps, all one way but for a few."""
    log_hz = np.log(table[start:end, 2])
    if log_hz.size < 4:
        return start + 1
    span = min(12, log_hz.size - 1)
    way = np.sign(log_hz[span] - log_hz[0])
    against = 0
    for index in range(1, log_hz.size):
        step = float(log_hz[index] - log_hz[index - 1]) * way
        against = against + 1 if step < -0.002 else max(0, against - 1)
        if abs(step) > 0.4 or against > 3:
            return start + index
    return end


def _range_of(frequency_hz: FloatArray) -> float:
    return float(frequency_hz.max() / max(frequency_hz.min(), 1e-3))


def _column(row: FloatArray) -> Channel:
    left, right, cosine = float(row[0]), float(row[1]), float(row[4])
    if left > ONE_SIDED * right:
        return Channel.LEFT
    if right > ONE_SIDED * left:
        return Channel.RIGHT
    if cosine > 0.5:
        return Channel.LATERAL
    return Channel.VERTICAL if cosine < -0.5 else Channel.UNKNOWN


def _band(rows: FloatArray, kind: Kind, start_s: float, end_s: float) -> Band | None:
    middle = rows[1:-1] if len(rows) > 2 else rows
    channel = _column(np.median(middle, axis=0)) if kind is not Kind.SILENCE else Channel.UNKNOWN
    second = _second_hz(middle) if kind is Kind.TONE else None
    if second is not None:
        low, high = sorted((float(np.median(middle[:, 2])), second))
        return Band(
            "",
            Kind.TWO_TONES,
            start_s,
            end_s,
            channel,
            frequency_hz=nominal_hz(low),
            second_frequency_hz=nominal_hz(high),
        )
    if kind is Kind.TONE:
        return Band(
            "", kind, start_s, end_s, channel, frequency_hz=nominal_hz(float(np.median(middle[:, 2])))
        )
    if kind is Kind.SWEEP:
        ends = _ends(middle[:, 2], trimmed=len(rows) > 2)
        low = max(ends) <= 100.0
        law = Law.CONSTANT_VELOCITY if low else Law.EQUALISED
        first, last = (max(1.0, round(hz, 1)) for hz in ends)
        return Band("", kind, start_s, end_s, channel, sweep_start_hz=first, sweep_end_hz=last, law=law)
    return Band("", kind, start_s, end_s, channel)


def _second_hz(rows: FloatArray) -> float | None:
    """Return the frequency of a second tone that is there nearly all the time, at -40 dB or more."""
    there = rows[rows[:, 6] > SECOND_SHARE]
    if len(there) < 0.8 * len(rows):
        return None
    middle = float(np.median(there[:, 5]))
    steady = np.abs(np.log(there[:, 5] / middle)) < 0.02
    return middle if steady.mean() > 0.8 else None


def _ends(frequency_hz: FloatArray, *, trimmed: bool) -> tuple[float, float]:
    """Return where a sweep starts and ends: straight lines through its first and last rows in log f, drawn on
    to the edges of the stretch, of which one row may have been left out at either end.
    """
    log_hz = np.log(frequency_hz)
    span = min(max(4, log_hz.size // 3), log_hz.size)
    beyond = 1.0 if trimmed else 0.0
    places = np.arange(span)
    first = np.polynomial.Polynomial.fit(places, log_hz[:span], 1)(-beyond)
    last = np.polynomial.Polynomial.fit(places, log_hz[-span:], 1)(span - 0.5 + beyond)
    return float(np.exp(first)), float(np.exp(last))


def nominal_hz(measured_hz: float) -> float:
    """Return the usual test frequency within 2.5 %, or the measured one."""
    nearest = min(NOMINAL_HZ, key=lambda hz: abs(np.log(hz / measured_hz)))
    return float(nearest) if abs(measured_hz / nearest - 1.0) < NEAR_NOMINAL else round(measured_hz, 1)


def _named(bands: list[Band]) -> Iterable[Band]:
    from dataclasses import replace

    for number, band in enumerate(bands, start=1):
        if band.kind is Kind.TWO_TONES:
            what = f"tones {band.frequency_hz:g} and {band.second_frequency_hz:g} Hz"
        elif band.kind is Kind.TONE:
            what = f"tone {band.frequency_hz:g} Hz"
        elif band.kind is Kind.SWEEP:
            what = f"sweep {band.sweep_start_hz:g} to {band.sweep_end_hz:g} Hz"
        else:
            what = band.kind.value
        yield replace(band, name=f"{number}: {what}")
