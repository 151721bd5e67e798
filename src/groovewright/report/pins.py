"""The four pins of a cartridge as seen from behind: colours with their names."""

from __future__ import annotations

from groovewright.report.picture import FINE, INK, PALE, PAPER, blank_picture, finished_picture
from groovewright.sheets.drawing import Drawing

WIDTH, HEIGHT = 120.0, 80.0

LEADS = (
    ("white", "left signal", "L +", "#ffffff"),
    ("red", "right signal", "R +", "#cf2a27"),
    ("blue", "left return", "L −", "#2457c5"),
    ("green", "right return", "R −", "#1f8a3b"),
)
"""Colour, meaning, letters and tint of each lead: upper row, then lower row, left then right (common practice)."""

NOTE = "The layout varies: read the letters on the cartridge, not this drawing."


def pins_view() -> Drawing:
    """Return the back of a cartridge with its pins; which pin sits where varies and the picture says so."""
    sketch = blank_picture(WIDTH, HEIGHT)
    sketch.text((3.0, 6.0), "The four pins, seen from behind", size=5.0, bold=True)
    sketch.outline([(38.0, 14.0), (82.0, 14.0), (82.0, 58.0), (76.0, 63.0), (44.0, 63.0), (38.0, 58.0)],
                   width=0.6, color=INK, fill=PALE)  # fmt: skip
    for index, (color, meaning, letters, tint) in enumerate(LEADS):
        left = index % 2 == 0
        x, y = (49.0 if left else 71.0), (26.0 if index < 2 else 48.0)
        sketch.circle((x, y), 5.4, width=0.7, color=INK, fill=tint)
        sketch.circle((x, y), 1.5, width=0.5, color=INK, fill=PAPER)
        edge, at, anchor = (x - 5.4, 33.0, "end") if left else (x + 5.4, 87.0, "start")
        sketch.line((edge, y), (at + (1.0 if left else -1.0), y), width=0.4, color=INK)
        sketch.text((at, y - 1.2), color, size=5.0, bold=True, anchor=anchor)
        sketch.text((at, y + 4.4), meaning, size=4.2, anchor=anchor)
        sketch.text((x, y + 11.0), letters, size=4.4, bold=True, anchor="middle")
    sketch.text(
        (3.0, 70.6), "Common practice, not a rule. " + NOTE.split(": ")[0] + ":", size=4.3, color=FINE
    )
    sketch.text((3.0, 76.4), NOTE.split(": ")[1], size=4.3, color=FINE)
    return finished_picture(
        sketch,
        title="The four pins, seen from behind",
        description="; ".join(f"{color}: {meaning} ({letters})" for color, meaning, letters, _ in LEADS)
        + ". "
        + NOTE,
    )
