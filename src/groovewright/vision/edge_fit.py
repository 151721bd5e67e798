"""One straight edge in the picture, measured by what lies on both sides of it.

A strip along the edge is compared with a step, blurred as the picture is, between two sides. Each side is smooth,
or it is the sheet: what the print foretells, times a smooth light. Which of the two it is comes out of the
comparison, and tells a body's silhouette (one side is the sheet) from a shadow (both are) and from an edge on
the body (neither is). Least squares over all pixels of the strip (linear light); stations along the edge
that don't agree are left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

from groovewright.quantities import FloatArray
from groovewright.vision.camera import CameraPose
from groovewright.vision.edge import Edge, checked_line
from groovewright.vision.grid_print import GridPrint
from groovewright.vision.load import Photo
from groovewright.vision.strip import (
    FEWEST_STATIONS,
    MARGIN_PX,
    STATION_PX,
    Strip,
    search,
    strip_along,
)

BLOCK_PX = 5.0
"""The light on each side may change from block to block of this length."""
STEPS = 5
LEAST_CONTRAST = 1.5
"""Of 255 in linear light: less of a step is no edge."""
FLOOR_PX = 0.06
"""What lies beside an edge and isn't foretold shifts its ends by about this much."""
OUTLIER = 3.0
PRINT_DOUBT = 5.0
"""Dark print is foretold worse than blank paper by this factor, as standard deviations."""
RAW_POINTS, RAW_NOISE_PX, HAND_PX = 25, 0.05, 1.7
"""A hand marks each end to 1.5 to 2 pixels (standard deviation)."""
MARKED_REACH_PX, MARKED_LIKELY_PX, MARKED_SHARE, MARKED_MISFIT = 5.0, 2.5, 0.6, 0.25
MOST_LAG = 10
SIDES = (("sheet", "plain"), ("plain", "sheet"), ("plain", "plain"), ("sheet", "sheet"))
"""What lies on the negative and on the positive side of an edge's normal (-dy, dx)."""


@dataclass(frozen=True)
class FittedEdge:
    """An edge with what lies on its two sides.

    `sides` say 'sheet' or 'plain' for the negative and the positive side of the normal (-dy, dx); `misfit` is the
    scatter about the step as a share of it;
    `shadow` how much likelier, as a logarithm, it is that both sides are the sheet than anything else.
    """

    edge: Edge
    sides: tuple[str, str]
    misfit: float
    shadow: float


def fit_edge(strip: Strip, start: FloatArray) -> FittedEdge | None:
    """Return the edge near a line, given by its offsets at both ends; None where there is no step."""
    line, weight = np.array(start, dtype=float), np.ones(len(strip.stations))
    sides = min(SIDES, key=lambda pair: _explained(strip, line, weight, pair).squares.sum())
    half = MARGIN_PX + 2.0 * strip.blur_px
    for _ in range(STEPS):
        seen = _explained(strip, line, weight, sides)
        step = _step(strip, seen, weight)
        if step is None:
            return None
        line = line + np.clip(step.move, -1.0, 1.0)
        typical = float(np.median(seen.squares)) + 1e-9
        weight = np.clip(1.0 - seen.squares / (OUTLIER**2 * typical), 0.02, 1.0)
        if np.abs(line - start).max() > half:
            return None
        if np.abs(step.move).max() < 0.015:
            break
    seen = _explained(strip, line, weight, sides)
    step = _step(strip, seen, weight)
    if step is None or abs(step.contrast) < LEAST_CONTRAST:
        return None
    shadow = 0.0
    others = {pair: _explained(strip, line, weight, pair) for pair in SIDES if pair != sides}
    total = {pair: float((weight * one.squares).sum()) for pair, one in {**others, sides: seen}.items()}
    other = min(value for pair, value in total.items() if pair != SIDES[-1])
    if min(other, total[SIDES[-1]]) > 0.0:
        shadow = 0.5 * float(weight.sum()) * 2.0 * half * STATION_PX * math.log(other / total[SIDES[-1]])
    return _edge_of(strip, line, step, seen.squares, weight, sides, shadow)


def raw_edge(ends: FloatArray) -> Edge:
    """Return a line as a person marked it, as exactly as a hand can. [shape=(2, 2)]"""
    return Edge(
        np.linspace(ends[0], ends[1], RAW_POINTS), RAW_NOISE_PX, float(RAW_POINTS), 1.0, None, HAND_PX
    )


def marked_edge(
    photo: Photo, pose: CameraPose, shown: GridPrint, start: tuple[float, float], end: tuple[float, float]
) -> Edge:
    """Return the edge that a marked line lies on; where none can be told for certain, the line as it was marked.

    Raises
    ------
    InputError
        The line is outside the picture or too short.
    """
    ends = checked_line(photo, start, end)
    strip = strip_along(photo, pose, shown, ends, MARKED_REACH_PX)
    line = None if strip is None else search(strip, MARKED_REACH_PX, MARKED_LIKELY_PX)
    fitted = None if strip is None or line is None else fit_edge(strip, line)
    raw = raw_edge(ends)
    if (
        fitted is None
        or fitted.edge.share < MARKED_SHARE
        or fitted.shadow > 0.0
        or fitted.misfit > MARKED_MISFIT
    ):
        return raw
    return fitted.edge if fitted.edge.turn_sd < raw.turn_sd else raw


@dataclass(frozen=True)
class _Sides:
    """A strip explained by two sides that meet at a line: what is left of the light, and what a move would change."""

    share: FloatArray
    trust: FloatArray
    fields: FloatArray
    left: FloatArray
    slope: FloatArray
    squares: FloatArray
    contrast: float


@dataclass(frozen=True)
class _Step:
    """How a line is to be moved at both ends, and what each station says: shift and power. [shapes (2,), (n,)]"""

    move: FloatArray
    shifts: FloatArray
    power: FloatArray
    contrast: float


def _explained(strip: Strip, line: FloatArray, weight: FloatArray, sides: tuple[str, str]) -> _Sides:
    """Return the strip explained by one choice of sides.

    The light on each side is constant in blocks along the edge, and may change evenly away from the edge.
    """
    share = strip.stations / (strip.stations[-1] + 0.5)
    half = MARGIN_PX + 2.0 * strip.blur_px
    d = strip.across[None, :] - (line[0] * (1.0 - share) + line[1] * share)[:, None]
    beyond = 0.5 * (1.0 + erf(d / (math.sqrt(2.0) * strip.blur_px)))
    shares = [1.0 - beyond, beyond]
    shown = [strip.sheet if side == "sheet" else np.ones_like(strip.sheet) for side in sides]
    # where the print is dark it is foretold less well
    dark = (1.0 - strip.sheet) * sum(
        (part for side, part in zip(sides, shares, strict=True) if side == "sheet"), np.zeros_like(d)
    )
    trust = (np.abs(d) <= half) / (1.0 + (PRINT_DOUBT * dark) ** 2)
    carried = [part * sheet for part, sheet in zip(shares, shown, strict=True)]
    away = d / half
    fields = np.stack([*carried, carried[0] * away, carried[1] * away], axis=-1)
    levels, slopes = _solved(
        np.concatenate([fields, strip.light[..., None]], axis=-1), trust * weight[:, None], _blocks(strip)
    )
    model = [(levels[:, k, None] + slopes[k] * away) * sheet for k, sheet in enumerate(shown)]
    left = strip.light - shares[0] * model[0] - shares[1] * model[1]
    bell = np.exp(-0.5 * (d / strip.blur_px) ** 2) / (math.sqrt(2.0 * math.pi) * strip.blur_px)
    squares = (trust * left**2).sum(axis=1) / np.maximum(trust.sum(axis=1), 1e-9)
    contrast = float(np.median(levels[:, 1] * shown[1].mean() - levels[:, 0] * shown[0].mean()))
    return _Sides(share, trust, fields, left, (model[0] - model[1]) * bell, squares, contrast)


def _step(strip: Strip, seen: _Sides, weight: FloatArray) -> _Step | None:
    """Return one step of Gauss and Newton; None where there is no change of light."""
    power = (seen.trust * seen.slope**2).sum(axis=1)
    if power.max() <= 1e-9:
        return None
    ends = np.stack(
        [seen.slope * (1.0 - seen.share)[:, None], seen.slope * seen.share[:, None], seen.left], axis=-1
    )
    whole = np.concatenate([seen.fields, ends], axis=-1)
    moved, rest = _solved(whole, seen.trust * weight[:, None], _blocks(strip))
    changed = (seen.fields[..., :2] * moved[:, None, :]).sum(axis=-1) + seen.fields[..., 2:] @ rest[:2]
    shifts = (seen.trust * seen.slope * (seen.left - changed)).sum(axis=1) / np.maximum(power, 1e-9)
    return _Step(rest[-2:], shifts, power, seen.contrast)


def _blocks(strip: Strip) -> NDArray[np.intp]:
    """Return the block that each station belongs to."""
    length = float(strip.stations[-1])
    count = max(1, round(length / BLOCK_PX))
    return np.asarray(np.minimum((strip.stations / length * count).astype(int), count - 1), dtype=np.intp)


def _solved(fields: FloatArray, trust: FloatArray, blocks: NDArray[np.intp]) -> tuple[FloatArray, FloatArray]:
    """Return the two levels of every station's block and the factors of the other fields, by least squares.

    The last field is what is to be made up. The blocks' levels are eliminated (I. Schur).
    [shape=(n, m, k) to (n, 2), (k - 3,)]
    """
    weighted = fields * trust[..., None]
    gram = weighted.transpose(0, 2, 1) @ fields
    starts = np.flatnonzero(np.diff(blocks, prepend=-1))
    per_block = np.add.reduceat(gram, starts, axis=0)
    own = (
        per_block[:, :2, :2]
        + 1e-6 * np.eye(2) * (1.0 + np.trace(per_block[:, :2, :2], axis1=1, axis2=2))[:, None, None]
    )
    cross, right = per_block[:, :2, 2:-1], per_block[:, :2, -1:]
    solved = np.linalg.solve(own, np.concatenate([cross, right], axis=2))
    reduced = (per_block[:, 2:-1, 2:-1] - cross.transpose(0, 2, 1) @ solved[:, :, :-1]).sum(axis=0)
    wanted = (per_block[:, 2:-1, -1:] - cross.transpose(0, 2, 1) @ solved[:, :, -1:]).sum(axis=0)[:, 0]
    reduced += 1e-6 * (1e-9 + np.trace(reduced)) * np.eye(len(reduced))
    others = np.linalg.solve(reduced, wanted)
    levels = solved[:, :, -1] - solved[:, :, :-1] @ others
    return levels[blocks - blocks[0]], others


def _edge_of(
    strip: Strip,
    line: FloatArray,
    fit: _Step,
    squares: FloatArray,
    weight: FloatArray,
    sides: tuple[str, str],
    shadow: float,
) -> FittedEdge | None:
    kept = (fit.power > 0.15 * np.median(fit.power)) & (weight > 0.1)
    if kept.sum() < FEWEST_STATIONS:
        return None
    scatter = 1.4826 * float(np.median(np.abs(fit.shifts[kept])))
    kept &= np.abs(fit.shifts) < max(0.25, OUTLIER * scatter)
    if kept.sum() < FEWEST_STATIONS:
        return None
    s, shifts = strip.stations[kept], fit.shifts[kept]
    design = np.column_stack([np.ones(len(s)), s])
    rest = shifts - design @ np.linalg.lstsq(design, shifts, rcond=None)[0]
    noise = max(0.02, float(np.sqrt((rest**2).mean())))
    at = line[0] + (line[1] - line[0]) * s / (strip.stations[-1] + 0.5) + shifts
    points = strip.start + s[:, None] * strip.way + at[:, None] * strip.normal
    independent = max(3.0, len(s) / _tied(rest))
    edge = Edge(points, noise, independent, float(kept.mean()), None, FLOOR_PX)
    misfit = math.sqrt(float((weight * squares).sum() / weight.sum())) / abs(fit.contrast)
    return FittedEdge(edge, sides, misfit, shadow)


def _tied(rest: FloatArray) -> float:
    """Return how many neighbours say the same: the sum of the autocorrelation, as long as it is positive."""
    power = float((rest**2).mean())
    if power <= 0.0:
        return 1.0
    total = 1.0
    for lag in range(1, min(MOST_LAG, len(rest) // 3)):
        tie = float((rest[lag:] * rest[:-lag]).mean()) / power
        if tie <= 0.0:
            break
        total += 2.0 * tie
    return total
