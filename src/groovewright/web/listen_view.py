"""Listen, drawn: how to record, the bands of a recording while they are heard, and what it proved."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from groovewright.audio import Band, Channel, Kind, State, Verdict
from groovewright.job.heard import Curve, Listened
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
from groovewright.web.level_view import lean_view
from groovewright.web.listen_frame import WIDTH, Frame, Scale, draw_curve, draw_frame, draw_key

TURN_PERCENT = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
SWEEP_HZ = ((20.0, "20 Hz"), (100.0, "100"), (1000.0, "1k"), (10_000.0, "10k"), (20_000.0, ""))
ARM_HZ = ((4.0, "4 Hz"), (6.0, "6"), (8.0, "8"), (10.0, "10"), (12.0, "12"), (16.0, "16"), (25.0, "25"))
FLUTTER_HZ = ((0.2, "0.2 Hz"), (1.0, "1"), (4.0, "4"), (10.0, "10"), (50.0, "50"), (200.0, "200"))
DASHES = ("", "3 1.6", "1 1.2", "5 1.5 1 1.5")


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


@lru_cache(maxsize=64)
def heard_drawings(event: Listened, found: tuple[Verdict, ...] = ()) -> tuple[Drawing, ...]:
    """Return what a recording proved, drawn: first what the finding to be looked at next is about.

    A page asks for it more than once, and a recording does not change: it is drawn once.
    """
    drawn = {
        name: drawing
        for name, draw in (
            ("lean", _lean),
            ("crosstalk", _crosstalk),
            ("turn", _turn),
            ("resonance", _resonance),
            ("response", _response),
            ("flutter", _flutter),
        )
        if (drawing := draw(event)) is not None
    }
    about = next(
        (ABOUT[verdict.key] for state in (State.WRONG, State.LOOK) for verdict in found
         if verdict.state is state and verdict.key in ABOUT),
        "",
    )  # fmt: skip
    return tuple(drawing for _, drawing in sorted(drawn.items(), key=lambda entry: entry[0] != about))


ABOUT = {
    "azimuth_deg": "lean",
    "crosstalk_l_to_r_db": "crosstalk",
    "crosstalk_r_to_l_db": "crosstalk",
    "speed_error_percent": "turn",
    "eccentricity_mm": "turn",
    "flutter_weighted_two_sigma_percent": "flutter",
    "resonance_lateral_hz": "resonance",
    "resonance_vertical_hz": "resonance",
    "response_left_db": "response",
    "response_right_db": "response",
}
"""Which drawing shows what a finding is about."""


def _curves(event: Listened, kind: str) -> tuple[Curve, ...]:
    return tuple(curve for curve in event.curves if curve.kind == kind)


def _lean(event: Listened) -> Drawing | None:
    lean = event.finding("azimuth_deg")
    if lean is None or lean.sd is None:
        return None
    # what would print as nought is given as the last place
    return lean_view(lean_deg=float(lean.value), sd_deg=max(1.959964 * lean.sd, 0.051), side_known=True)


def _turn(event: Listened) -> Drawing | None:
    """Return speed over the platter's turn on a circle: outside is fast, inside is slow."""
    curve = next(iter(_curves(event, "turn")), None)
    percent = curve.get("percent") if curve else None
    degrees = curve.get("turn_deg") if curve else None
    if curve is None or not percent or not degrees:
        return None
    sketch = blank_picture(WIDTH, 110.0)
    middle, radius = (47.0, 63.0), 28.0
    largest = max(abs(value) for value in percent)
    full = next((step for step in TURN_PERCENT if step >= largest), largest)
    sketch.text((3.0, 6.0), "Speed over one turn", size=5.0, bold=True)
    sketch.text((3.0, 12.4), f"{curve.band}: against its mean, %", size=3.9, color=FINE)
    for share, width in ((-1.0, 0.2), (-0.5, 0.2), (0.0, 0.6), (0.5, 0.2), (1.0, 0.2)):
        at = radius + 14.0 * share
        sketch.circle(middle, at, width=width, color=INK if share == 0.0 else LINE)
        if share in (-1.0, 1.0):
            sketch.text(
                (middle[0] + 1.2, middle[1] - at + (4.4 if share < 0.0 else -1.2)),
                f"{share * full:+g}".replace("-", "−"),
                size=3.9,
                color=FINE,
            )
    for angle in range(0, 360, 30):
        ends = [_around(middle, at, angle) for at in (radius + 14.0, radius + 16.0)]
        sketch.line(ends[0], ends[1], width=0.4, color=INK)
    sketch.dot(middle, 1.0, color=INK)
    points = [
        _around(middle, radius + 14.0 * value / full, angle)
        for angle, value in zip(degrees, percent, strict=True)
    ]
    sketch.strokes(list(pairwise((*points, points[0]))), width=1.1, color=SIGNAL)
    sketch.text((117.0, 98.0), "outside: fast", size=3.9, anchor="end")
    sketch.text((117.0, 104.0), "inside: slow", size=3.9, anchor="end")
    said = f"Within {largest:.3f} % of the mean"
    off = event.finding("eccentricity_mm")
    if off is not None and off.sd is not None:
        said += f"; the record is {float(off.value):.2f} mm off centre"
        sketch.text((117.0, 26.0), "off centre", size=4.4, bold=True, anchor="end")
        sketch.text((117.0, 32.0), f"{float(off.value):.2f} mm", size=4.4, bold=True, anchor="end")
    return finished_picture(sketch, title="Speed over one turn", description=f"{said}.")


def _around(middle: tuple[float, float], radius: float, degrees: float) -> tuple[float, float]:
    turn = math.radians(degrees)
    return middle[0] + radius * math.sin(turn), middle[1] - radius * math.cos(turn)


def _resonance(event: Listened) -> Drawing | None:
    curves = _curves(event, "resonance")
    if not curves:
        return None
    frame = Frame(
        Scale(4.0, 25.0, ARM_HZ, log=True),
        Scale(-24.0, 0.0, tuple((float(db), f"{db}") for db in range(-24, 1, 6))),
    )
    sketch = blank_picture(WIDTH, 84.0 + 6.0 * len(curves))
    sketch.text((3.0, 6.0), "Resonance of arm and cartridge, heard", size=5.0, bold=True)
    draw_frame(sketch, frame, "dB under the highest point; band: 8 to 12 Hz", band_x=(8.0, 12.0))
    for place, curve in enumerate(curves):
        draw_curve(
            sketch,
            frame,
            (curve.get("frequency_hz") or (), curve.get("level_db") or ()),
            dash=DASHES[place % 4],
            strong=place == 0,
        )
        draw_key(sketch, place, curve.band, dash=DASHES[place % 4], strong=place == 0)
    said = ", ".join(
        f"{name} {float(found.value):.1f} Hz"
        for name, key in (("sideways", "resonance_lateral_hz"), ("up and down", "resonance_vertical_hz"))
        if (found := event.finding(key)) is not None
    )
    return finished_picture(
        sketch,
        title="Resonance of arm and cartridge, heard",
        description=f"{said or 'not certain'}. It should lie from 8 to 12 Hz.",
    )


def _response(event: Listened) -> Drawing | None:
    lines = [
        (f"{side}, {curve.band}", curve.get("frequency_hz") or (), levels)
        for curve in _curves(event, "response")
        for side in ("left", "right")
        if (levels := curve.get(f"{side}_db"))
    ][:4]
    if not lines:
        return None
    largest = max(abs(level) for _, hz, levels in lines for at, level in zip(hz, levels, strict=True)
                  if 30.0 <= at <= 18_000.0)  # fmt: skip
    most = next((db for db in (4.0, 8.0, 16.0) if db >= largest), 16.0)
    frame = Frame(
        Scale(20.0, 20_000.0, SWEEP_HZ, log=True),
        Scale(
            -most,
            most,
            tuple((share * most, f"{share * most:+g}" if share else "0") for share in (-1, -0.5, 0, 0.5, 1)),
        ),
    )
    sketch = blank_picture(WIDTH, 84.0 + 6.0 * len(lines))
    sketch.text((3.0, 6.0), "Frequency response, heard", size=5.0, bold=True)
    draw_frame(sketch, frame, "dB re 1 kHz; band: 2 dB", band_y=(-2.0, 2.0))
    for place, (name, hz, levels) in enumerate(lines):
        draw_curve(sketch, frame, (hz, levels), dash=DASHES[place], strong=place == 0)
        draw_key(sketch, place, name, dash=DASHES[place], strong=place == 0)
    return finished_picture(
        sketch,
        title="Frequency response, heard",
        description=f"{len(lines)} curves; at most {largest:.1f} dB from 1 kHz between 30 Hz and 18 kHz.",
    )


def _crosstalk(event: Listened) -> Drawing | None:
    curves = [curve for curve in _curves(event, "response") if curve.get("crosstalk_db")][:2]
    if not curves and not event.crosstalk:
        return None
    frame = Frame(
        Scale(20.0, 20_000.0, SWEEP_HZ, log=True),
        Scale(-50.0, 0.0, tuple((float(db), f"{db}") for db in range(-50, 1, 10))),
    )
    sketch = blank_picture(WIDTH, 96.0 + 6.0 * len(curves))
    sketch.text((3.0, 6.0), "Crosstalk", size=5.0, bold=True)
    draw_frame(sketch, frame, "dB; band: −25 dB or less", band_y=(-50.0, -25.0))
    for place, curve in enumerate(curves):
        draw_curve(
            sketch,
            frame,
            (curve.get("frequency_hz") or (), curve.get("crosstalk_db") or ()),
            dash=DASHES[place + 1],
        )
        draw_key(sketch, place + 2, f"swept, {curve.band}", dash=DASHES[place + 1])
    for point in event.crosstalk:
        for level, sign in ((point.l_to_r_db, "L"), (point.r_to_l_db, "R")):
            _draw_point(sketch, frame.x(point.frequency_hz), frame.y(level), sign)
    for place, (sign, text) in enumerate((("L", "left heard in right"), ("R", "right heard in left"))):
        _draw_point(sketch, 7.0, 84.0 + 6.0 * place - 1.4, sign)
        sketch.text((14.0, 84.0 + 6.0 * place), text, size=4.0)
    said = "; ".join(
        f"at {point.frequency_hz:g} Hz left into right {point.l_to_r_db:.1f} dB, right into left "
        f"{point.r_to_l_db:.1f} dB"
        for point in event.crosstalk[:3]
    )
    return finished_picture(sketch, title="Crosstalk", description=f"{said or 'as swept'}.")


def _draw_point(sketch: Sketch, x: float, y: float, sign: str) -> None:
    """Draw a measured point: a ring for left into right, a small square, seen inside the ring, for the other."""
    if sign == "L":
        sketch.circle((x, y), 2.6, width=0.9, color=SIGNAL)
    else:
        sketch.outline(
            [(x - 1.0, y - 1.0), (x + 1.0, y - 1.0), (x + 1.0, y + 1.0), (x - 1.0, y + 1.0)],
            width=0.9, color=INK, fill=PAPER,
        )  # fmt: skip


def _flutter(event: Listened) -> Drawing | None:
    curve = next(iter(_curves(event, "flutter")), None)
    hz, percent = (curve.get("frequency_hz"), curve.get("percent")) if curve else (None, None)
    if curve is None or not hz or not percent:
        return None
    frame = Frame(
        Scale(0.2, 200.0, FLUTTER_HZ, log=True),
        Scale(0.0001, 1.0, ((0.0001, "0.0001"), (0.001, "0.001"), (0.01, "0.01"), (0.1, "0.1"), (1.0, "1")), log=True),
    )  # fmt: skip
    sketch = blank_picture(WIDTH, 84.0)
    sketch.text((3.0, 6.0), "What the speed swings with", size=5.0, bold=True)
    draw_frame(sketch, frame, f"{curve.band}: rms deviation in %, by its rate")
    sketch.strokes(
        [((frame.x(at), frame.y(0.0001)), (frame.x(at), frame.y(size))) for at, size in zip(hz, percent, strict=True)],
        width=0.9, color=INK,
    )  # fmt: skip
    highest = max(range(len(hz)), key=lambda place: percent[place])
    sketch.strokes(
        [((frame.x(hz[highest]), frame.y(0.0001)), (frame.x(hz[highest]), frame.y(percent[highest])))],
        width=1.4, color=SIGNAL,
    )  # fmt: skip
    return finished_picture(
        sketch,
        title="What the speed swings with",
        description=f"The largest line is {percent[highest]:.3f} % at {hz[highest]:.2g} Hz.",
    )
