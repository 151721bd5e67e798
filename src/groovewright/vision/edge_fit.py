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

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

from groovewright.quantities import FloatArray
from groovewright.vision.camera import CameraPose, on_plane
from groovewright.vision.edge import Edge, checked_line
from groovewright.vision.grid_print import GridPrint, blur_on_sheet, expected_at, linear
from groovewright.vision.load import Photo
from groovewright.vision.marks import sample

STATION_PX, TICK_PX = 1.0, 0.5
MARGIN_PX = 3.0
"""The strip goes on so far beside the edge, and twice the blur more."""
SEARCH_PX = 0.5
COARSE_PX = 8.0
KNOT_PX, MOST_STATIONS = 12.0, 110
STEPS = 5
FEWEST_STATIONS = 7
LEAST_CONTRAST = 1.5
"""Of 255 in linear light: less of a step is no edge."""
OWN_BLUR_PX = 0.45
"""What sampling between pixels adds to the blur."""
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
"""What lies to the left and to the right of an edge, seen along it with the picture's y down: the normal is its right."""


@dataclass(frozen=True)
class FittedEdge:
    """An edge with what lies on its two sides.

    `sides` say 'sheet' or 'plain' for the negative and the positive side of the normal (-dy, dx); `contrast` is the step in
    linear light of 255, the positive side less the negative; `misfit` the scatter about the step as a share of it;
    `shadow` how much likelier, as a logarithm, it is that both sides are the sheet than anything else.
    """

    edge: Edge
    sides: tuple[str, str]
    contrast: float
    misfit: float
    shadow: float


@dataclass(frozen=True)
class Strip:
    """A strip of the picture along a line: light and foretold light at stations along and places across it.

    [shapes (n,), (m,), (n, m), (n, m)]
    """

    start: FloatArray
    way: FloatArray
    stations: FloatArray
    across: FloatArray
    light: FloatArray
    sheet: FloatArray
    blur_px: float

    @property
    def normal(self) -> FloatArray:
        """The direction in which `across` counts."""
        return np.array([-self.way[1], self.way[0]])


def strip_along(
    photo: Photo, pose: CameraPose, shown: GridPrint, ends: FloatArray, reach_px: float
) -> Strip | None:
    """Return the strip about a line within a reach; None where it leaves the picture or is too short."""
    length = float(np.hypot(*(ends[1] - ends[0])))
    if length < FEWEST_STATIONS * STATION_PX:
        return None
    way = (ends[1] - ends[0]) / length
    stations = np.linspace(0.5, length - 0.5, int(np.clip(round(length / STATION_PX), FEWEST_STATIONS, MOST_STATIONS)))
    blur = math.hypot(shown.blur_px, OWN_BLUR_PX)
    half = reach_px + MARGIN_PX + 2.0 * blur
    across = np.arange(-math.ceil(half / TICK_PX), math.ceil(half / TICK_PX) + 1) * TICK_PX
    places = (
        ends[0] + stations[:, None, None] * way + across[None, :, None] * np.array([-way[1], way[0]])
    )
    width, height = photo.size
    if (places < 1.0).any() or (places > [width - 2.0, height - 2.0]).any():
        return None
    light = linear(sample(photo.gray, places))
    sheet = _sheet_along(pose, shown, ends[0], way, stations, across)
    return Strip(ends[0], way, stations, across, light, sheet, blur)


def _sheet_along(
    pose: CameraPose, shown: GridPrint, start: FloatArray, way: FloatArray, stations: FloatArray, across: FloatArray
) -> FloatArray:
    """Return the foretold light of a strip; where it lies on the sheet is worked out at a few places and filled in."""
    s, c = (np.linspace(at[0], at[-1], max(3, round((at[-1] - at[0]) / COARSE_PX) + 1)) for at in (stations, across))
    pixels = start + s[:, None, None] * way + c[None, :, None] * np.array([-way[1], way[0]])
    flat = pixels.reshape(-1, 2)
    places = on_plane(pose.values, flat, 0.0)
    known = np.column_stack([places, blur_on_sheet(pose, flat, places)]).astype(np.float32)
    u, v = np.meshgrid(
        (across - across[0]) / (c[1] - c[0]), (stations - stations[0]) / (s[1] - s[0])
    )
    fine = [
        cv2.remap(
            np.ascontiguousarray(known[:, k].reshape(len(s), len(c))), u.astype(np.float32), v.astype(np.float32),
            cv2.INTER_LINEAR,
        ).astype(float).ravel()
        for k in range(4)
    ]  # fmt: skip
    return expected_at(
        shown, np.column_stack(fine[:2]), shown.blur_px * np.column_stack(fine[2:])
    ).reshape(u.shape)


def search(strip: Strip, reach_px: float, likely_px: float) -> FloatArray | None:
    """Return the offsets at both ends of the line along which the light changes most; None where it doesn't.

    Lines of the sheet are divided out where they show.
    """
    fields = [_changes(strip, strip.light / strip.sheet), _changes(strip, strip.light)]
    ticks = np.arange(-reach_px, reach_px + 1e-6, SEARCH_PX)
    lines = np.array([(p, q) for p in ticks for q in ticks])
    share = (strip.stations / (strip.stations[-1] + 0.5))[None, :]
    drawn = lines[:, :1] * (1.0 - share) + lines[:, 1:] * share
    columns = np.clip(np.rint((drawn - strip.across[0]) / TICK_PX).astype(int), 0, len(strip.across) - 1)
    rows = np.arange(len(strip.stations))[None, :]
    liked = np.exp(-0.5 * ((lines / likely_px) ** 2).mean(axis=1))
    scores = []
    for field in fields:
        strong = np.quantile(np.abs(field), 0.9)
        values = np.clip(field, -strong, strong)[rows, columns]
        scores.append(np.abs(values.mean(axis=1)) * liked)
    # an edge shows whether or not lines are divided out
    both = np.sqrt(scores[0] * scores[1])
    best = int(np.argmax(both))
    return lines[best] if both[best] > 0.0 else None


def _changes(strip: Strip, light: FloatArray) -> FloatArray:
    """Return the change of light across the line at every place, smoothed. [shape=(n, m)]"""
    width = max(1.0, strip.blur_px)
    ticks = np.arange(-math.ceil(3.0 * width / TICK_PX), math.ceil(3.0 * width / TICK_PX) + 1) * TICK_PX
    kernel = -ticks * np.exp(-0.5 * (ticks / width) ** 2)
    kernel /= np.abs(kernel).sum() / 2.0
    return np.asarray(
        cv2.filter2D(light, cv2.CV_64F, kernel[None], borderType=cv2.BORDER_REPLICATE), dtype=float
    )


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
    total = {pair: float((weight * _explained(strip, line, weight, pair).squares).sum()) for pair in SIDES}
    other = min(value for pair, value in total.items() if pair != SIDES[-1])
    if min(other, total[SIDES[-1]]) > 0.0:
        shadow = 0.5 * float(weight.sum()) * 2.0 * half * STATION_PX * math.log(other / total[SIDES[-1]])
    return _edge_of(strip, line, step, seen.squares, weight, sides, shadow)


def raw_edge(ends: FloatArray) -> Edge:
    """Return a line as a person marked it, as exactly as a hand can. [shape=(2, 2)]"""
    return Edge(np.linspace(ends[0], ends[1], RAW_POINTS), RAW_NOISE_PX, float(RAW_POINTS), 1.0, None, HAND_PX)


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
    if fitted is None or fitted.edge.share < MARKED_SHARE or fitted.shadow > 0.0 or fitted.misfit > MARKED_MISFIT:
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
    ends = np.stack([seen.slope * (1.0 - seen.share)[:, None], seen.slope * seen.share[:, None], seen.left], axis=-1)
    whole = np.concatenate([seen.fields, ends], axis=-1)
    moved, rest = _solved(whole, seen.trust * weight[:, None], _blocks(strip))
    changed = (seen.fields[..., :2] * moved[:, None, :]).sum(axis=-1) + seen.fields[..., 2:] @ rest[:2]
    shifts = (seen.trust * seen.slope * (seen.left - changed)).sum(axis=1) / np.maximum(power, 1e-9)
    return _Step(rest[-2:], shifts, power, seen.contrast)


def _blocks(strip: Strip) -> NDArray[np.intp]:
    """Return the block that each station belongs to."""
    length = float(strip.stations[-1])
    count = max(1, round(length / KNOT_PX))
    return np.minimum((strip.stations / length * count).astype(int), count - 1)


def _solved(fields: FloatArray, trust: FloatArray, blocks: NDArray[np.intp]) -> tuple[FloatArray, FloatArray]:
    """Return the two levels of every station's block and the factors of the other fields, by least squares.

    The last field is what is to be made up. The blocks' levels are eliminated (I. Schur). [shape=(n, m, k) to (n, 2), (k - 3,)]
    """
    weighted = fields * trust[..., None]
    gram = weighted.transpose(0, 2, 1) @ fields
    starts = np.flatnonzero(np.diff(blocks, prepend=-1))
    per_block = np.add.reduceat(gram, starts, axis=0)
    own = per_block[:, :2, :2] + 1e-6 * np.eye(2) * (1.0 + np.trace(per_block[:, :2, :2], axis1=1, axis2=2))[:, None, None]
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
    return FittedEdge(edge, sides, fit.contrast, misfit, shadow)


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
