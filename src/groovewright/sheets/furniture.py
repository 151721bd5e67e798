"""What stands round the true parts: heading, figures, steps, caution, foot."""

from __future__ import annotations

from collections.abc import Sequence

from groovewright import __version__
from groovewright.sheets.drawing import FINE, INK, SIGNAL, Point, Sketch
from groovewright.sheets.lettering import check_printable, fitted, text_width_mm, wrapped
from groovewright.sheets.papers import SheetLabel

MARGIN = 10.0
"""Printers leave about 5 mm of the paper white, many more at the foot (common practice)."""
HEAD_BOTTOM = 39.0
FOOT_HEIGHT = 8.0

BODY = 3.4
LEADING = 4.7


def draw_heading(
    sketch: Sketch, *, title: str, label: SheetLabel, figures: Sequence[tuple[str, str]]
) -> None:
    """Write title, arm and criterion to the left and up to four figures to the right; rule it off."""
    right = sketch.width_mm - MARGIN
    cell = 36.0
    figures_left = right - 2 * cell
    width = figures_left - MARGIN - 6.0
    sketch.text((MARGIN, 17.5), title, size=8.2, bold=True)
    arm = check_printable(label.arm, "arm")
    text, size = fitted(arm, size_mm=4.8, width_mm=width, smallest_mm=3.4, bold=True)
    sketch.text((MARGIN, 25.0), text, size=size, bold=True, color=SIGNAL)
    criterion = check_printable(label.criterion, "criterion")
    grooves = check_printable(label.grooves, "grooves")
    small = [", ".join(part for part in (criterion, grooves) if part)]
    if label.for_whom:
        small.append(f"for {check_printable(label.for_whom, 'owner')}")
    for k, line in enumerate(part for part in small if part):
        text, size = fitted(line, size_mm=BODY, width_mm=width, smallest_mm=2.8)
        sketch.text((MARGIN, 30.6 + k * 4.8), text, size=size)
    for k, (name, value) in enumerate(figures[:4]):
        x, y = right - cell * (1 - k % 2), 13.0 + 12.5 * (k // 2)
        sketch.text((x, y), name, size=2.9, anchor="end", color=FINE)
        sketch.text((x, y + 5.8), value, size=5.0, bold=True, anchor="end")
    sketch.line((MARGIN, HEAD_BOTTOM), (right, HEAD_BOTTOM), width=0.5)


def draw_foot(sketch: Sketch, *, datum: str) -> None:
    """Write what printing needs to know, the paper, the version, and the printer it is corrected for."""
    y = sketch.height_mm - MARGIN
    right = sketch.width_mm - MARGIN
    correction = sketch.correction
    sketch.line((MARGIN, y - 6.0), (right, y - 6.0), width=0.2)
    mark = f"groovewright {__version__}, {sketch.paper.name}{datum}"
    sketch.text((right, y - 1.6), mark, size=2.8, anchor="end", color=FINE)
    if correction.is_none:
        sketch.text((MARGIN, y - 1.6), "Print at 100 %, without fitting to the page.", size=3.2, bold=True)
        return
    text = (
        "Corrected for a printer whose 100 mm bars measured "
        f"{correction.measured_x_mm:g} across, {correction.measured_y_mm:g} down."
    )
    room = right - MARGIN - text_width_mm(mark, size_mm=2.8) - 4.0
    text, size = fitted(text, size_mm=3.2, width_mm=room, smallest_mm=2.2, bold=True)
    sketch.text((MARGIN, y - 1.6), text, size=size, bold=True, color=SIGNAL)


def draw_steps(sketch: Sketch, at: Point, *, width: float, steps: Sequence[str]) -> float:
    """Write numbered steps and return the y below them."""
    x, y = at
    for k, step in enumerate(steps, start=1):
        sketch.text((x + 3.4, y + 3.0), str(k), size=4.2, bold=True, anchor="middle", color=SIGNAL)
        lines = wrapped(step, size_mm=BODY, width_mm=width - 9.0)
        for line in lines:
            sketch.text((x + 9.0, y + 3.0), line, size=BODY)
            y += LEADING
        y += 1.1
    return y


def draw_caution(sketch: Sketch, at: Point, *, width: float, text: str) -> float:
    """Write a caution behind a bar in the signal colour and return the y below it."""
    x, y = at
    lines = wrapped(text, size_mm=BODY, width_mm=width - 9.0, bold=True)
    height = len(lines) * LEADING + 1.4
    sketch.line((x + 3.4, y), (x + 3.4, y + height), width=1.6, color=SIGNAL)
    for k, line in enumerate(lines):
        sketch.text((x + 9.0, y + 3.8 + k * LEADING), line, size=BODY, bold=True)
    return y + height


def draw_note(
    sketch: Sketch, at: Point, *, width: float, text: str, size: float = 2.9, color: str = INK
) -> float:
    """Write a small paragraph and return the y below it."""
    x, y = at
    for line in wrapped(text, size_mm=size, width_mm=width):
        sketch.text((x, y + size * 0.9), line, size=size, color=color)
        y += size * 1.35
    return y
