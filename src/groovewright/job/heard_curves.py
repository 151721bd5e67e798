"""The curves of a recording that a job keeps: few points, and the bands that numbers came from first."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

import numpy as np

from groovewright.audio import Listening
from groovewright.audio.flutter import Flutter
from groovewright.audio.resonance import Resonance
from groovewright.audio.response import Response
from groovewright.audio.speed import Deviation, Turning
from groovewright.job.heard import MOST_POINTS, Curve
from groovewright.quantities import FloatArray

MOST_CURVES = 24
"""Curves of one recording that a job keeps: with 72 points each, well below what one event may hold."""

LONGEST_TEXT = 500
"""Characters of one note or warning."""


def rounded(value: float, digits: int = 7) -> float:
    """Return a number with so many significant digits; plain zero where it is lost."""
    return float(f"{value:.{digits}g}") if math.isfinite(value) else 0.0


def kept_curves(curves: Sequence[Curve], named: Collection[str]) -> tuple[Curve, ...]:
    """Return at most `MOST_CURVES` curves: those first of bands that a number came from (`named`)."""
    first = [curve for curve in curves if curve.band.split(": ")[-1] in named or curve.band in named]
    rest = [curve for curve in curves if curve not in first]
    return (*first, *rest)[:MOST_CURVES]


def curves_of(listening: Listening) -> list[Curve]:
    """Return every curve of a recording: responses, resonances, and speed where a number came from it."""
    curves = [_response_curve(one) for one in listening.responses.values()]
    curves += [_resonance_curve(name, one) for name, one in listening.resonances.items()]
    for name in _speed_bands(listening):
        if name in listening.turnings:
            percent = over_the_turn(listening.deviations[name], listening.turnings[name], MOST_POINTS)
            degrees = np.arange(MOST_POINTS) * 360.0 / MOST_POINTS
            curves.append(_curve("turn", name, "", {"turn_deg": degrees, "percent": percent}))
        if name in listening.flutters:
            curves.append(_flutter_curve(name, listening.flutters[name]))
    return curves


def _speed_bands(listening: Listening) -> tuple[str, ...]:
    """Return the bands that the numbers about speed came from: only their curves are kept."""
    keys = ("flutter_weighted_two_sigma_percent", "eccentricity_mm", "speed_error_percent")
    named = [listening.measures[key].bands for key in keys if key in listening.measures]
    return tuple(dict.fromkeys(name for bands in named for name in bands if name in listening.deviations))


def _curve(kind: str, band: str, channel: str, series: dict[str, FloatArray]) -> Curve:
    return Curve(
        kind,
        band[:LONGEST_TEXT],
        channel,
        tuple((name, tuple(rounded(float(value), 4) for value in values)) for name, values in series.items()),
    )


def _response_curve(one: Response) -> Curve:
    series = {
        "frequency_hz": one.frequency_hz,
        "left_db": one.left_db,
        "right_db": one.right_db,
        "left_sd_db": one.left_sd_db,
        "right_sd_db": one.right_sd_db,
        "crosstalk_db": one.crosstalk_db,
        "crosstalk_deg": one.crosstalk_deg,
    }
    # neighbours are averaged where there are more points than are kept; a phase is taken from the middle
    size = one.frequency_hz.size
    groups = np.array_split(np.arange(size), min(size, MOST_POINTS))
    thinned = {
        name: np.array(
            [
                values[group[len(group) // 2]] if name.endswith("_deg") else values[group].mean()
                for group in groups
            ]
        )
        for name, values in series.items()
        if values is not None
    }
    return _curve("response", one.band.name, one.band.channel.value, thinned)


def _resonance_curve(name: str, one: Resonance) -> Curve:
    order = np.argsort(one.curve_hz)
    hz, level = one.curve_hz[order], one.curve_db[order] - one.curve_db.max()
    low, high = max(float(hz[0]), 2.0), min(float(hz[-1]), 50.0)
    points = np.geomspace(low, max(high, 1.01 * low), MOST_POINTS)
    return _curve("resonance", name, "", {"frequency_hz": points, "level_db": np.interp(points, hz, level)})


def _flutter_curve(name: str, one: Flutter) -> Curve:
    """Return the spectrum of speed, the largest line of each step: a line keeps its height."""
    inside = (one.spectrum_hz >= 0.2) & (one.spectrum_hz <= 200.0)
    hz, percent = one.spectrum_hz[inside], one.spectrum_percent[inside]
    step = np.floor(np.log(hz / 0.2) / np.log(1001.0) * MOST_POINTS).astype(int)
    highest = [
        group[np.argmax(percent[group])]
        for number in range(MOST_POINTS)
        if (group := np.flatnonzero(step == number)).size
    ]
    return _curve("flutter", name, "", {"frequency_hz": hz[highest], "percent": percent[highest]})


def over_the_turn(deviation: Deviation, turning: Turning, points: int) -> FloatArray:
    """Return speed against its mean over the platter's turn, the mean of all turns, %. [shape=(points,)]"""
    times = deviation.first_s + np.arange(deviation.percent.size) / deviation.rate_hz
    place = np.floor(times * turning.turns_per_s % 1.0 * points).astype(int) % points
    counts = np.maximum(np.bincount(place, minlength=points), 1)
    return np.asarray(np.bincount(place, weights=deviation.percent, minlength=points) / counts)
