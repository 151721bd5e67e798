"""Listen, drawn: what a recording proved."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise

from groovewright.audio import State, Verdict
from groovewright.job.heard import Curve, Listened
from groovewright.report.picture import (
    FINE,
    INK,
    LINE,
    PAPER,
    SIGNAL,
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
