"""Listen, drawn: how to record, and the bands of a recording while they are heard."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from groovewright.audio import Band, Channel, Kind
from groovewright.report.picture import (
    FINE,
    INK,
    LINE,
    PALE,
    PAPER,
    SIGNAL,
    arrow,
    blank_picture,
    finished_picture,
)
from groovewright.sheets.drawing import Drawing, Sketch
from groovewright.web.listen_frame import WIDTH


def chain_view() -> Drawing:
    """Return how a recording is made: from the player to the file."""
    sketch = blank_picture(WIDTH, 74.0)
    sketch.text((3.0, 6.0), "How to record", size=5.0, bold=True)
    middle = 33.0
    sketch.circle((19.0, middle), 15.0, width=0.7, color=INK, fill=PALE)
    for radius in (11.5, 8.5):
        sketch.circle((19.0, middle), radius, width=0.2, color=LINE)
    sketch.dot((19.0, middle), 0.9, color=INK)
    sketch.line((33.0, 17.5), (26.0, 41.0), width=1.0, color=INK)
    sketch.line((26.0, 41.0), (23.0, 43.5), width=1.8, color=SIGNAL)
    for left, words in ((45.0, ("phono", "input")), (84.0, ("recorder", "or computer"))):
        sketch.outline(
            [(left, 22.0), (left + 28.0, 22.0), (left + 28.0, 44.0), (left, 44.0)],
            width=0.7, color=INK, fill=PAPER,
        )  # fmt: skip
        for place, word in enumerate(words):
            sketch.text((left + 14.0, 31.6 + 6.0 * place), word, size=4.1, bold=True, anchor="middle")
    for start, end in ((35.5, 43.5), (74.5, 82.5)):
        arrow(sketch, (start, middle), (end, middle), width=1.6)
    for y, text in (
        (54.5, "Stereo, mono switch off, tone controls flat."),
        (61.5, "Peaks between −20 and −3 dB: try the loudest part first."),
        (68.5, "WAV, FLAC or AIFF; 16 or 24 bits; 44.1 to 192 kHz."),
    ):
        sketch.line((3.0, y - 1.4), (6.0, y - 1.4), width=0.9, color=SIGNAL)
        sketch.text((8.5, y), text, size=4.0)
    return finished_picture(
        sketch,
        title="How to record",
        description="Record player, phono input, recorder: stereo, mono switch off, peaks between -20 and -3 dB.",
    )


LANE_LEFT, LANE_RIGHT = (19.0, 33.0), (35.0, 49.0)
FROM_X, TO_X = 12.0, 117.0


def strip_view(
    listed: Sequence[Band], heard: Sequence[Band], duration_s: float, share: float | None
) -> Drawing:
    """Return a recording from start to end: the channels, the bands in them, those that were heard filled.

    Parameters
    ----------
    listed, heard : sequence of Band
        What the list says, and what has been heard so far.
    share : float or None
        How far listening is, 0 to 1; None where it isn't going on.
    """
    sketch = blank_picture(WIDTH, 62.0)
    length = max([duration_s, 1.0, *(band.end_s for band in (*listed, *heard))])
    sketch.text((3.0, 6.0), "The recording", size=5.0, bold=True)
    sketch.text((TO_X, 6.0), _count(len(heard)) if heard else "", size=4.0, color=FINE, anchor="end")
    for (top, bottom), name in ((LANE_LEFT, "L"), (LANE_RIGHT, "R")):
        sketch.outline([(FROM_X, top), (TO_X, top), (TO_X, bottom), (FROM_X, bottom)], width=0.3, color=LINE)
        sketch.text((FROM_X - 3.0, 0.5 * (top + bottom) + 1.8), name, size=5.0, bold=True, anchor="end")
    done = {(band.name, band.start_s) for band in heard}
    bands = sorted({(band.start_s, band.name): band for band in (*listed, *heard)}.items())
    labels: list[float] = []
    for number, (_, band) in enumerate(bands, 1):
        ends = _time_x(band.start_s, length), _time_x(band.end_s, length)
        _draw_band(sketch, band, ends, (band.name, band.start_s) in done)
        middle = 0.5 * (ends[0] + ends[1])
        if not labels or middle - labels[-1] > 5.4:
            sketch.text((middle, 16.4), str(number), size=3.9, anchor="middle")
            labels.append(middle)
    _draw_minutes(sketch, length)
    if share is not None:
        x = FROM_X + share * (TO_X - FROM_X)
        sketch.line((x, 11.0), (x, 52.0), width=0.9, color=SIGNAL)
        sketch.outline([(x - 2.0, 8.6), (x + 2.0, 8.6), (x, 12.0)], fill=SIGNAL)
    said = ", ".join(band.name for _, (_, band) in zip(range(12), bands, strict=False))
    return finished_picture(
        sketch,
        title="The recording",
        description=f"{len(heard)} of {len(bands)} bands heard in {length:.0f} seconds. {said}",
    )


def _count(heard: int) -> str:
    return f"{heard} band{'s' if heard != 1 else ''} heard"


def _time_x(at_s: float, length_s: float) -> float:
    return FROM_X + min(1.0, max(0.0, at_s / length_s)) * (TO_X - FROM_X)


def _draw_band(sketch: Sketch, band: Band, ends: tuple[float, float], heard: bool) -> None:
    lanes = {Channel.LEFT: (LANE_LEFT,), Channel.RIGHT: (LANE_RIGHT,)}.get(
        band.channel, (LANE_LEFT, LANE_RIGHT)
    )
    first, last = ends[0], max(ends[1], ends[0] + 0.8)
    color = INK if heard else FINE
    for top, bottom in lanes:
        box = [(first, top), (last, top), (last, bottom), (first, bottom)]
        sketch.outline(box, width=0.5, color=color, fill=PALE if heard else "none")
        sketch.strokes(
            list(pairwise(_wave(band, first, last, top, bottom, lanes[-1] == (top, bottom)))),
            width=0.6 if heard else 0.3, color=color,
        )  # fmt: skip


def _wave(
    band: Band, first: float, last: float, top: float, bottom: float, lower: bool
) -> list[tuple[float, float]]:
    """Return a sign for what a band carries: waves, growing waves, two waves, hiss, or a flat line."""
    middle, height = 0.5 * (top + bottom), 0.36 * (bottom - top)
    points = max(8, int((last - first) / 0.25))
    turned = -1.0 if band.channel is Channel.VERTICAL and lower else 1.0
    drawn = []
    for place in range(points + 1):
        share = place / points
        x = first + share * (last - first)
        swing = {
            Kind.TONE: math.sin(2.0 * math.pi * (x - first) / 2.4),
            Kind.TWO_TONES: 0.6 * math.sin(2.0 * math.pi * (x - first) / 4.0)
            + 0.4 * math.sin(2.0 * math.pi * (x - first) / 1.0),
            Kind.SWEEP: math.sin(math.pi * ((last - first) / 2.2) * share**2 * 1.6),
            Kind.NOISE: math.sin(37.0 * x) * math.cos(11.0 * x),
        }.get(band.kind, 0.0)
        drawn.append((x, middle - turned * height * swing))
    return drawn


def _draw_minutes(sketch: Sketch, length_s: float) -> None:
    step = next((step for step in (5.0, 10.0, 30.0, 60.0, 300.0, 600.0) if length_s / step <= 6.0), 1800.0)
    sketch.line((FROM_X, 52.0), (TO_X, 52.0), width=0.5, color=INK)
    at = 0.0
    while at <= length_s:
        x = _time_x(at, length_s)
        sketch.line((x, 52.0), (x, 54.0), width=0.4, color=INK)
        sketch.text((x, 58.6), f"{int(at // 60)}:{int(at % 60):02d}", size=3.9, anchor="middle")
        at += step
