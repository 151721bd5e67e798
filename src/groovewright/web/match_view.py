"""Match, drawn: the resonance on its window, and the response of the loaded cartridge."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from groovewright.report.picture import (
    FINE,
    INK,
    LINE,
    PALE,
    PAPER,
    SIGNAL,
    blank_picture,
    finished_picture,
)
from groovewright.sheets.drawing import Drawing, Sketch

WIDTH = 120.0
LEFT, RIGHT = 14.0, 114.0
LOWEST_HZ, HIGHEST_HZ = 4.0, 25.0
WINDOW_HZ = (8.0, 12.0)
"""Where the resonance should lie (common practice of the trade)."""


def resonance_view(estimates: Sequence[tuple[str, float, float]]) -> Drawing:
    """Return the resonances on a scale of frequency, with 95 % and the window of 8 to 12 Hz.

    Parameters
    ----------
    estimates : sequence of (name, median in Hz, sd of the logarithm)
    """
    height = 37.0 + 12.0 * len(estimates)
    sketch = blank_picture(WIDTH, height)
    sketch.text((3.0, 6.0), "Resonance of arm and cartridge", size=5.0, bold=True)
    low, high = (_hertz_x(end) for end in WINDOW_HZ)
    bottom = height - 13.0
    sketch.outline(
        [(low, 15.0), (high, 15.0), (high, bottom), (low, bottom)], width=0.3, color=LINE, fill=PALE
    )
    sketch.text((0.5 * (low + high), 13.4), "8 to 12 Hz", size=3.9, color=FINE, anchor="middle")
    for place, (name, median, log_sd) in enumerate(estimates):
        _draw_estimate(sketch, 25.0 + 12.0 * place, name, median, log_sd)
    sketch.line((LEFT, bottom), (RIGHT, bottom), width=0.5, color=INK)
    for hertz in (4, 5, 6, 8, 10, 12, 15, 20, 25):
        x = _hertz_x(hertz)
        sketch.line((x, bottom), (x, bottom + 2.0), width=0.4, color=INK)
        sketch.text((x, bottom + 6.4), f"{hertz:g}", size=4.0, anchor="middle")
    sketch.text((RIGHT, bottom + 11.0), "Hz", size=3.9, color=FINE, anchor="end")
    said = "; ".join(f"{name} {median:.1f} Hz" for name, median, _ in estimates)
    return finished_picture(
        sketch, title="Resonance of arm and cartridge", description=f"{said}. It should lie from 8 to 12 Hz."
    )


def _hertz_x(hertz: float) -> float:
    inside = min(max(hertz, LOWEST_HZ), HIGHEST_HZ)
    return LEFT + math.log(inside / LOWEST_HZ) / math.log(HIGHEST_HZ / LOWEST_HZ) * (RIGHT - LEFT)


def _draw_estimate(sketch: Sketch, y: float, name: str, median: float, log_sd: float) -> None:
    ends = [_hertz_x(median * math.exp(side * 1.96 * log_sd)) for side in (-1.0, 1.0)]
    sketch.text((3.0, y - 3.4), f"{name} {median:.1f} Hz", size=4.4, bold=True)
    sketch.line((ends[0], y), (ends[1], y), width=1.0, color=SIGNAL)
    for end in ends:
        sketch.line((end, y - 1.6), (end, y + 1.6), width=0.6, color=SIGNAL)
    sketch.circle((_hertz_x(median), y), 2.1, width=0.9, color=SIGNAL, fill=PAPER)


@dataclass(frozen=True)
class Curve:
    """A response: what it is called, and its level re 1 kHz at each frequency. [each shape=(n,)]"""

    name: str
    hertz: Sequence[float]
    level_db: Sequence[float]


TOP, BOTTOM = 20.0, 62.0
MOST_DB = 8.0


def response_view(used: Curve, best: Curve | None = None) -> Drawing:
    """Return the response of the loaded cartridge from 200 Hz to 20 kHz, and that of the best load on offer."""
    sketch = blank_picture(WIDTH, 78.0)
    sketch.text((3.0, 6.0), "Response of the loaded cartridge", size=5.0, bold=True)
    sketch.outline(
        [(LEFT, _db_y(2)), (RIGHT, _db_y(2)), (RIGHT, _db_y(-2)), (LEFT, _db_y(-2))],
        width=0.2,
        color=LINE,
        fill=PALE,
    )
    for decibels in (-6, -4, -2, 0, 2, 4, 6):
        y = _db_y(decibels)
        sketch.line(
            (LEFT, y), (RIGHT, y), width=0.4 if decibels == 0 else 0.15, color=INK if decibels == 0 else LINE
        )
        if decibels % 4 == 2 or decibels == 0:
            sketch.text(
                (LEFT - 1.6, y + 1.4),
                f"{decibels:+d}".replace("-", "−") if decibels else "0",
                size=3.9,
                anchor="end",
            )
    for hertz, name in (
        (200, "200 Hz"),
        (500, "500"),
        (1000, "1k"),
        (2000, "2k"),
        (5000, "5k"),
        (10000, "10k"),
        (20000, "20k"),
    ):
        x = _response_x(hertz)
        sketch.line((x, TOP), (x, BOTTOM), width=0.15, color=LINE)
        sketch.text((x, BOTTOM + 5.4), name, size=3.9, anchor="middle" if hertz != 20000 else "end")
    if best is not None:
        _draw_curve(sketch, best, width=0.7, color=INK)
    _draw_curve(sketch, used, width=1.1, color=SIGNAL)
    sketch.line((3.0, 72.2), (10.0, 72.2), width=1.1, color=SIGNAL)
    sketch.text((12.0, 73.6), used.name, size=4.0)
    if best is not None:
        sketch.line((62.0, 72.2), (69.0, 72.2), width=0.7, color=INK)
        sketch.text((71.0, 73.6), best.name, size=4.0)
    sketch.text((3.0, 14.6), "dB re 1 kHz; band: 2 dB", size=3.9, color=FINE)
    worst = max(used.level_db, key=abs)
    return finished_picture(
        sketch,
        title="Response of the loaded cartridge",
        description=f"{used.name}: at most {worst:+.1f} dB from 1 kHz."
        + (f" Also {best.name}." if best else ""),
    )


def _response_x(hertz: float) -> float:
    return LEFT + math.log(hertz / 200.0) / math.log(100.0) * (RIGHT - LEFT)


def _db_y(decibels: float) -> float:
    inside = max(-MOST_DB, min(MOST_DB, decibels))
    return 0.5 * (TOP + BOTTOM) - inside / MOST_DB * 0.5 * (BOTTOM - TOP)


def _draw_curve(sketch: Sketch, curve: Curve, *, width: float, color: str) -> None:
    points = [
        (_response_x(hertz), _db_y(level))
        for hertz, level in zip(curve.hertz, curve.level_db, strict=True)
        if 200.0 <= hertz <= 20000.0
    ]
    sketch.strokes(list(pairwise(points)), width=width, color=color)
