"""A strip of the picture explained by what lies on both sides of an edge, and how the edge is to be moved.

Each side is smooth, or it is the sheet: what the print foretells, times a smooth light. Least squares over all pixels
of the strip, in linear light; the light of each side is eliminated.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from groovewright.quantities import FloatArray
from groovewright.vision.strip import MARGIN_PX, SHARP_PX, Strip, blurred

BLOCK_PX = 5.0
"""The light on each side may change from block to block of this length."""
PRINT_DOUBT = 5.0
"""Dark print is foretold worse than blank paper by this factor, as standard deviations."""
SILHOUETTES = (("sheet", "plain"), ("plain", "sheet"))
BOTH_SHEET = ("sheet", "sheet")
SIDES = (*SILHOUETTES, ("plain", "plain"), BOTH_SHEET)
"""What lies on the negative and on the positive side of an edge's normal (-dy, dx)."""


@dataclass(frozen=True)
class EdgeModel:
    """What lies on the negative and on the positive side of an edge, and what more there may be.

    `face_px`: a face so wide of another light, next to the edge on the side that isn't the sheet. `turning`: the
    sheet's light may fall towards the edge differently from end to end.
    """

    sides: tuple[str, str]
    face_px: float | None = None
    turning: bool = False


@dataclass(frozen=True)
class Seen:
    """A strip explained by a model of both sides of a line: what is left of the light, and what a move would change.

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

    def within(self, limit: float) -> float:
        """Return what isn't explained, every station's share of it within a limit."""
        return float(np.minimum(self.squares, limit).sum())


@dataclass(frozen=True)
class Step:
    """How a line is to be moved at both ends, and what each station says: shift and power. [shapes (2,), (n,)]"""

    move: FloatArray
    shifts: FloatArray
    power: FloatArray
    contrast: float


def explained(
    strip: Strip,
    line: FloatArray,
    weight: FloatArray,
    model: EdgeModel,
    about: Sequence[FloatArray] = (),
) -> Seen:
    """Return the strip explained by what may lie on the two sides of a line.

    The light on each side is constant in blocks along the edge, and may change evenly away from the edge. What is
    covered of the sheet is cut out of its sharp print, and the whole is blurred then, as a camera does it. A face has
    one light that may change evenly along the edge. What lies near the line counts, or near those `about` which it is.
    """
    sides, share = model.sides, strip.stations / (strip.stations[-1] + 0.5)
    half = MARGIN_PX + 2.0 * strip.blur_px
    about = about or (line,)
    strip = strip.between(float(np.min(about)) - half, float(np.max(about)) + half)
    offsets = (line[0] * (1.0 - share) + line[1] * share)[:, None]
    near = np.zeros(strip.light.shape, dtype=bool)
    for other in about:
        near |= np.abs(strip.across - (other[0] * (1.0 - share) + other[1] * share)[:, None]) <= half
    d, fine = strip.across[None, :] - offsets, strip.fine[None, :] - offsets
    low, high = (
        _sheet_side(strip, fine, toward)
        if side == "sheet"
        else _plain_side(d, toward, strip.blur_px, model.face_px)
        for side, toward in zip(sides, (-1.0, 1.0), strict=True)
    )
    # where the print is dark it is foretold less well
    dark = sum(
        (part[3] for side, part in zip(sides, (low, high), strict=True) if side == "sheet"), np.zeros_like(d)
    )
    trust = near / (1.0 + (PRINT_DOUBT * dark) ** 2)
    faces = [
        part[3:] for side, part in zip(sides, (low, high), strict=True) if side == "plain" and len(part) > 3
    ]
    face = [part for front, _ in faces for part in (front, front * (share[:, None] - 0.5))]
    tilted = [part[2] / half for part in (low, high)]
    if model.turning:
        along = (share - 0.5)[:, None]
        tilted += [part * along for side, part in zip(sides, tilted, strict=True) if side == "sheet"]
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
    alike = near / (1.0 + (PRINT_DOUBT * (1.0 - strip.shown)) ** 2)
    squares, even = (
        (part * left**2).sum(axis=1) / np.maximum(part.sum(axis=1), 1e-9) for part in (trust, alike)
    )
    return Seen(share, trust, fields, left, slope, squares, even, beside[1] - beside[0])


def _sheet_side(strip: Strip, fine: FloatArray, toward: float) -> list[FloatArray]:
    """Return the sheet on one side of an edge at zero, how it changes as the edge moves on, and what more it has.

    `toward` is -1 for the negative side, 1 for the positive one. More: a light that grows evenly across the edge, and
    the ink. `fine` are places across the edge, and nearly sharp there it is cut out and blurred then.
    [shape=(n, f) to (n, m)]
    """
    part, rim = _edge_at(toward * fine, SHARP_PX)
    covered = part * strip.sheet
    parts = [covered, -toward * rim * strip.sheet, covered * fine, part - covered]
    return np.split(blurred(np.concatenate(parts), strip.kernel, strip.places), len(parts))


def _plain_side(d: FloatArray, toward: float, blur_px: float, face_px: float | None) -> list[FloatArray]:
    """Return the same of one even light, and where a face is told from it, the face and how that changes, blurred.

    `d` are places across the edge. What is blurred has a closed form: x Phi(x / s) becomes x Phi(x / b) and, by Stein's
    lemma, (b^2 - s^2) phi(x / b) / b. [shape=(n, m)]
    """
    part, rim = _edge_at(toward * d - (face_px or 0.0), blur_px)
    parts = [part, -toward * rim, part * d + toward * (blur_px**2 - SHARP_PX**2) * rim]
    if face_px is None:
        return parts
    whole, rim_before = _edge_at(toward * d, blur_px)
    return [*parts, whole - part, -toward * (rim_before - rim)]


def _edge_at(places: FloatArray, sd_px: float) -> tuple[FloatArray, FloatArray]:
    """Return the share that lies beyond an edge at zero, so much blurred, and how it changes with the place."""
    at = np.clip(places / sd_px, -8.0, 8.0)
    return ndtr(at), np.exp(-0.5 * at**2) / (math.sqrt(2.0 * math.pi) * sd_px)


def step_of(strip: Strip, seen: Seen, weight: FloatArray) -> Step | None:
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
    return Step(rest[-2:], shifts, power, seen.contrast)


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
