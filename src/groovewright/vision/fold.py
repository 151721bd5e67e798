"""How a flag is folded, from the band round its fold as a whole, where its panel is seen nearly from its edge.

A panel that is a few pixels high has no pieces that could be measured one by one. But flange and panel meet in the
fold, and beside the flange, which is well known, even a few rows of pixels say how the fold runs. So the band is drawn
as the flag's values have it (both parts' print, cut off at the fold and at the panel's upper edge, blurred as the
picture is) and compared with the picture, each part with a white and a black level of its own that change slowly along
the fold; Gauss and Newton's steps mend the values within what the rest of the picture and what is usual leave open.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray
from groovewright.sheets.markers import PANEL_HEIGHT_MM
from groovewright.vision.fold_band import (
    ACROSS_PX,
    LEAST_DEG,
    PICTURES,
    SKEW,
    STEP_PX,
    Band,
    band_round,
    before_deg,
    blurred,
    inside,
    pictures,
)
from groovewright.vision.load import Pixels

LEAST_LIKENESS = 0.98
"""Correlation of panel, tab and what lies beyond with their drawing; less means that something else is there (set on 89
rendered photographs: of four below one was half a degree off with 0.13 stated, one 1.5 with 0.1)."""
FEWEST_SAMPLES = 400
SCALE = np.array([1.0, 1.0, 1.0, 0.01, 0.01, 0.01, 0.01, 0.01, 1.0, 0.1, 0.1])
YAW, PITCH = 3, 4
"""Places among the flag's values, beside SKEW."""
LIKELY_SKEW = 3.5
"""A fold that runs off its line by more of a hand's standard deviations is something else that looks like one (of 88
rendered photographs one was read 1.5 degrees off so)."""
PITCHES, MOST_SKEW, STARTS = np.linspace(-0.9, 0.9, 10).tolist(), 1.5, 3
"""Where pitch and skew are looked for, in standard deviations, and from how many of these places the band is fitted."""
LEAST_HIGH_PX = 3.0
FLOOR_DEG, FLAT_DEG = 0.018, 0.28
"""A panel is so many pixels high in the picture, or more; of its yaw the drawing doesn't tell FLOOR_DEG, and where it
is h pixels high FLAT_DEG / h beside it (measured on 76 photographs that look from 2 to 14 degrees to the front)."""
_RIDGE, _STEPS, _MOST_SD, _FINE = 1e-4, 15, 5.0, 0.03
SETTLED, ROUGHLY = 0.05, 3.0
"""A fit ends when another step gains less, of chi-square; one that only looks for a start ends sooner."""
MISFIT = 2.0
"""By how much more the drawing errs than its noise scatters: its blur and light are not quite the picture's."""
SHARE = STEP_PX * ACROSS_PX / MISFIT**2
"""Neighbouring samples share pixels: one of them counts as so many."""


def mended_by_fold(
    gray: Pixels,
    values: FloatArray,
    flag: FloatArray,
    covariance: FloatArray,
    blur_px: float,
    gain_mm: float,
) -> tuple[FloatArray, FloatArray] | None:
    """Return the flag's values and covariance, mended by the band round its fold; None where that can't be seen.

    `covariance` [shape=(11, 11)] is what the rest of the picture and what is usual say of the flag; `gain_mm`
    is how far the print's ink has spread.
    """
    band = band_round(gray, values, flag, blur_px, gain_mm)
    if band is None:
        return None
    # in steps that are as likely one as the other, and independent, so that flange and panel move as one piece
    size, ways = np.linalg.eigh(covariance / np.outer(SCALE, SCALE))
    root = SCALE[:, None] * ways * np.sqrt(np.maximum(size, 0.0))

    def flag_at(steps: FloatArray) -> FloatArray:
        return np.asarray(flag + root @ steps)

    start = _start(band, flag_at, root, covariance)
    if start is None or not math.isfinite(_mean_left(band, flag_at(start))):
        return None
    steps, information, like = _fitted(band, flag_at, start, inside(band, flag_at(start)))
    if like < LEAST_LIKENESS or np.abs(steps).max() > _MOST_SD:
        return None
    mended = flag_at(steps)
    if abs(mended[SKEW]) > LIKELY_SKEW * math.sqrt(covariance[SKEW, SKEW]):
        return None
    high_px = PANEL_HEIGHT_MM * math.sin(math.radians(before_deg(band.centre, mended))) * band.px_per_mm
    if high_px < LEAST_HIGH_PX:
        return None
    # an error of the drawing turns the fold, and the yaw with it
    turned = np.zeros(len(flag))
    turned[[YAW, SKEW]] = math.radians(math.hypot(FLOOR_DEG, FLAT_DEG / high_px))
    return mended, root @ np.linalg.inv(information) @ root.T + np.outer(turned, turned)


def _start(
    band: Band, flag_at: Callable[[FloatArray], FloatArray], root: FloatArray, covariance: FloatArray
) -> FloatArray | None:
    """Return the steps from which to fit the band: the best of several fits; None where the fold can't be seen.

    The panel's height in the picture goes with the pitch, the fold's way with its skew. They have to be near, so that
    the print falls on itself.
    """
    both, sd = root[[PITCH, SKEW]], np.sqrt(np.diag(covariance)[[PITCH, SKEW]])

    def tried(pitch: float, skew: float) -> tuple[float, FloatArray]:
        steps = np.asarray(both.T @ np.linalg.solve(both @ both.T, sd * (pitch, skew)))
        return _mean_left(band, flag_at(steps)), steps

    first = sorted((tried(pitch, 0.0)[0], pitch) for pitch in PITCHES)
    starts = [tried(pitch, skew) for _, pitch in first[:STARTS] for skew in (-MOST_SKEW, 0.0, MOST_SKEW)]
    fits = []
    for left, start in sorted(starts, key=lambda one: one[0])[:STARTS]:
        if math.isfinite(left):
            steps = _fitted(band, flag_at, start, inside(band, flag_at(start)), ROUGHLY)[0]
            if math.isfinite(_mean_left(band, flag_at(steps))):
                fits.append(steps)
    if not fits:
        return None
    # the one that leaves least of all that any of them draws
    every = np.logical_or.reduce([inside(band, flag_at(steps)) for steps in fits])
    count = SHARE * float(every.sum())
    costs = [count * math.log(_left(band, flag_at(steps), every)[0]) + float(steps @ steps) for steps in fits]
    return fits[int(np.argmin(costs))]


def _mean_left(band: Band, flag: FloatArray) -> float:
    """Return the mean square of what the drawing leaves of the band; infinite where the fold can't be seen."""
    if before_deg(band.centre, flag) < LEAST_DEG:
        return math.inf
    chosen = inside(band, flag)
    if chosen.sum() < FEWEST_SAMPLES:
        return math.inf
    return _left(band, flag, chosen)[0] / float(chosen.sum())


def _left(
    band: Band, flag: FloatArray, chosen: NDArray[np.bool_]
) -> tuple[float, FloatArray, FloatArray, FloatArray]:
    """Return what the drawing leaves of the band (sum of squares, and each sample), its parts, and their levels."""
    light = band.light[chosen]
    if before_deg(band.centre, flag) < LEAST_DEG:
        return math.inf, light, np.empty((0, 0)), np.empty(0)
    parts = blurred(band, pictures(band, flag))[:, chosen][band.of] * band.fields[:, chosen]
    both = parts @ parts.T + _RIDGE * light.size * np.eye(len(parts))
    levels = np.asarray(np.linalg.solve(both, parts @ light), dtype=float)
    left = light - levels @ parts
    return float(left @ left), left, parts, levels


def _slopes(
    band: Band,
    flag_at: Callable[[FloatArray], FloatArray],
    steps: FloatArray,
    chosen: NDArray[np.bool_],
    levels: FloatArray,
) -> FloatArray:
    """Return by how much the drawing changes with each step, its levels as they are. [shape=(11, samples)]"""
    lit = np.zeros((PICTURES, *band.light.shape))
    np.add.at(lit, band.of, levels[:, None, None] * band.fields)
    # light changes slowly: what is lit is drawn first and blurred once
    drawn = blurred(
        band,
        np.array(
            [
                np.einsum("kmn,kmn->mn", lit, pictures(band, flag_at(steps + step)))
                for step in (np.zeros(len(steps)), *(_FINE * np.eye(len(steps))))
            ]
        ),
    )[:, chosen]
    return np.asarray((drawn[1:] - drawn[0]) / _FINE)


def _fitted(
    band: Band,
    flag_at: Callable[[FloatArray], FloatArray],
    steps: FloatArray,
    chosen: NDArray[np.bool_],
    settled: float = SETTLED,
) -> tuple[FloatArray, FloatArray, float]:
    """Return the steps from what is known that fit the band best, their information, and the panel's likeness.

    `settled` is a gain for which another step isn't worth its while.
    """
    damping = 1e-2
    size, left, parts, levels = _left(band, flag_at(steps), chosen)
    for _ in range(_STEPS):
        slopes = _slopes(band, flag_at, steps, chosen, levels)
        # what a level of a part would do as well says nothing of the flag
        both = parts @ parts.T + _RIDGE * left.size * np.eye(len(parts))
        slopes = slopes - (slopes @ parts.T) @ np.linalg.solve(both, parts)
        weight = SHARE / max(size / left.size, 1e-8)
        known = weight * slopes @ slopes.T
        information = known + np.eye(len(steps))
        for _ in range(5):
            move = np.linalg.solve(
                information + damping * np.diag(np.diag(known)), weight * slopes @ left - steps
            )
            there = steps + move
            after = _left(band, flag_at(there), chosen)
            gain = weight * (size - after[0]) + float(steps @ steps - there @ there)
            if gain > 0.0:
                break
            damping *= 8.0
        else:
            break
        steps, (size, left, parts, levels), damping = there, after, damping / 8.0
        if gain < settled:
            break
    flange = np.zeros(len(left))
    for k in (0, 1):
        # the first field of these pictures is the same everywhere
        flange += parts[int(np.argmax(band.of == k))]
    panel = flange < 0.7
    if not panel.any() or panel.all():
        return steps, information, 0.0
    light = band.light[chosen][panel]
    # the picture's noise, which the flange shows, is no unlikeness
    excess = float((left[panel] ** 2).mean() - (left[~panel] ** 2).mean()) / float(light.var() + 1e-12)
    return steps, information, math.sqrt(max(0.0, 1.0 - max(0.0, excess)))
