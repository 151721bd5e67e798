"""The key that turns a look at the inner point into the way to slide, as two small drawings.

Valid after squaring at the outer point (common practice in the trade): front out, counter-clockwise: too
much overhang, slide back; front in, clockwise: slide forward.
"""

from __future__ import annotations

import math

from groovewright.sheets.drawing import FINE, INK, PAPER_WHITE, SIGNAL, Point, Sketch

TILT_DEG = 13.0
KEY_WIDTH = 82.0
KEY_HEIGHT = 66.0
_BODY = ((-5.2, -13.0), (5.2, -13.0), (5.2, 4.5), (3.2, 8.0), (-3.2, 8.0), (-5.2, 4.5))
"""A body in plan, the front down, about the stylus."""


def draw_sign_key(sketch: Sketch, at: Point) -> None:
    """Draw the key with its top left corner at `at`."""
    x, y = at
    sketch.text((x, y + 3.4), "At the inner dot, squared at the outer:", size=3.4, bold=True)
    _figure(
        sketch, (x, y + 7.0), tilt_deg=-TILT_DEG, back=True,
        words=("front points out", "counter-clockwise", "slide back"),
    )  # fmt: skip
    _figure(
        sketch, (x + 43.0, y + 7.0), tilt_deg=TILT_DEG, back=False,
        words=("front points in", "clockwise", "slide forward"),
    )  # fmt: skip


def _figure(sketch: Sketch, at: Point, *, tilt_deg: float, back: bool, words: tuple[str, str, str]) -> None:
    """Draw one look: a turned body over the grid, the spindle to its left, and the way to slide."""
    x, y = at
    stylus = (x + 19.5, y + 22.0)
    rows = range(-18, 15, 4)
    columns = range(-10, 11, 4)
    sketch.strokes(
        [((stylus[0] - 10, stylus[1] + k), (stylus[0] + 10, stylus[1] + k)) for k in rows]
        + [((stylus[0] + k, stylus[1] - 18), (stylus[0] + k, stylus[1] + 14)) for k in columns],
        width=0.1,
        color=FINE,
    )
    sketch.line((stylus[0], stylus[1] - 18), (stylus[0], stylus[1] + 14), width=0.3, color=SIGNAL)
    sketch.outline([_turned(point, stylus, tilt_deg) for point in _BODY], width=0.5, fill=PAPER_WHITE)
    sketch.line(
        _turned((0.0, -13.0), stylus, tilt_deg), _turned((0.0, 8.0), stylus, tilt_deg), width=0.2, color=INK
    )
    sketch.dot(stylus, 0.6)
    sketch.circle((x + 3.4, stylus[1]), 1.4, width=0.35)
    sketch.dot((x + 3.4, stylus[1]), 0.3)
    sketch.text((x, stylus[1] + 4.6), "spindle", size=2.2, color=FINE)
    _arrow(sketch, (x + 34.5, stylus[1] - 2.0), 20.0, up=back)
    sketch.text((x, y + 43.0), words[0], size=3.4, bold=True)
    sketch.text((x, y + 47.6), words[1], size=3.1)
    sketch.text((x, y + 54.2), words[2], size=4.6, bold=True, color=SIGNAL)


def _turned(point: Point, about: Point, angle_deg: float) -> Point:
    cosine, sine = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return about[0] + point[0] * cosine - point[1] * sine, about[1] + point[0] * sine + point[1] * cosine


def _arrow(sketch: Sketch, middle: Point, length: float, *, up: bool) -> None:
    """Draw a broad arrow along the slots."""
    x, y = middle
    way = -1.0 if up else 1.0
    tail, neck, tip = y - way * length / 2.0, y + way * (length / 2.0 - 6.0), y + way * length / 2.0
    sketch.outline(
        ((x - 1.1, tail), (x + 1.1, tail), (x + 1.1, neck), (x + 3.6, neck), (x, tip), (x - 3.6, neck),
         (x - 1.1, neck)),
        fill=SIGNAL,
    )  # fmt: skip
