"""What a photograph shows of the sheet: the camera over one grid, how well it is known, and which sheet it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray
from groovewright.sheets.identity import WORD_BITS, WORDS, SheetIdentity, identity_of
from groovewright.sheets.markers import (
    CELL_MM,
    CELLS,
    LADDER_MIDDLES_MM,
    NULL_NAMES,
    SQUARE_MM,
    Saddle,
    grid_saddles,
    strip_squares,
)
from groovewright.vision.camera import (
    CameraPose,
    prior_of,
    project,
    rotation,
    start_from_homography,
)
from groovewright.vision.load import Photo
from groovewright.vision.marks import (
    Code,
    FirstMap,
    Target,
    first_map,
    measure_saddles,
    sample,
)
from groovewright.vision.solve import Solution, fit, information_of

NOISE_FLOOR_PX = 0.04
"""Saddle corners measured: 0.04 pixel at best."""
CORNER_NOISE_PX = 0.4
"""A lone marker's corner: 0.25 to 0.88 pixel."""
FEWEST_SADDLES, PLENTY_OF_SADDLES = 10, 24
"""With fewer nothing is measured; with fewer than plenty the camera may not be where it seems."""
LEAST_ASIDE_MM, FEWEST_ASIDE = 5.0, 4
"""Corners on one line don't tell how the camera is tilted: so many have to lie so far beside it."""
WORST_NOISE_PX = 0.6
REACHES = ((60.0,), (9.0, 60.0), (9.0, 12.0, 14.0, 16.0, 20.0, 24.0, 30.0))
"""How far from what is known corners are looked for, step by step in mm: boldly first, then with more patience."""
SURE_MARKERS = 4
"""So many, on both sides of the grid, foretell the corners between them at once."""
LEAST_AGREEING = 0.6
"""Share of the corners found that have to agree with the camera; fewer mean that it isn't where it seems."""


@dataclass(frozen=True)
class SheetView:
    """One grid as a photograph shows it.

    `places` and `pixels` are the saddle corners used, [shapes (n, 3), (n, 2)]; `noise_px` the standard
    deviation of one of their coordinates about the fit.
    """

    null: str
    pose: CameraPose
    places: FloatArray
    pixels: FloatArray
    noise_px: float
    markers: int
    identity: SheetIdentity | None
    prior: tuple[FloatArray, FloatArray]

    @property
    def residual_px(self) -> float:
        """The root mean square distance of the corners used from the fit."""
        away = project(self.pose.values, self.places) - self.pixels
        return float(np.sqrt((away**2).sum(axis=1).mean()))


def _target(saddles: tuple[Saddle, ...]) -> Target:
    at = np.array([saddle.at for saddle in saddles])
    cells = np.array([saddle.cell_mm for saddle in saddles])
    zero = np.zeros(len(at))
    return Target(
        np.column_stack([at, zero]),
        np.column_stack([cells, zero, zero]),
        np.column_stack([zero, cells, zero]),
        np.array([saddle.black_first for saddle in saddles]),
    )


_GRID = _target(grid_saddles())
_LADDERS = [
    [np.isclose(_GRID.places[:, 0], side * middle) for middle in LADDER_MIDDLES_MM] for side in (-1.0, 1.0)
]
"""Of each side of a grid, which saddle corners are a full one's ladder, and which a narrow one's."""


def _of_one_grid(good: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the corners found without those of ladders that this grid hasn't got: a side is full or narrow."""
    kept = good.copy()
    for ladders in _LADDERS:
        kept &= ~min(ladders, key=lambda ladder: int((good & ladder).sum()))
    return kept


def see_grids(photo: Photo, codes: list[Code], nulls: Sequence[str] = NULL_NAMES) -> list[SheetView]:
    """Return every grid of these nulls of which enough can be measured, the one with most corners first."""
    views = {null: see_grid(photo, codes, null) for null in nulls}
    for null, other in (NULL_NAMES, NULL_NAMES[::-1]):
        seen = views.get(other)
        if null in views and views[null] is None and seen is not None:
            start = _beside(seen)
            views[null] = None if start is None else _measured(photo, codes, null, start)
    return sorted((view for view in views.values() if view is not None), key=lambda view: -len(view.places))


def see_grid(photo: Photo, codes: list[Code], null: str) -> SheetView | None:
    """Return one grid as the photograph shows it; None where too little of it can be measured."""
    first = first_map(codes, null)
    if first is None:
        return None
    prior = prior_of(photo.size, photo.focal_px)
    values = start_from_homography(first.homography, prior[0])
    if values is None:
        return None
    corners = np.column_stack([first.flat, np.zeros(len(first.flat))])
    values = _fitted(values, corners, first.pixels, prior, CORNER_NOISE_PX).values
    best: SheetView | None = None
    between = first.markers >= SURE_MARKERS and first.flat[:, 1].min() < 0.0 < first.flat[:, 1].max()
    for steps in REACHES[0 if between else 1 :]:
        grown = values
        known = first.flat
        # the saddle corners beside the codes first; each fit foretells those farther away
        for reach in steps:
            pixels, good, _ = measure_saddles(photo.gray, grown, _GRID, 0.6 if reach < 12.0 else 0.45)
            chosen = np.flatnonzero(_of_one_grid(good & (_distance(_GRID.places[:, :2], known) < reach)))
            grown = _fitted_with_markers(grown, chosen, pixels[chosen], first, prior)
            if len(steps) > 2:
                known = np.vstack([first.flat, _GRID.places[chosen, :2]])
        view = _measured(photo, codes, null, grown)
        if view is not None and (best is None or len(view.places) > len(best.places)):
            best = view
        if best is not None and len(best.places) >= PLENTY_OF_SADDLES:
            break
    return best


def _measured(photo: Photo, codes: list[Code], null: str, values: FloatArray) -> SheetView | None:
    """Return a grid measured from where a camera is thought to be; None where too few of its corners agree."""
    prior = prior_of(photo.size, photo.focal_px)
    pixels, good, _ = measure_saddles(photo.gray, values, _GRID, 0.3)
    chosen: NDArray[np.intp] = np.flatnonzero(_of_one_grid(good))
    if len(chosen) < FEWEST_SADDLES:
        return None
    seen = pixels[chosen]
    solution = _fitted(values, _GRID.places[chosen], seen, prior, NOISE_FLOOR_PX)
    if solution.kept.sum() < FEWEST_SADDLES or solution.noise > WORST_NOISE_PX:
        return None
    places = _GRID.places[chosen][solution.kept]
    if solution.kept.mean() < LEAST_AGREEING or _on_one_line(places):
        return None
    first = first_map(codes, null)
    return SheetView(
        null,
        CameraPose(solution.values, solution.covariance),
        places,
        seen[solution.kept],
        solution.noise,
        first.markers if first is not None else 0,
        _identity(photo, solution.values, null),
        prior,
    )


def _on_one_line(places: FloatArray) -> bool:
    """Return whether nearly all corners lie on one line of the sheet, as those of one side's ladder. [shape=(n, 3)]"""
    flat = places[:, :2]
    beside = np.abs(flat - np.median(flat, axis=0)) > LEAST_ASIDE_MM
    return bool((beside.sum(axis=0) < FEWEST_ASIDE).any())


def _beside(view: SheetView) -> FloatArray | None:
    """Return the camera as it stands over the other grid, where the sheet says how far away that is.

    On a two-point sheet both grids lie one behind the other on the line from the spindle.
    """
    known = view.identity
    if known is None or known.other_radius_mm is None or known.kind != "two-point":
        return None
    values = view.pose.values.copy()
    values[8:11] += rotation(values[5:8]) @ np.array([known.other_radius_mm - known.null_radius_mm, 0.0, 0.0])
    return values


def _fitted(
    start: FloatArray,
    places: FloatArray,
    pixels: FloatArray,
    prior: tuple[FloatArray, FloatArray],
    noise_floor: float,
) -> Solution:
    return fit(
        lambda values: project(values, places) - pixels,
        start,
        prior[0],
        information_of(prior[1]),
        noise_floor=noise_floor,
        noise_start=1.0,
    )


def _fitted_with_markers(
    start: FloatArray,
    chosen: NDArray[np.intp],
    seen: FloatArray,
    first: FirstMap,
    prior: tuple[FloatArray, FloatArray],
) -> FloatArray:
    """Return the camera from saddle corners and from the markers' own, which count as five times as uncertain."""
    corners = np.column_stack([first.flat, np.zeros(len(first.flat))])
    places, pixels = np.vstack([_GRID.places[chosen], corners]), np.vstack([seen, first.pixels])
    trust = np.concatenate([np.ones(len(chosen)), np.full(len(corners), 0.2)])[:, None]
    return fit(
        lambda values: (project(values, places) - pixels) * trust,
        start,
        prior[0],
        information_of(prior[1]),
        noise_floor=0.2,
        noise_start=1.0,
    ).values


def _distance(places: FloatArray, others: FloatArray) -> FloatArray:
    """Return how far each place is from the nearest of the others. [shapes (n, 2), (m, 2) to (n,)]"""
    return np.asarray(np.hypot(*(places[:, None] - others[None]).transpose(2, 0, 1)).min(axis=1))


def _identity(photo: Photo, values: FloatArray, null: str) -> SheetIdentity | None:
    """Return what most strips say, read from the white cells of their black squares."""
    said: Counter[SheetIdentity] = Counter()
    for front in (True, False):
        words: dict[int, list[int]] = {k: [] for k in range(WORDS)}
        for square in strip_squares(null, front=front):
            if square.black:
                word = _word(photo, values, square.middle)
                if word is not None:
                    words[square.column % WORDS].append(word)
        for a in set(words[0]):
            for b in set(words[1]):
                for c in set(words[2]):
                    identity = identity_of((a, b, c))
                    if identity is not None:
                        said[identity] += 1
    return said.most_common(1)[0][0] if said else None


def _word(photo: Photo, values: FloatArray, middle: tuple[float, float]) -> int | None:
    """Return the sixteen bits of a black square; None where it isn't seen."""
    ticks = (np.arange(CELLS) - (CELLS - 1) / 2.0) * CELL_MM
    x, y = np.meshgrid(middle[0] + ticks, middle[1] + ticks)
    edge = 0.5 * SQUARE_MM - 0.7
    rim = [
        (middle[0] + sx * edge, middle[1] + sy * edge) for sx in (-1, 0, 1) for sy in (-1, 0, 1) if sx or sy
    ]
    places = np.vstack([np.column_stack([x.ravel(), y.ravel()]), np.array(rim)])
    pixels = project(values, np.column_stack([places, np.zeros(len(places))]))
    width, height = photo.size
    if (pixels < 1.0).any() or (pixels > np.array([width - 2.0, height - 2.0])).any():
        return None
    levels = sample(photo.gray, pixels)
    cells, dark = levels[: CELLS * CELLS], float(np.median(levels[CELLS * CELLS :]))
    if cells.max() - dark < 20.0:
        return None
    bits = cells > 0.5 * (dark + float(cells.max()))
    return sum(int(bit) << (WORD_BITS - 1 - k) for k, bit in enumerate(bits))
