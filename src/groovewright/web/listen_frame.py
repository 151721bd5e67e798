"""The frame of a chart on the page: two scales, a grid, a band of what is wanted, curves and their key."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from groovewright.report.picture import FINE, INK, LINE, PALE, SIGNAL
from groovewright.sheets.drawing import Sketch

WIDTH = 120.0
LEFT, RIGHT, TOP, BOTTOM = 17.0, 115.0, 17.0, 68.0
"""Where the curves lie, in mm of a picture of that width."""


@dataclass(frozen=True)
class Scale:
    """One axis: its ends, and where it is labelled with what."""

    low: float
    high: float
    labels: tuple[tuple[float, str], ...]
    log: bool = False

    def share(self, value: float) -> float:
        """Return how far along the axis a value lies, 0 to 1; beyond the ends, the end."""
        inside = min(max(value, self.low), self.high)
        if self.log:
            return math.log(inside / self.low) / math.log(self.high / self.low)
        return (inside - self.low) / (self.high - self.low)


@dataclass(frozen=True)
class Frame:
    """The two axes of a chart."""

    across: Scale
    up: Scale

    def x(self, value: float) -> float:
        """Return where a value lies from the left."""
        return LEFT + self.across.share(value) * (RIGHT - LEFT)

    def y(self, value: float) -> float:
        """Return where a value lies from the top."""
        return BOTTOM - self.up.share(value) * (BOTTOM - TOP)


def draw_frame(
    sketch: Sketch,
    frame: Frame,
    words: str,
    *,
    band_x: tuple[float, float] | None = None,
    band_y: tuple[float, float] | None = None,
) -> None:
    """Draw grid and labels, and shade what is wanted."""
    if band_x or band_y:
        xs = [frame.x(end) for end in band_x] if band_x else [LEFT, RIGHT]
        ys = [frame.y(end) for end in band_y] if band_y else [BOTTOM, TOP]
        corners = [(xs[0], ys[0]), (xs[1], ys[0]), (xs[1], ys[1]), (xs[0], ys[1])]
        sketch.outline(corners, width=0.3, color=LINE, fill=PALE)
    sketch.text((3.0, 12.6), words, size=3.9, color=FINE)
    for value, name in frame.up.labels:
        y = frame.y(value)
        middle = value == 0.0 and frame.up.low < 0.0 < frame.up.high
        sketch.line((LEFT, y), (RIGHT, y), width=0.4 if middle else 0.15, color=INK if middle else LINE)
        sketch.text((LEFT - 1.6, y + 1.4), name.replace("-", "−"), size=3.9, anchor="end")
    for value, name in frame.across.labels:
        x = frame.x(value)
        sketch.line((x, TOP), (x, BOTTOM), width=0.15, color=LINE)
        sketch.text((x, BOTTOM + 5.6), name, size=3.9, anchor="middle")
    sketch.line((LEFT, BOTTOM), (RIGHT, BOTTOM), width=0.5, color=INK)


def draw_curve(
    sketch: Sketch,
    frame: Frame,
    points: tuple[Sequence[float], Sequence[float]],
    *,
    dash: str = "",
    strong: bool = False,
) -> None:
    """Draw a curve; what lies beyond the frame is left out sideways and ends at its edge upwards."""
    width, color = _pen(strong)
    drawn = [
        (frame.x(at), frame.y(value))
        for at, value in zip(*points, strict=True)
        if frame.across.low <= at <= frame.across.high
    ]
    if not dash:
        sketch.strokes(list(pairwise(drawn)), width=width, color=color)
    elif len(drawn) > 1:
        path = "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in drawn)
        sketch.elements.append(
            f'<path d="{path}" fill="none" stroke="{color}" stroke-width="{width}" stroke-dasharray="{dash}"/>'
        )


def draw_key(sketch: Sketch, place: int, name: str, *, dash: str = "", strong: bool = False) -> None:
    """Say under the chart which line is which."""
    width, color = _pen(strong)
    y = 84.0 + 6.0 * place
    sketch.line((3.0, y - 1.4), (12.0, y - 1.4), width=width, color=color, dash=dash)
    sketch.text((14.0, y), name if len(name) <= 50 else f"{name[:49]}…", size=4.0)


def _pen(strong: bool) -> tuple[float, str]:
    return (1.1, SIGNAL) if strong else (0.8, INK)
