"""Where the spindle and the grids stand on the paper.

Each grid stands on a ray from the spindle at its null radius. Seen from above with the spindle to the left,
the record moves towards the reader under the stylus, so the front of the cartridge points down the sheet::

        spindle            null
           O  - - - - - - - + - - ->  outward
                            |
                            v  front: the way the record moves (the platter turns clockwise)
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from groovewright.quantities import CannotBeDoneError
from groovewright.sheets.drawing import Point

SPINDLE_CLEAR = 13.0
"""Radius round the spindle that holds its target."""
LABEL_DEPTH = 8.5
ZONE_GAP = 1.5
ZONE_DEPTH = 15.0
SIDE_ZONE_DEPTH = 10.0
ARC_GAP = 1.0
"""The same between two grids on one arc, which are cut back to make room."""
LEAST_REACH = 4.0
"""Where a grid is cut back it still holds its dot; the other side shows beside a body 18 mm wide."""
GRID_GAP = 2.0
"""Least distance of a grid and its zones from anything else."""


@dataclass(frozen=True)
class Rectangle:
    """An upright rectangle on the paper, in millimetres of the print."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """From left to right."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """From top to bottom."""
        return self.bottom - self.top


@dataclass(frozen=True)
class GridShape:
    """How large a grid is: half its width along the radius, half its length along the groove."""

    half_width: float
    half_length: float
    with_zones: bool
    penalty: float

    @property
    def front_reach(self) -> float:
        """How far the grid, its label and its zone reach to the front."""
        return self.half_length + LABEL_DEPTH + (ZONE_GAP + ZONE_DEPTH if self.with_zones else 0.0)

    @property
    def back_reach(self) -> float:
        """How far the grid and its zone reach to the back."""
        return self.half_length + (ZONE_GAP + ZONE_DEPTH if self.with_zones else 0.0)


SHAPES = (
    GridShape(20.0, 30.0, True, 0.0),
    GridShape(15.0, 30.0, True, 20.0),
    GridShape(20.0, 30.0, False, 60.0),
    GridShape(20.0, 25.0, False, 70.0),
    GridShape(15.0, 25.0, False, 90.0),
    GridShape(15.0, 20.0, False, 110.0),
)
"""From the best to the least that a body 18 mm wide can still be read against (common practice)."""


@dataclass(frozen=True)
class Rays:
    """The direction of each null from the spindle, clockwise from the paper's right, and what it costs."""

    rays_deg: tuple[float, ...]
    penalty: float
    turn_deg: float = 0.0


@dataclass(frozen=True)
class GridPlace:
    """One grid on the paper."""

    name: str
    null_radius_mm: float
    ray_deg: float
    centre: Point
    shape: GridShape
    narrowed_in: float = 0.0
    narrowed_out: float = 0.0

    def at(self, outward: float, front: float) -> Point:
        """Return the point that lies so far outward and to the front of the null."""
        angle = math.radians(self.ray_deg)
        cosine, sine = math.cos(angle), math.sin(angle)
        return (
            self.centre[0] + outward * cosine - front * sine,
            self.centre[1] + outward * sine + front * cosine,
        )

    @property
    def reach_in(self) -> float:
        """How far the grid reaches towards the spindle."""
        return self.shape.half_width - self.narrowed_in

    @property
    def reach_out(self) -> float:
        """How far the grid reaches away from the spindle."""
        return self.shape.half_width - self.narrowed_out

    def box(self, out_low: float, out_high: float, front_low: float, front_high: float) -> tuple[Point, ...]:
        """Return the four corners of a rectangle along the radius and the groove."""
        return (
            self.at(out_low, front_low),
            self.at(out_high, front_low),
            self.at(out_high, front_high),
            self.at(out_low, front_high),
        )

    def whole(self) -> tuple[Point, ...]:
        """Return the corners of everything that belongs to the grid."""
        return self.box(-self.reach_in, self.reach_out, -self.shape.back_reach, self.shape.front_reach)


@dataclass(frozen=True)
class Placement:
    """Where everything true stands on the paper."""

    spindle: Point
    grids: tuple[GridPlace, ...]
    turn_deg: float = 0.0


def overlapping(first: Sequence[Point], second: Sequence[Point], gap: float) -> bool:
    """Return whether two convex polygons come nearer than `gap` (separating axes, so corners count early)."""
    for polygon in (first, second):
        for (ax, ay), (bx, by) in zip(polygon, (*polygon[1:], polygon[0]), strict=True):
            length = math.hypot(bx - ax, by - ay)
            nx, ny = (by - ay) / length, (ax - bx) / length
            here = [nx * x + ny * y for x, y in first]
            there = [nx * x + ny * y for x, y in second]
            if min(there) - max(here) >= gap or min(here) - max(there) >= gap:
                return False
    return True


def place(
    *, nulls: Sequence[tuple[str, float]], rays: Iterable[Rays], area: Rectangle, shared_arc: bool = False
) -> Placement:
    """Return the best placement of the nulls inside an area of the paper.

    Parameters
    ----------
    nulls : sequence of (name, radius in mm)
    rays : iterable of Rays
        Directions to try.
    area : Rectangle
        Where the grids, their zones and the spindle's target may lie.
    shared_arc : bool
        Grids that come too close are narrowed instead of turned away, as on the stylus arc of one arm.

    Raises
    ------
    CannotBeDoneError
        Nothing fits.
    """
    options = sorted(
        ((ray.penalty + shape.penalty, ray, shape) for shape in SHAPES for ray in rays), key=lambda o: o[0]
    )
    for _, ray, shape in options:
        placement = _try(nulls, ray, shape, area, shared_arc)
        if placement:
            return placement
    radii = " and ".join(f"{radius:g}" for _, radius in nulls)
    raise CannotBeDoneError(
        f"grids at null radii of {radii} mm don't fit on this paper beside the spindle; "
        "another paper, another criterion or another record size may"
    )


def _try(
    nulls: Sequence[tuple[str, float]], ray: Rays, shape: GridShape, area: Rectangle, shared_arc: bool
) -> Placement | None:
    grids = [
        GridPlace(name, radius, angle, _polar(radius, angle), shape)
        for (name, radius), angle in zip(nulls, ray.rays_deg, strict=True)
    ]
    gap = ARC_GAP if shared_arc else GRID_GAP
    if shared_arc:
        grids = _narrowed(grids)
    target = spindle_target((0.0, 0.0))
    shapes = [target, *(grid.whole() for grid in grids)]
    if any(overlapping(shapes[i], shapes[j], gap) for i in range(len(shapes)) for j in range(i)) or any(
        min(grid.reach_in, grid.reach_out) < LEAST_REACH for grid in grids
    ):
        return None
    xs = [x for polygon in shapes for x, _ in polygon]
    ys = [y for polygon in shapes for _, y in polygon]
    if max(xs) - min(xs) > area.width or max(ys) - min(ys) > area.height:
        return None
    spindle = (
        area.left + (area.width - max(xs) - min(xs)) / 2.0,
        area.top + (area.height - max(ys) - min(ys)) / 2.0,
    )
    return Placement(spindle, tuple(_moved(grid, spindle) for grid in grids), ray.turn_deg)


def spindle_target(spindle: Point) -> tuple[Point, ...]:
    """Return the corners of the place that the spindle's target and its words need."""
    x, y = spindle
    left, right = x - SPINDLE_CLEAR, x + SPINDLE_CLEAR
    top, bottom = y - SPINDLE_CLEAR - 8.0, y + SPINDLE_CLEAR + 8.0
    return (left, top), (right, top), (right, bottom), (left, bottom)


def _polar(radius: float, ray_deg: float) -> Point:
    angle = math.radians(ray_deg)
    return radius * math.cos(angle), radius * math.sin(angle)


def _moved(grid: GridPlace, by: Point) -> GridPlace:
    x, y = grid.centre
    return GridPlace(
        grid.name,
        grid.null_radius_mm,
        grid.ray_deg,
        (x + by[0], y + by[1]),
        grid.shape,
        grid.narrowed_in,
        grid.narrowed_out,
    )


def _narrowed(grids: list[GridPlace]) -> list[GridPlace]:
    """Cut the facing sides of two grids back, in steps of 1 mm, until they are clear of each other."""
    if len(grids) < 2:
        return grids
    inner, outer = grids
    cut = 0.0
    while cut < inner.shape.half_width and overlapping(inner.whole(), outer.whole(), ARC_GAP):
        cut += 1.0
        inner = GridPlace(
            inner.name, inner.null_radius_mm, inner.ray_deg, inner.centre, inner.shape, 0.0, cut
        )
        outer = GridPlace(
            outer.name, outer.null_radius_mm, outer.ray_deg, outer.centre, outer.shape, cut, 0.0
        )
    return [inner, outer]


def free_rays(count: int) -> list[Rays]:
    """Return directions to try where each null may stand on its own ray; a common one is liked best."""
    common = [Rays((float(turn),) * count, abs(turn) * 1.0) for turn in range(-45, 50, 5)]
    if count < 2:
        return common
    apart = [
        Rays((float(inner), float(outer)), 10.0 + abs(inner) + abs(outer))
        for inner in range(-60, 95, 5)
        for outer in range(-60, 65, 5)
        if inner != outer
    ]
    return common + apart


def arc_rays(rays_deg: Sequence[float]) -> list[Rays]:
    """Return directions to try where the rays stand as one arm's arc has them: the whole is turned."""
    return [
        Rays(tuple(angle + turn for angle in rays_deg), abs(turn) * 1.0, float(turn))
        for turn in range(-40, 45, 5)
    ]
