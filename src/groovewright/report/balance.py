"""The arm as a lever: counterweight, pivot, cartridge, and the force on the record."""

from __future__ import annotations

import math

from groovewright.quantities import MN_PER_GF
from groovewright.report.picture import (
    FINE,
    INK,
    PALE,
    PAPER,
    SIGNAL,
    arrow,
    blank_picture,
    finished_picture,
)
from groovewright.report.words import signed
from groovewright.sheets.drawing import Drawing, Sketch

WIDTH, HEIGHT = 120.0, 72.0
BEAM_Y = 36.0
MOST_TILT_DEG = 9.0


def balance_view(
    *,
    force_gf: float,
    force_sd_gf: float,
    target_gf: float | None = None,
    force_min_gf: float | None = None,
    force_max_gf: float | None = None,
    measured: bool = True,
) -> Drawing:
    """Return the balance: the beam tips down at the stylus where the force is above its target, up below.

    Parameters
    ----------
    force_gf, force_sd_gf : number
        The tracking force and its standard uncertainty.
    target_gf : number, optional
        What it was to be set to. The beam tips about this, or about the middle of the range.
    force_min_gf, force_max_gf : number, optional
        The range that the cartridge's maker gives.
    measured : bool
        False: nothing was weighed yet, and the force is what is to be set.
    """
    target = _target(target_gf, force_min_gf, force_max_gf)
    tilt = 0.0 if target is None else max(-1.0, min(1.0, (force_gf - target) / (0.3 * target)))
    sketch = blank_picture(WIDTH, HEIGHT)
    sketch.text((3.0, 6.0), "Tracking force", size=5.0, bold=True)
    spread = f" ± {force_sd_gf:.2f}" if measured else ""
    figures = f"{'' if measured else 'set to '}{force_gf:.2f}{spread} gf = {force_gf * MN_PER_GF:.1f} mN"
    sketch.text((3.0, 13.0), figures, size=5.4, bold=True, color=SIGNAL)
    _draw_beam(sketch, tilt * MOST_TILT_DEG)
    words = _words(force_gf, target_gf)
    bounded = force_min_gf is not None and force_max_gf is not None
    if force_min_gf is not None and force_max_gf is not None:
        _draw_range(sketch, force_gf, force_sd_gf, force_min_gf, force_max_gf)
    if words:
        sketch.text((3.0, 70.0) if not bounded else (3.0, 54.0), words, size=4.2, color=FINE)
    return finished_picture(
        sketch,
        title="Tracking force",
        description=f"{figures}. {words}".strip(),
        tilt_deg=tilt * MOST_TILT_DEG,
    )


def _target(target_gf: float | None, low_gf: float | None, high_gf: float | None) -> float | None:
    if target_gf is not None or low_gf is None or high_gf is None:
        return target_gf
    return 0.5 * (low_gf + high_gf)


def _words(force_gf: float, target_gf: float | None) -> str:
    if target_gf is None:
        return ""
    off = force_gf - target_gf
    return f"Target {target_gf:.2f} gf, off by {signed(off)} gf."


def _draw_beam(sketch: Sketch, tilt_deg: float) -> None:
    pivot = (36.0, BEAM_Y)
    cosine, sine = math.cos(math.radians(tilt_deg)), math.sin(math.radians(tilt_deg))

    def at(x: float, y: float) -> tuple[float, float]:
        return pivot[0] + x * cosine - y * sine, pivot[1] + x * sine + y * cosine

    sketch.outline([(pivot[0], pivot[1] + 1), (pivot[0] - 6, 48.0), (pivot[0] + 6, 48.0)], width=0.5, color=INK,
                   fill=PAPER)  # fmt: skip
    sketch.outline([at(-22, -1), at(66, -1), at(66, 1), at(-22, 1)], width=0.4, color=INK, fill=PAPER)
    sketch.outline([at(-20, -6), at(-10, -6), at(-10, 6), at(-20, 6)], width=0.5, color=INK, fill=PALE)
    sketch.outline([at(60, 1), at(74, 1), at(74, 6), at(64, 6)], width=0.5, color=INK, fill=PALE)
    sketch.line(at(72, 6), at(74.5, 9.5), width=0.6, color=INK)
    sketch.circle(pivot, 2.0, width=0.5, color=INK, fill=PAPER)
    tip = at(74.5, 9.5)
    arrow(sketch, (tip[0], 20.0), (tip[0], 29.0), width=2.2)
    sketch.line((84.0, 48.0), (118.0, 48.0), width=0.5, color=INK)
    sketch.text((118.0, 53.0), "record", size=3.8, color=FINE, anchor="end")
    sketch.text(at(-15, -8), "weight", size=3.8, color=FINE, anchor="middle")


def _draw_range(sketch: Sketch, force_gf: float, sd_gf: float, low_gf: float, high_gf: float) -> None:
    """Draw the maker's range as a bar with the force on it, and its 95 % as a thinner one."""
    span = max(high_gf - low_gf, 0.05)
    first = min(low_gf - 0.25 * span, force_gf - 2.5 * sd_gf)
    last = max(high_gf + 0.25 * span, force_gf + 2.5 * sd_gf)

    def x(force: float) -> float:
        return 8.0 + (force - first) / (last - first) * 104.0

    sketch.line((8.0, 62.0), (112.0, 62.0), width=0.3, color=INK)
    sketch.outline([(x(low_gf), 60.2), (x(high_gf), 60.2), (x(high_gf), 63.8), (x(low_gf), 63.8)], width=0.35,
                   color=INK, fill=PALE)  # fmt: skip
    for end, anchor in ((low_gf, "middle"), (high_gf, "middle")):
        sketch.text((x(end), 69.4), f"{end:g} gf", size=3.9, anchor=anchor)
    sketch.line((x(force_gf - 2 * sd_gf), 62.0), (x(force_gf + 2 * sd_gf), 62.0), width=1.0, color=SIGNAL)
    sketch.outline([(x(force_gf), 60.4), (x(force_gf) - 1.9, 57.0), (x(force_gf) + 1.9, 57.0)], fill=SIGNAL)
