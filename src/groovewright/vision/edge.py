"""A line that a person marked in the picture, moved onto the edge it lies on and measured to sub-pixel.

Across the marked line the picture is sampled in many sections; in each the strongest changes of brightness
within reach are candidates. The line on which most of them agree, weighted by how strong they are and how
near to what was marked, is fitted without those that disagree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray, InputError
from groovewright.vision.camera import CameraPose, on_plane
from groovewright.vision.load import Photo
from groovewright.vision.marks import linear, sample

SHORTEST_PX = 24.0
SMOOTH_PX = 0.8
"""Standard deviation of the smoothing across an edge."""
SECTION_PX = 1.5
CORRELATED_PX = 4.0
"""Blur and smoothing tie neighbours together: sections count as independent when this far apart."""
LEAST_STEP = 2.0
"""Of 255 levels of linear light: a weaker edge is not measured."""
HEAVY_LINES_MM = 5.0
ALONG = 0.2
"""Sine of the angle within which a line of the grid runs along a marked one."""
CLEAN_PX, CLEAN_SHARE = 0.08, 0.95
"""A clean edge scatters no more than this, and shows in so many of its sections."""
END_BIAS_PX = 0.15
"""What lies beside an edge (a shadow, a line of the grid, a second edge) shifts it by about this much."""
FEWEST_SHARE = 0.3
"""Share of the sections in which the edge has to show; the fewer, the less its direction is trusted."""
EDGE_FLOOR_PX = 0.05


@dataclass(frozen=True)
class Edge:
    """An edge in the picture: points on it, the standard deviation of one, and how many count as independent.

    `points` [shape=(n, 2)]; `share` of the sections show the edge; `rival_deg` is how far a second edge
    within reach is turned against it, None where there is none as strong; `floor_px` is what lies beside it
    shifts an end by. `quiet_px` is what pulls at an end once the picture's noise is told from what runs along the edge,
    None where it isn't; it counts where a person pointed at the edge (`pointed_at`), or what lies beside it tells as
    much: elsewhere much noise may as well say that there is no edge.
    """

    points: FloatArray
    noise_px: float
    independent: float
    share: float
    rival_deg: float | None
    floor_px: float = END_BIAS_PX
    quiet_px: float | None = None
    pointed_at: bool = False

    @property
    def turn_sd(self) -> float:
        """The standard deviation of the direction in the picture, in radians."""
        ends = self.ends()
        length = max(1.0, float(np.hypot(*(ends[1] - ends[0]))))
        along = np.linalg.norm(self.points - ends[0], axis=1)
        scatter = self.noise_px / (max(float(along.std()), 1.0) * math.sqrt(self.independent))
        # more scatter than an edge has, or gaps: something else runs along it, and pulls one end more
        strayed = 0.0 if self.pointed_at else 2.0 * max(0.0, self.noise_px - CLEAN_PX)
        pulled = self.floor_px + strayed + 0.7 * max(0.0, CLEAN_SHARE - self.share)
        return math.hypot(scatter, math.sqrt(2.0) * pulled / length)

    def as_pointed_at(self) -> Edge:
        """Return the edge as where a person pointed at it, or what lies beside it tells as much; no worse known."""
        if self.quiet_px is None:
            return self
        found = replace(self, floor_px=self.quiet_px, pointed_at=True)
        return found if found.turn_sd < self.turn_sd else self

    def ends(self) -> FloatArray:
        """Return the two ends of the fitted line. [shape=(2, 2)]"""
        middle, way = _line_through(self.points, np.ones(len(self.points)))
        along = (self.points - middle) @ way
        return np.array([middle + along.min() * way, middle + along.max() * way])


def checked_line(
    photo: Photo, start: tuple[float, float], end: tuple[float, float], shortest_px: float = SHORTEST_PX
) -> FloatArray:
    """Return the ends of a marked line. [shape=(2, 2)]

    Raises
    ------
    InputError
        The line is outside the picture or too short.
    """
    a, b = np.array(start, dtype=float), np.array(end, dtype=float)
    width, height = photo.size
    if not (np.isfinite([a, b]).all() and (np.minimum(a, b) >= 0).all()
            and (np.maximum(a, b) <= [width - 1, height - 1]).all()):  # fmt: skip
        raise InputError(
            f"the line from {a[0]:g},{a[1]:g} to {b[0]:g},{b[1]:g} leaves the picture of {width} by {height} pixels"
        )
    length = float(np.hypot(*(b - a)))
    if length < shortest_px:
        raise InputError(
            f"the marked line is {length:.0f} pixels long; mark {shortest_px:g} or more, as much of the edge as shows"
        )
    return np.array([a, b])


def refine_line(
    photo: Photo,
    start: tuple[float, float],
    end: tuple[float, float],
    pose: CameraPose | None = None,
    reach_px: float | None = None,
    shortest_px: float = SHORTEST_PX,
    fewest_share: float = FEWEST_SHARE,
) -> Edge:
    """Return the edge that a marked line lies on.

    With the camera's `pose` over the sheet, changes of brightness that the sheet's own heavy lines make are
    left out. `reach_px` is how far off the edge may lie; None: as far as a hand may be off.

    Raises
    ------
    InputError
        The line is outside the picture or too short, or there is no edge along it.
    """
    a, b = checked_line(photo, start, end, shortest_px)
    length = float(np.hypot(*(b - a)))
    reach = reach_px or float(np.clip(0.06 * length, 5.0, 22.0))
    along, offsets, strengths = _candidates(photo, a, b, length, reach)
    if pose is not None and len(along):
        way = (b - a) / length
        places = a + along[:, None] * way + offsets[:, None] * np.array([-way[1], way[0]])
        own = ~_on_heavy_line(pose, places, np.array([a, b]))
        along, offsets, strengths = along[own], offsets[own], strengths[own]
    if len(along) < 6:
        raise InputError("there is no edge along the marked line; mark it on the edge itself, end to end")
    best, score = _consensus(along, offsets, strengths, length, reach)
    rival = _rival(along, offsets, strengths, length, reach, best, score)
    return _fitted(a, b, length, along, offsets, strengths, best, rival, len(np.unique(along)), fewest_share)


def _on_heavy_line(pose: CameraPose, places: FloatArray, ends: FloatArray) -> NDArray[np.bool_]:
    """Return which places lie on or beside one of the grid's heavy lines that runs along the marked one.

    Those that cross it hide the edge at a few spots only, which the fit leaves out by itself.
    """
    flat = on_plane(pose.values, places, 0.0)
    step = np.hypot(*(on_plane(pose.values, places + np.array([1.0, 0.0]), 0.0) - flat).T)
    way = np.diff(on_plane(pose.values, ends, 0.0), axis=0)[0]
    axis = int(np.argmin(np.abs(way)))
    if abs(way[axis]) > ALONG * float(np.hypot(*way)):
        return np.zeros(len(places), dtype=bool)
    away = np.abs((flat[:, axis] + HEAVY_LINES_MM / 2.0) % HEAVY_LINES_MM - HEAVY_LINES_MM / 2.0)
    in_grid = (np.abs(flat[:, 0]) < 20.5) & (np.abs(flat[:, 1]) < 30.5)
    return np.asarray(in_grid & (away < 0.1 + 1.8 * step))


def _candidates(
    photo: Photo, a: FloatArray, b: FloatArray, length: float, reach: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return places along and across the line of every change of brightness, and its signed size."""
    way = (b - a) / length
    normal = np.array([-way[1], way[0]])
    stations = np.arange(SECTION_PX, length - SECTION_PX, SECTION_PX)
    across = np.arange(-reach - 4.0, reach + 4.01, 0.5)
    grid = a + stations[:, None, None] * way + across[None, :, None] * normal
    # in linear light a blurred edge keeps its place, whatever lies on its two sides
    levels = linear(sample(photo.gray, grid))
    # neighbours along the line averaged, then the derivative of a Gaussian across it
    levels = np.vstack([levels[:1], (levels[:-2] + levels[1:-1] + levels[2:]) / 3.0, levels[-1:]])
    ticks = 0.5 * np.arange(-math.ceil(8.0 * SMOOTH_PX), math.ceil(8.0 * SMOOTH_PX) + 1)
    bell = np.exp(-0.5 * (ticks / SMOOTH_PX) ** 2)
    kernel = ticks * bell / (ticks * ticks * bell).sum()
    slope = np.apply_along_axis(np.convolve, 1, levels, -kernel, "same")
    size = np.abs(slope)
    middle = size[:, 1:-1]
    peak = (middle >= size[:, :-2]) & (middle > size[:, 2:]) & (middle > LEAST_STEP / (3.0 * SMOOTH_PX))
    peak &= np.abs(across[1:-1]) <= reach
    rows, columns = np.nonzero(peak)
    columns += 1
    before, here, after = size[rows, columns - 1], size[rows, columns], size[rows, columns + 1]
    shift = 0.5 * (before - after) / np.minimum(before - 2.0 * here + after, -1e-9)
    return stations[rows], across[columns] + 0.5 * np.clip(shift, -0.5, 0.5), slope[rows, columns]


def _support(
    along: FloatArray,
    offsets: FloatArray,
    strengths: FloatArray,
    lines: FloatArray,
    length: float,
    reach: float,
) -> FloatArray:
    """Return how well each line (offsets at both ends) is supported. [shapes (m, 2) to (m,)]"""
    share = along / length
    drawn = lines[:, :1] * (1.0 - share) + lines[:, 1:] * share
    near = np.clip(1.0 - ((offsets - drawn) / 1.2) ** 2, 0.0, None)
    # a strong edge outweighs the sheet's fine lines, but no single spot outweighs a whole edge
    strong = np.clip(strengths, -np.quantile(np.abs(strengths), 0.8), np.quantile(np.abs(strengths), 0.8))
    # an edge keeps its dark side: both sides are counted apart
    support = np.maximum(near @ np.clip(strong, 0.0, None), near @ np.clip(-strong, 0.0, None))
    liked = np.exp(-0.5 * ((lines / (0.6 * reach)) ** 2).mean(axis=1))
    return np.asarray(support * liked)


def _consensus(
    along: FloatArray, offsets: FloatArray, strengths: FloatArray, length: float, reach: float
) -> tuple[FloatArray, float]:
    ticks = np.linspace(-reach, reach, max(9, round(2.0 * reach / 0.8) + 1))
    lines = np.array([(p, q) for p in ticks for q in ticks])
    scores = _support(along, offsets, strengths, lines, length, reach)
    best = lines[int(np.argmax(scores))]
    fine = np.linspace(-0.8, 0.8, 9)
    lines = np.array([(best[0] + p, best[1] + q) for p in fine for q in fine])
    scores = _support(along, offsets, strengths, lines, length, reach)
    return lines[int(np.argmax(scores))], float(scores.max())


def _rival(
    along: FloatArray,
    offsets: FloatArray,
    strengths: FloatArray,
    length: float,
    reach: float,
    best: FloatArray,
    score: float,
) -> float | None:
    """Return the turn, in degrees, of a second line that is supported nearly as well; None without one."""
    drawn = best[0] + (best[1] - best[0]) * along / length
    other = np.abs(offsets - drawn) > 2.5
    if other.sum() < 6:
        return None
    second, second_score = _consensus(along[other], offsets[other], strengths[other], length, reach)
    if second_score < 0.75 * score:
        return None
    return math.degrees(math.atan2(float((second[1] - second[0]) - (best[1] - best[0])), length))


def _fitted(
    a: FloatArray,
    b: FloatArray,
    length: float,
    along: FloatArray,
    offsets: FloatArray,
    strengths: FloatArray,
    best: FloatArray,
    rival: float | None,
    sections: int,
    fewest_share: float,
) -> Edge:
    """Return the points of the edge on the best line, its fit renewed without those that disagree."""
    way = (b - a) / length
    normal = np.array([-way[1], way[0]])
    line = np.array([best[0], (best[1] - best[0]) / length])
    near = np.abs(offsets - line[0] - line[1] * along) < 1.5
    sign = (
        math.copysign(1.0, float(np.sqrt(np.abs(strengths[near])) @ np.sign(strengths[near])))
        if near.any()
        else 1.0
    )
    same = np.sign(strengths) == sign
    spread, kept = 0.6, near & same
    for _ in range(8):
        away = offsets - line[0] - line[1] * along
        kept = same & (np.abs(away) < max(0.3, 3.0 * spread))
        if kept.sum() < 6:
            raise InputError(
                "there is no straight edge along the marked line; mark the edge itself, end to end"
            )
        design = np.column_stack([np.ones(kept.sum()), along[kept]])
        line = np.linalg.lstsq(design, offsets[kept], rcond=None)[0]
        spread = max(EDGE_FLOOR_PX, 1.4826 * float(np.median(np.abs(offsets[kept] - design @ line))))
    share = len(np.unique(along[kept])) / max(1, sections)
    if share < fewest_share:
        raise InputError(
            f"only {share:.0%} of the marked line lies on one edge; mark a straight edge, end to end"
        )
    points = a + along[kept, None] * way + offsets[kept, None] * normal
    independent = max(3.0, kept.sum() * SECTION_PX / CORRELATED_PX)
    return Edge(points, spread, independent, min(1.0, share), rival)


def _line_through(points: FloatArray, weight: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the middle and the unit direction of the line through points (total least squares)."""
    middle = np.average(points, axis=0, weights=weight)
    _, _, v = np.linalg.svd((points - middle) * np.sqrt(weight)[:, None], full_matrices=False)
    return middle, v[0]
