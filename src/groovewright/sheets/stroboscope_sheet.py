"""The stroboscope sheet: a true-scale disc with a ring of bars for each speed."""

from __future__ import annotations

import math

from groovewright.sheets.drawing import FINE, INK, SIGNAL, Drawing, Point, Sketch
from groovewright.sheets.furniture import (
    FOOT_HEIGHT,
    HEAD_BOTTOM,
    MARGIN,
    draw_foot,
    draw_heading,
    draw_instructions,
)
from groovewright.sheets.grids import draw_spindle, draw_spindle_words
from groovewright.sheets.papers import A4, Paper, PrintCorrection, SheetLabel
from groovewright.sheets.stroboscope import Ring, flashes_for_mains, stroboscope_rings

PANEL_HEIGHT = 53.0
MAINS_FLASHES = (flashes_for_mains(50.0), flashes_for_mains(60.0))
ROOM_FOR_WORDS = 72.0
"""Radius of a disc whose innermost ring leaves room for words below the spindle's target."""
SPEED_NAMES = {"33": "33⅓", "45": "45", "78": "78.26"}

_STEPS = (
    "Cut out the disc and the spindle's circle; lay it on the platter at rest.",
    "Light it with the lamp alone. Many LED lamps don't flash with the mains: use one that does.",
    "The ring of the speed stands still. Drifting with the platter: too fast; against it: too slow.",
)
_CAUTION = (
    "A flashing lamp can trouble people with photosensitive epilepsy. Use a lamp as it is sold; "
    "don't open a lamp or a player on the mains."
)


def stroboscope_sheet(
    *,
    flash_hz: float,
    label: SheetLabel | None = None,
    paper: Paper = A4,
    correction: PrintCorrection | None = None,
) -> Drawing:
    """Return the stroboscope sheet for a lamp that flashes `flash_hz` times in a second.

    Raises
    ------
    InputError
        The flash frequency is out of range, or the label can't be printed.
    """
    rings = stroboscope_rings(flash_hz)
    sketch = Sketch(paper, correction or PrintCorrection())
    figures = [("lamp", f"{flash_hz:g} flashes/s")]
    figures += [(f"{SPEED_NAMES[ring.name]} rpm", f"{ring.bars} bars") for ring in rings]
    draw_heading(sketch, title="Stroboscope", label=_label(label, flash_hz), figures=figures)
    top = HEAD_BOTTOM + 3.0
    room = sketch.height_mm - MARGIN - FOOT_HEIGHT - PANEL_HEIGHT - top - 3.0
    radius = min((sketch.width_mm - 2 * MARGIN) / 2.0, room / 2.0)
    centre = (sketch.width_mm / 2.0, top + radius)
    sketch.circle(centre, radius, width=0.2, color=FINE, dash="2 1.2", name="disc")
    depth, step = radius * 0.145, radius * 0.235
    for k, ring in enumerate(rings):
        outer = radius * 0.975 - k * step
        _draw_ring(sketch, centre, ring, outer - depth, outer)
        _draw_ring_words(sketch, centre, ring, outer - depth, min(3.6, 0.043 * radius))
    draw_spindle(sketch, centre)
    if radius > ROOM_FOR_WORDS:
        draw_spindle_words(sketch, centre)
    _draw_panel(sketch, rings)
    draw_foot(sketch)
    return sketch.finished(
        title=f"Stroboscope for {flash_hz:g} flashes in a second",
        description="True-scale disc: "
        + "; ".join(f"{ring.bars} bars stand still at {ring.exact_rpm:.3f} rpm" for ring in rings)
        + ".",
        facts={"kind": "stroboscope", "paper": paper.name, "flash_hz": float(flash_hz), "radius_mm": radius},
    )


def _label(label: SheetLabel | None, flash_hz: float) -> SheetLabel:
    lamp = f"for a lamp that flashes {flash_hz:g} times in a second"
    mains = f"a mains lamp at {flash_hz / 2.0:g} Hz" if flash_hz in MAINS_FLASHES else ""
    label = label or SheetLabel()
    return SheetLabel(label.arm or lamp, label.criterion or mains, label.grooves, label.for_whom)


def _is_exact(ring: Ring) -> bool:
    """Return whether the bars stand still at the wanted speed, to a hundredth of a percent."""
    return abs(ring.off_percent) < 0.005


def _draw_ring_words(sketch: Sketch, centre: Point, ring: Ring, inner: float, size: float) -> None:
    """Write the speed inside the top of a ring and, where it isn't exact, the true one inside its foot."""
    sketch.text(
        (centre[0], centre[1] - inner + 1.56 * size),
        f"{SPEED_NAMES[ring.name]} rpm",
        size=size,
        bold=True,
        anchor="middle",
    )
    if not _is_exact(ring):
        sketch.text(
            (centre[0], centre[1] + inner - size),
            f"still at {ring.exact_rpm:.3f}",
            size=0.89 * size,
            anchor="middle",
            color=SIGNAL,
        )


def _draw_ring(sketch: Sketch, centre: Point, ring: Ring, inner: float, outer: float) -> None:
    """Draw bars that are as wide as the gaps between them, the first one centred on the paper's top."""
    pitch = 2.0 * math.pi / ring.bars
    outlines = []
    for k in range(ring.bars):
        low, high = (k - 0.25) * pitch, (k + 0.25) * pitch
        outlines.append(
            tuple(
                (centre[0] + r * math.sin(angle), centre[1] - r * math.cos(angle))
                for r, angle in ((inner, low), (outer, low), (outer, high), (inner, high))
            )
        )
    sketch.outlines(outlines, fill=INK, name=f"ring-{ring.name}")


def _draw_panel(sketch: Sketch, rings: tuple[Ring, ...]) -> None:
    top = sketch.height_mm - MARGIN - FOOT_HEIGHT - PANEL_HEIGHT
    right = sketch.width_mm - MARGIN
    sketch.line((MARGIN, top), (right, top), width=0.5)
    sketch.text((MARGIN, top + 7.0), "The bars stand still at", size=3.4, bold=True)
    for k, ring in enumerate(rings):
        y = top + 16.0 + 13.0 * k
        sketch.text((MARGIN, y), f"{SPEED_NAMES[ring.name]} rpm", size=3.4, color=FINE)
        sketch.text((MARGIN, y + 5.6), f"{ring.exact_rpm:.3f} rpm", size=5.0, bold=True)
        off = "exact" if _is_exact(ring) else f"{ring.off_percent:+.2f} %".replace("-", "\u2212")
        sketch.text((MARGIN + 34.0, y + 5.6), off, size=3.4, color=INK if off == "exact" else SIGNAL)
    left = MARGIN + 60.0
    draw_instructions(
        sketch,
        (left, top + 4.0),
        width=right - left,
        bottom=top + PANEL_HEIGHT,
        steps=_STEPS,
        caution=_CAUTION,
    )
