"""The lower part of a sheet: what to do, in order, the key to the slide, and the caution."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.sheets.drawing import Sketch
from groovewright.sheets.furniture import FOOT_HEIGHT, MARGIN, draw_instructions
from groovewright.sheets.sign_key import KEY_HEIGHT, KEY_WIDTH, draw_sign_key

PANEL_HEIGHT = 74.0
LOW_PANEL_HEIGHT = 50.0
"""Without the drawn key: for nulls so far apart that the drawing needs the room, and for one null."""

CAUTION = (
    "Amplifier off. Stylus guard on until the stylus is to rest on the dot. The arm may swing: "
    "keep a hand on its lift and hold the platter still."
)

MEASURE = "Measure both bars: 100 mm each. If not, have the sheet drawn again with what they measured."
CUT_OUT = "Cut out the spindle's circle; lay the sheet on the platter over the spindle."
KEY_IN_WORDS = (
    "Square at the outer dot, look at the inner. Front points out (counter-clockwise): slide back. Front "
    "points in (clockwise): slide forward. Square at the outer dot again; done when both are square."
)


@dataclass(frozen=True)
class Steps:
    """The steps of a sheet: beside the drawn key, with the key in words, and where there is only one null."""

    beside_key: tuple[str, ...]
    with_key_in_words: tuple[str, ...]
    for_one_null: tuple[str, ...]


def draw_panel(sketch: Sketch, top: float, steps: Steps, *, nulls: int) -> None:
    """Draw steps and caution below `top`, and the key where there is room and a second null."""
    right = sketch.width_mm - MARGIN
    sketch.line((MARGIN, top), (right, top), width=0.5)
    room = sketch.height_mm - MARGIN - FOOT_HEIGHT - top
    left, words = MARGIN, steps.with_key_in_words
    if nulls < 2:
        words = steps.for_one_null
    elif room > KEY_HEIGHT:
        draw_sign_key(sketch, (MARGIN, top + (room - KEY_HEIGHT) / 2.0 + 1.0))
        left, words = MARGIN + KEY_WIDTH + 5.0, steps.beside_key
    draw_instructions(
        sketch,
        (left, top + 3.6),
        width=right - left,
        bottom=top + room,
        steps=words,
        caution=CAUTION,
    )
