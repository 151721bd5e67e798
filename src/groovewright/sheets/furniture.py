"""What stands round the true parts: heading, figures, steps, caution, foot."""

from __future__ import annotations

from collections.abc import Sequence

from groovewright import __version__
from groovewright.sheets.drawing import FINE, SIGNAL, Point, Sketch
from groovewright.sheets.lettering import check_printable, fitted, text_width_mm, wrapped
from groovewright.sheets.papers import SheetLabel

MARGIN = 10.0
"""Printers leave about 5 mm of the paper white, many more at the foot (common practice)."""
HEAD_BOTTOM = 39.0
FOOT_HEIGHT = 8.0

BODY = 3.4
BODY_SIZES = (3.4, 3.2, 3.0, 2.8, 2.6)
LEADING = 1.38
STEP_GAP = 1.1
INDENT = 9.0


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


def draw_foot(sketch: Sketch) -> None:
    """Write what printing needs to know, the paper, the version, and the printer it is corrected for."""
    y = sketch.height_mm - MARGIN
    right = sketch.width_mm - MARGIN
    correction = sketch.correction
    sketch.line((MARGIN, y - 6.0), (right, y - 6.0), width=0.2)
    mark = f"groovewright {__version__}, {sketch.paper.name}"
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


def draw_instructions(
    sketch: Sketch, at: Point, *, width: float, bottom: float, steps: Sequence[str], caution: str
) -> None:
    """Write numbered steps and, behind a bar in the signal colour, a caution, as large as the room allows."""
    x, y = at
    size = next(
        (size for size in BODY_SIZES if y + _height(steps, caution, width, size) <= bottom), BODY_SIZES[-1]
    )
    leading = size * LEADING
    for k, step in enumerate(steps, start=1):
        sketch.text((x + 3.4, y + 3.0), str(k), size=size * 1.24, bold=True, anchor="middle", color=SIGNAL)
        for line in wrapped(step, size_mm=size, width_mm=width - INDENT):
            sketch.text((x + INDENT, y + 3.0), line, size=size)
            y += leading
        y += STEP_GAP
    y += 0.6
    lines = wrapped(caution, size_mm=size, width_mm=width - INDENT, bold=True)
    height = len(lines) * leading + 1.4
    sketch.line((x + 3.4, y), (x + 3.4, y + height), width=1.6, color=SIGNAL)
    for k, line in enumerate(lines):
        sketch.text((x + INDENT, y + 3.8 + k * leading), line, size=size, bold=True)


def _height(steps: Sequence[str], caution: str, width: float, size: float) -> float:
    lines = [line for step in steps for line in wrapped(step, size_mm=size, width_mm=width - INDENT)]
    lines += wrapped(caution, size_mm=size, width_mm=width - INDENT, bold=True)
    return len(lines) * size * LEADING + len(steps) * STEP_GAP + 2.0
