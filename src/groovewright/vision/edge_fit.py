"""One straight edge in the picture, measured by what lies on both sides of it.

A strip along the edge is compared with a step, blurred as the picture is, between two sides. Each side is smooth,
or it is the sheet: what the print foretells, times a smooth light. Which of the two it is comes out of the
comparison, and tells a body's silhouette (one side is the sheet) from a shadow (both are) and from an edge on
the body (neither is). Least squares over all pixels of the strip (linear light); stations along the edge
that don't agree are left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray
from groovewright.vision.camera import CameraPose
from groovewright.vision.edge import Edge, checked_line
from groovewright.vision.edge_model import (
    BOTH_SHEET,
    SIDES,
    SILHOUETTES,
    EdgeModel,
    Seen,
    Step,
    explained,
    step_of,
)
from groovewright.vision.grid_print import GridPrint
from groovewright.vision.load import Photo
from groovewright.vision.strip import (
    FEWEST_STATIONS,
    MARGIN_PX,
    STATION_PX,
    Strip,
    printed,
    search,
    strip_along,
)

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
LIKE_PRINT, PAPER_QUANTILE, SAME_PX, RIVAL_GAIN = 0.3, 0.9, 0.7, 0.8
PIVOTS = ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0), (1.0, 1.0), (-1.0, -1.0))
"""Where print changes the light along an edge by the first share of what the edge does, lines that are moved at one
end or both are tried; one that explains the light to the last share as well as the best may be the edge too."""
RAW_POINTS, RAW_NOISE_PX, HAND_PX = 25, 0.05, 1.7
"""A hand marks each end to 1.5 to 2 pixels (standard deviation)."""
MARKED_REACH_PX, MARKED_LIKELY_PX, MARKED_SHARE, MARKED_MISFIT, MARKED_SHADOW = 5.0, 2.5, 0.6, 0.25, 12.0
MARKED_TRIMS = (0.0, 0.06, 0.15)
"""A line marked from corner to corner may run on over cut corners: so much of it is left out at each end."""
MOST_LAG = 10
APART = (4, 8)
"""So many stations apart, and up to, what is left of the light is compared: blur ties nearer ones together."""
FACES_PX, FACE_GAIN = (1.5, 2.5, 4.0), 0.8
"""How wide a face may show between a silhouette and what lies behind it, and what is left once it is told apart."""
TURNING_GAIN = 0.88
"""What is left once the sheet's light may fall differently from end to end: a shadow's rim may cross the edge."""


@dataclass(frozen=True)
class FittedEdge:
    """An edge with what lies on its two sides.

    `sides` say 'sheet' or 'plain' for the negative and the positive side of the normal (-dy, dx); `misfit` is the
    scatter about the step as a share of it, `along` what of that goes on along the edge, as noise doesn't; `shadow`
    how much likelier, as a logarithm, it is that both sides are the sheet than anything else; `doubt_px` how far off
    another line lies that explains the light nearly as well.
    """

    edge: Edge
    sides: tuple[str, str]
    misfit: float
    along: float
    shadow: float
    doubt_px: float = 0.0


def fit_edge(strip: Strip, start: FloatArray) -> FittedEdge | None:
    """Return the edge near a line, given by its offsets at both ends; None where there is no step.

    A line of the sheet beside a faint edge may be taken for it. So lines about are tried too: that is the edge which
    explains most, and what another explains nearly as well makes it doubtful.
    """
    fit = _likeliest(strip, start)
    if fit is None:
        return None
    doubt = 0.0
    own = abs(fit.seen.contrast) / max(1.0, float(np.quantile(strip.light, PAPER_QUANTILE)))
    beside_print = fit.model.sides in SILHOUETTES and printed(strip, fit.line) > LIKE_PRINT * own
    if beside_print:
        fit, doubt = _best(strip, fit)
    shadow = _shadow(strip, fit)
    if fit.model.sides in SILHOUETTES:
        fit, apart = _with_more(strip, fit)
        # what is foretold of the print isn't so exact that it tells what more there is
        doubt = max(doubt, apart) if beside_print else doubt
    step = step_of(strip, fit.seen, fit.weight)
    if step is None or abs(step.contrast) < LEAST_CONTRAST:
        return None
    return _edge_of(strip, fit, step, shadow, doubt)


@dataclass(frozen=True)
class _Settled:
    """Where a line came to rest, given by its offsets at both ends, with each station's weight and what is left."""

    model: EdgeModel
    line: FloatArray
    weight: FloatArray
    seen: Seen


def _likeliest(strip: Strip, start: FloatArray) -> _Settled | None:
    """Return the line moved from a start with what explains the strip best on its two sides; None where it doesn't.

    A line of the sheet along the edge may hide at the start which of its sides the sheet is.
    """
    one = np.ones(len(strip.stations))
    at_start = {sides: explained(strip, start, one, EdgeModel(sides)) for sides in SIDES}
    likely = min(SIDES, key=lambda sides: at_start[sides].even.sum())
    first, *others = (
        _settled(strip, start, EdgeModel(sides), at_start[sides])
        for sides in dict.fromkeys((likely, *SILHOUETTES))
    )
    if first is None:
        return None
    fits = [first, *(fit for fit in others if fit is not None)]
    limit = OUTLIER**2 * min(float(np.median(fit.seen.even)) for fit in fits)
    return min(fits, key=lambda fit: float(np.minimum(fit.seen.even, limit).sum()))


def _with_more(strip: Strip, plain: _Settled) -> tuple[_Settled, float]:
    """Return the fit with what more there is, and how many pixels off one lies with less of that or nearly as good.

    The sheet's light may turn, and the body's face and its top may be lit differently: both lie in the strip.
    """
    turning = [_settled(strip, plain.line, replace(plain.model, turning=True))]
    fit = _better(plain, turning, TURNING_GAIN)
    faces = [_settled(strip, fit.line, replace(fit.model, face_px=width)) for width in FACES_PX]
    best = _better(fit, faces, FACE_GAIN)
    limit = _limit(best)
    others = (other for other in (*turning, *faces) if other is not None)
    rivals = [other for other in others if RIVAL_GAIN * other.seen.within(limit) < best.seen.within(limit)]
    return best, max(float(np.abs(other.line - best.line).max()) for other in (plain, fit, *rivals))


def _limit(fit: _Settled) -> float:
    """Return how much of what a station leaves unexplained counts at most."""
    return OUTLIER**2 * (float(np.median(fit.seen.squares)) + 1e-9)


def _better(fit: _Settled, others: Sequence[_Settled | None], gain: float) -> _Settled:
    """Return the best of some fits, or the first itself where they don't leave this share less."""
    limit = _limit(fit)
    best = min(
        (other for other in others if other is not None),
        key=lambda other: other.seen.within(limit),
        default=fit,
    )
    return best if best.seen.within(limit) < gain * fit.seen.within(limit) else fit


def _best(strip: Strip, first: _Settled) -> tuple[_Settled, float]:
    """Return the line near a first one that explains most, and how many pixels off another lies that does nearly so."""
    away = MARGIN_PX + strip.blur_px
    fits = [first]
    for turned in PIVOTS:
        for sides in SILHOUETTES:
            fit = _settled(strip, first.line + away * np.array(turned), EdgeModel(sides))
            if fit is not None and all(_differ(fit, other) for other in fits):
                fits.append(fit)
    one, lines = np.ones(len(strip.stations)), [fit.line for fit in fits]
    left = [explained(strip, fit.line, one, fit.model, about=lines).even for fit in fits]
    limit = OUTLIER**2 * (min(float(np.median(squares)) for squares in left) + 1e-9)
    total = np.array([np.minimum(squares, limit).sum() for squares in left])
    best = int(np.argmin(total))
    apart = np.array([np.abs(line - lines[best]).max() for line in lines])
    return fits[best], float(apart[total * RIVAL_GAIN < total[best]].max())


def _differ(one: _Settled, other: _Settled) -> bool:
    return one.model.sides != other.model.sides or float(np.abs(one.line - other.line).max()) > SAME_PX


def _settled(
    strip: Strip, start: FloatArray, model: EdgeModel, at_start: Seen | None = None
) -> _Settled | None:
    """Return the line moved until it explains the strip best; None where there is no step within reach.

    `at_start` is the strip as the start explains it, where that is known.
    """
    line, weight = np.array(start, dtype=float), np.ones(len(strip.stations))
    seen = at_start or explained(strip, line, weight, model)
    for _ in range(STEPS):
        step = step_of(strip, seen, weight)
        if step is None:
            return None
        line = line + np.clip(step.move, -1.0, 1.0)
        typical = float(np.median(seen.squares)) + 1e-9
        weight = np.clip(1.0 - seen.squares / (OUTLIER**2 * typical), 0.02, 1.0)
        if np.abs(line - start).max() > MARGIN_PX + 2.0 * strip.blur_px:
            return None
        seen = explained(strip, line, weight, model)
        if np.abs(step.move).max() < 0.015:
            break
    return _Settled(model, line, weight, seen)


def _shadow(strip: Strip, fit: _Settled) -> float:
    """Return how much likelier, as a logarithm, it is that both sides are the sheet than anything else."""
    total = {
        sides: float((fit.weight * seen.even).sum())
        for sides in SIDES
        for seen in [
            fit.seen if sides == fit.model.sides else explained(strip, fit.line, fit.weight, EdgeModel(sides))
        ]
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


def _edge_of(strip: Strip, settled: _Settled, fit: Step, shadow: float, doubt: float) -> FittedEdge | None:
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
    floor, quiet = (math.hypot(pulled, 0.5 * doubt) for pulled in (floor, quiet))
    edge = Edge(points, noise, independent, float(kept.mean()), None, floor, quiet)
    return FittedEdge(edge, settled.model.sides, misfit, along, shadow, doubt)


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
