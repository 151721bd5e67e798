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
from scipy.special import ndtr

from groovewright.quantities import FloatArray
from groovewright.vision.camera import CameraPose
from groovewright.vision.edge import Edge, checked_line
from groovewright.vision.grid_print import GridPrint
from groovewright.vision.load import Photo
from groovewright.vision.strip import (
    FEWEST_STATIONS,
    MARGIN_PX,
    SHARP_PX,
    STATION_PX,
    Strip,
    blurred,
    search,
    strip_along,
)

BLOCK_PX = 5.0
"""The light on each side may change from block to block of this length."""
STEPS = 5
LEAST_CONTRAST = 1.5
"""Of 255 in linear light: less of a step is no edge."""
FLOOR_PX, CLEAN_MISFIT, MISFIT_PX = 0.045, 0.04, 2.0
"""What lies beside an edge and isn't foretold shifts its ends by about this much, and by more where more of the light
is left over: measured on 146 rendered front edges."""
QUIET_MISFIT, CLEAN_STRAY_PX, STRAYED = 0.015, 0.028, 3.0
"""The same of what is left over along the edge, without noise: from which share on it shifts the ends, how far means
of some neighbours scatter on a clean edge, and by how many times what is more shifts them (measured on 280 fits to 100
rendered front edges)."""
OUTLIER = 3.0
PRINT_DOUBT = 5.0
"""Dark print is foretold worse than blank paper by this factor, as standard deviations."""
RAW_POINTS, RAW_NOISE_PX, HAND_PX = 25, 0.05, 1.7
"""A hand marks each end to 1.5 to 2 pixels (standard deviation)."""
MARKED_REACH_PX, MARKED_LIKELY_PX, MARKED_SHARE, MARKED_MISFIT, MARKED_SHADOW = 5.0, 2.5, 0.6, 0.25, 12.0
MARKED_TRIMS = (0.0, 0.06, 0.15)
"""A line marked from corner to corner may run on over cut corners: so much of it is left out at each end."""
MOST_LAG = 10
APART = (4, 8)
"""So many stations apart, and up to, what is left of the light is compared: blur ties nearer ones together."""
SILHOUETTES = (("sheet", "plain"), ("plain", "sheet"))
BOTH_SHEET = ("sheet", "sheet")
SIDES = (*SILHOUETTES, ("plain", "plain"), BOTH_SHEET)
"""What lies on the negative and on the positive side of an edge's normal (-dy, dx)."""
FACES_PX, FACE_GAIN = (1.5, 2.5, 4.0), 0.8
"""How wide a face may show between a silhouette and what lies behind it, and what is left once it is told apart."""


@dataclass(frozen=True)
class FittedEdge:
    """An edge with what lies on its two sides.

    `sides` say 'sheet' or 'plain' for the negative and the positive side of the normal (-dy, dx); `misfit` is the
    scatter about the step as a share of it, `along` what of that goes on along the edge, as noise doesn't;
    `shadow` how much likelier, as a logarithm, it is that both sides are the sheet than anything else.
    """

    edge: Edge
    sides: tuple[str, str]
    misfit: float
    along: float
    shadow: float


def fit_edge(strip: Strip, start: FloatArray) -> FittedEdge | None:
    """Return the edge near a line, given by its offsets at both ends; None where there is no step."""
    line, one = np.array(start, dtype=float), np.ones(len(strip.stations))
    sides = min(SIDES, key=lambda pair: _explained(strip, line, one, pair).even.sum())
    fit = _settled(strip, line, sides)
    if fit is None:
        return None
    shadow = _shadow(strip, fit, sides)
    if sides in SILHOUETTES:
        # the body's face and its top may be lit differently, and both lie in the strip
        limit = OUTLIER**2 * (float(np.median(fit.seen.squares)) + 1e-9)
        faces = [_settled(strip, fit.line, sides, width) for width in FACES_PX]
        best = min(
            (face for face in faces if face is not None), key=lambda face: face.left(limit), default=fit
        )
        if best.left(limit) < FACE_GAIN * fit.left(limit):
            fit = best
    step = _step(strip, fit.seen, fit.weight)
    if step is None or abs(step.contrast) < LEAST_CONTRAST:
        return None
    return _edge_of(strip, fit, step, sides, shadow)


@dataclass(frozen=True)
class _Settled:
    """Where a line came to rest, given by its offsets at both ends, with each station's weight and what is left."""

    line: FloatArray
    weight: FloatArray
    seen: _Sides

    def left(self, limit: float) -> float:
        """Return what isn't explained, every station's share of it within a limit."""
        return float(np.minimum(self.seen.squares, limit).sum())


def _settled(
    strip: Strip, start: FloatArray, sides: tuple[str, str], face_px: float | None = None
) -> _Settled | None:
    """Return the line moved until it explains the strip best; None where there is no step within reach."""
    line, weight = start, np.ones(len(strip.stations))
    for _ in range(STEPS):
        seen = _explained(strip, line, weight, sides, face_px)
        step = _step(strip, seen, weight)
        if step is None:
            return None
        line = line + np.clip(step.move, -1.0, 1.0)
        typical = float(np.median(seen.squares)) + 1e-9
        weight = np.clip(1.0 - seen.squares / (OUTLIER**2 * typical), 0.02, 1.0)
        if np.abs(line - start).max() > MARGIN_PX + 2.0 * strip.blur_px:
            return None
        if np.abs(step.move).max() < 0.015:
            break
    return _Settled(line, weight, _explained(strip, line, weight, sides, face_px))


def _shadow(strip: Strip, fit: _Settled, sides: tuple[str, str]) -> float:
    """Return how much likelier, as a logarithm, it is that both sides are the sheet than anything else."""
    total = {
        pair: float((fit.weight * seen.even).sum())
        for pair in SIDES
        for seen in [fit.seen if pair == sides else _explained(strip, fit.line, fit.weight, pair)]
    }
    sheet = total.pop(BOTH_SHEET)
    other = min(total.values())
    if min(other, sheet) <= 0.0:
        return 0.0
    pixels = 2.0 * (MARGIN_PX + 2.0 * strip.blur_px) * STATION_PX
    return 0.5 * float(fit.weight.sum()) * pixels * math.log(other / sheet)


def fit_along(
    photo: Photo, pose: CameraPose, shown: GridPrint, ends: FloatArray, reach_px: float, likely_px: float
) -> FittedEdge | None:
    """Return the edge near a line in the picture; None where there is none within reach. [shape=(2, 2)]"""
    strip = strip_along(photo, pose, shown, ends, reach_px)
    line = None if strip is None else search(strip, reach_px, likely_px)
    return None if strip is None or line is None else fit_edge(strip, line)


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
    raw = raw_edge(ends)
    found = [raw]
    for share in MARKED_TRIMS:
        trimmed = ends + np.array([[share], [-share]]) * (ends[1] - ends[0])
        fitted = fit_along(photo, pose, shown, trimmed, MARKED_REACH_PX, MARKED_LIKELY_PX)
        if (
            fitted is not None
            and fitted.edge.share > MARKED_SHARE
            and fitted.shadow < MARKED_SHADOW
            and fitted.along < MARKED_MISFIT
        ):
            found.append(fitted.edge.as_pointed_at())
    return min(found, key=lambda edge: edge.turn_sd)


@dataclass(frozen=True)
class _Sides:
    """A strip explained by two sides that meet at a line: what is left of the light, and what a move would change.

    `squares` are the mean squares of what is left at each station, weighed as these sides are trusted; `even` are the
    same weighed alike for all choices of sides.
    """

    share: FloatArray
    trust: FloatArray
    fields: FloatArray
    left: FloatArray
    slope: FloatArray
    squares: FloatArray
    even: FloatArray
    contrast: float


@dataclass(frozen=True)
class _Step:
    """How a line is to be moved at both ends, and what each station says: shift and power. [shapes (2,), (n,)]"""

    move: FloatArray
    shifts: FloatArray
    power: FloatArray
    contrast: float


def _explained(
    strip: Strip, line: FloatArray, weight: FloatArray, sides: tuple[str, str], face_px: float | None = None
) -> _Sides:
    """Return the strip explained by one choice of sides.

    The light on each side is constant in blocks along the edge, and may change evenly away from the edge. What is
    covered of the sheet is cut out of its sharp print, and the whole is blurred then, as a camera does it. With
    `face_px` the side that isn't the sheet is two: a face so wide, next to the edge, of one light that may change
    evenly along it, and what lies behind it.
    """
    share = strip.stations / (strip.stations[-1] + 0.5)
    half = MARGIN_PX + 2.0 * strip.blur_px
    offsets = (line[0] * (1.0 - share) + line[1] * share)[:, None]
    d, fine = strip.across[None, :] - offsets, strip.fine[None, :] - offsets
    low, high = (
        _blurred(strip, _side(strip, fine, side, toward, face_px))
        for side, toward in zip(sides, (-1.0, 1.0), strict=True)
    )
    # where the print is dark it is foretold less well
    dark = sum(
        (part[2] for side, part in zip(sides, (low, high), strict=True) if side == "sheet"), np.zeros_like(d)
    )
    trust = (np.abs(d) <= half) / (1.0 + (PRINT_DOUBT * dark) ** 2)
    faces = [
        part[2:] for side, part in zip(sides, (low, high), strict=True) if side == "plain" and len(part) > 2
    ]
    face = [part for front, _ in faces for part in (front, front * (share[:, None] - 0.5))]
    tilted = [part * d / half for part in (low[0], high[0])]
    fields = np.stack([low[0], high[0], *tilted, *face], axis=-1)
    levels, others = _solved(
        np.concatenate([fields, strip.light[..., None]], axis=-1), trust * weight[:, None], _blocks(strip)
    )
    left = strip.light - (levels[:, None, :] * fields[..., :2]).sum(axis=-1) - fields[..., 2:] @ others
    slope = levels[:, :1] * low[1] + levels[:, 1:] * high[1]
    mean = [strip.sheet.mean() if side == "sheet" else 1.0 for side in sides]
    beside = [float(np.median(levels[:, k])) * mean[k] for k in (0, 1)]
    if faces:
        lit = others[-2] + others[-1] * (share - 0.5)
        slope += lit[:, None] * faces[0][1]
        beside[sides.index("plain")] = float(np.median(lit))
    alike = (np.abs(d) <= half) / (1.0 + (PRINT_DOUBT * (1.0 - strip.shown)) ** 2)
    squares, even = (
        (part * left**2).sum(axis=1) / np.maximum(part.sum(axis=1), 1e-9) for part in (trust, alike)
    )
    return _Sides(share, trust, fields, left, slope, squares, even, beside[1] - beside[0])


def _side(
    strip: Strip, fine: FloatArray, side: str, toward: float, face_px: float | None
) -> list[FloatArray]:
    """Return what lies on one side of an edge at zero, how it changes as the edge moves on, and what more it has.

    `toward` is -1 for the negative side, 1 for the positive one. More: the ink of the sheet; where a face is told from
    what is behind it, the face and how that changes. Nearly sharp. [shape=(n, f)]
    """
    part, rim = _edge_at(toward * fine)
    rim = -toward * rim
    if side == "sheet":
        return [part * strip.sheet, rim * strip.sheet, part * (1.0 - strip.sheet)]
    if face_px is None:
        return [part, rim]
    behind, rim_behind = _edge_at(toward * fine - face_px)
    rim_behind = -toward * rim_behind
    return [behind, rim_behind, part - behind, rim - rim_behind]


def _blurred(strip: Strip, parts: list[FloatArray]) -> list[FloatArray]:
    """Return parts of a strip blurred as the picture is. [shape=(n, f) to (n, m)]"""
    return np.split(blurred(np.concatenate(parts), strip.kernel, strip.places), len(parts))


def _edge_at(fine: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the share that lies beyond an edge at zero, nearly sharp, and how it changes with the place."""
    at = np.clip(fine / SHARP_PX, -8.0, 8.0)
    return ndtr(at), np.exp(-0.5 * at**2) / (math.sqrt(2.0 * math.pi) * SHARP_PX)


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
    changed = (seen.fields[..., :2] * moved[:, None, :]).sum(axis=-1) + seen.fields[..., 2:] @ rest[:-2]
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
    strip: Strip, settled: _Settled, fit: _Step, sides: tuple[str, str], shadow: float
) -> FittedEdge | None:
    line, weight, squares = settled.line, settled.weight, settled.seen.squares
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
    contrast = abs(fit.contrast)
    misfit = math.sqrt(float((weight * squares).sum() / weight.sum())) / contrast
    along = math.sqrt(_unexplained(settled)) / contrast
    floor, quiet = (
        FLOOR_PX + MISFIT_PX * max(0.0, share - clean)
        for share, clean in ((misfit, CLEAN_MISFIT), (along, QUIET_MISFIT))
    )
    quiet += STRAYED * max(0.0, _strayed(kept, rest) - CLEAN_STRAY_PX)
    edge = Edge(points, noise, independent, float(kept.mean()), None, floor, quiet)
    return FittedEdge(edge, sides, misfit, along, shadow)


def _unexplained(settled: _Settled) -> float:
    """Return the mean square of what is left of the light and goes on along the edge, as noise does not.

    What is left at one station is multiplied by what is left some pixels on, at the same place across.
    """
    trust, left = settled.seen.trust, settled.seen.left
    total, power = 0.0, 1e-12
    for lag in range(APART[0], min(APART[1], len(left) - 1) + 1):
        pair = np.sqrt(settled.weight[lag:] * settled.weight[:-lag])[:, None] * trust[lag:] * trust[:-lag]
        total += float((pair * left[lag:] * left[:-lag]).sum())
        power += float(pair.sum())
    return max(0.0, total / power)


def _strayed(kept: NDArray[np.bool_], rest: FloatArray) -> float:
    """Return the scatter of what stations say, averaged over as many neighbours as blur can tie together."""
    whole = np.zeros(len(kept))
    whole[kept] = rest
    box = np.ones(APART[1])
    count = np.convolve(kept, box, mode="valid")
    enough = count > 0.5 * APART[1]
    if not enough.any():
        return float(np.sqrt((rest**2).mean()))
    return float(np.sqrt(((np.convolve(whole, box, mode="valid")[enough] / count[enough]) ** 2).mean()))


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
