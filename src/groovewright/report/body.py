"""The cartridge in plan: its outline about the stylus, and where everything lies on the record.

Seen from above, y down the paper, so that angles are positive clockwise. The platter turns clockwise and the
pivot stands at the rear right::

              .-----.             P pivot
           .'         '.         /
          |      O      |       /
           '.         S'-------'      the record moves away from the pivot under the stylus S
             '-.___.-'
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.quantities import CannotBeDoneError
from groovewright.report.picture import FINE, INK, PAPER, SIGNAL
from groovewright.sheets.drawing import Point, Sketch

PIVOT_BEARING_DEG = 52.0
"""Where the pivot stands, counter-clockwise from the right, seen from the spindle."""

BODY: tuple[Point, ...] = (
    (-7.2, -17.5), (7.2, -17.5), (8.2, -16.5), (8.2, -4.0), (5.2, 4.2), (4.2, 5.0), (-4.2, 5.0),
    (-5.2, 4.2), (-8.2, -4.0), (-8.2, -16.5),
)  # fmt: skip
"""An outline of the house's own about the stylus, the front down, in mm."""

HOLE_HALF_SPACING_MM = 6.35


@dataclass(frozen=True)
class Stand:
    """Where pivot and stylus are, the spindle being (0, 0); the groove runs away from the pivot."""

    pivot: Point
    stylus: Point
    groove_deg: float
    """Clockwise from straight down the paper to the direction in which the record moves."""


def stand_at(pivot_to_spindle_mm: float, effective_length_mm: float, radius_mm: float) -> Stand:
    """Return where everything lies when the stylus is at this radius (law of cosines).

    Raises
    ------
    CannotBeDoneError
        The arm does not reach the radius.
    """
    d, length, r = pivot_to_spindle_mm, effective_length_mm, radius_mm
    cosine = (d * d + r * r - length * length) / (2.0 * d * r)
    if not abs(cosine) <= 1.0:
        raise CannotBeDoneError(
            f"an arm of {length:g} mm does not reach a groove of {r:g} mm radius {d:g} mm from its pivot"
        )
    bearing = math.radians(-PIVOT_BEARING_DEG)
    towards = bearing + math.acos(cosine)
    stylus = (r * math.cos(towards), r * math.sin(towards))
    pivot = (d * math.cos(bearing), d * math.sin(bearing))
    return Stand(pivot, stylus, math.degrees(towards))


def turned(point: Point, about: Point, angle_deg: float, scale: float = 1.0) -> Point:
    """Return a point of an outline, scaled, turned clockwise and put at `about`."""
    cosine, sine = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    x, y = point[0] * scale, point[1] * scale
    return about[0] + x * cosine - y * sine, about[1] + x * sine + y * cosine


def draw_body(
    sketch: Sketch, stylus: Point, angle_deg: float, *, scale: float = 1.0, holes_to_stylus_mm: float = 9.5
) -> None:
    """Draw the cartridge from above with its stylus at a point, turned clockwise from straight down."""

    def at(x: float, y: float) -> Point:
        return turned((x, y), stylus, angle_deg, scale)

    sketch.outline([at(x, y) for x, y in BODY], width=0.32 * scale**0.5, color=INK, fill=PAPER)
    back = min(max(holes_to_stylus_mm, 5.0), 14.0)
    for side in (-1.0, 1.0):
        sketch.circle(
            at(side * HOLE_HALF_SPACING_MM * 0.86, -back), 1.15 * scale, width=0.25 * scale**0.5, color=INK
        )
    sketch.line(at(0, -17.5), at(0, 5.0), width=0.2 * scale**0.5, color=FINE)
    sketch.line(at(0, 0), at(0, 5.0), width=0.45 * scale**0.5, color=SIGNAL)
    sketch.dot(stylus, 0.8 * scale**0.5, color=INK)
