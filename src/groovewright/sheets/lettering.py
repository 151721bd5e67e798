"""Lettering: the house's font, how wide a text is, and how it is broken into lines."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

from groovewright.quantities import InputError
from groovewright.sheets.metrics import read_advances

FAMILY = "Groovewright Sans"
FONTS = Path(__file__).resolve().parents[1] / "assets" / "fonts"
"""The folder of the font files, inside the package."""

LATIN = frozenset(
    [chr(code) for code in (*range(0x20, 0x7F), *range(0xA0, 0x180))] + list("–—‘’“”…−⅓Ωµ×°±½→")
)
"""The letters of the small files that every SVG carries."""

ASCENT = 0.76
DESCENT = 0.22
"""How far letters reach above and below the baseline, in parts of the size (from the font's own tables)."""


def font_file(*, bold: bool) -> Path:
    """Return the file of one weight."""
    return FONTS / f"GroovewrightSans-{'Bold' if bold else 'Regular'}.ttf"


def latin_file(*, bold: bool) -> Path:
    """Return the small file of one weight that has the letters of `LATIN` only."""
    return FONTS / f"GroovewrightSans-{'Bold' if bold else 'Regular'}-latin.woff"


@lru_cache(maxsize=2)
def _advances(bold: bool) -> dict[int, float]:
    """Return the advance of each character in parts of the size."""
    return read_advances(font_file(bold=bold).read_bytes())


def check_printable(text: str, what: str) -> str:
    """Return `text` on one line where the font has every character of it.

    Raises
    ------
    InputError
        A character can't be printed.
    """
    line = " ".join(text.split())
    known = _advances(False)
    for character in line:
        if ord(character) not in known:
            raise InputError(
                f"{what}: the sheet's lettering has no {character!r} (U+{ord(character):04X}); "
                "it has Latin, Greek and Cyrillic"
            )
    return line


def text_width_mm(text: str, *, size_mm: float, bold: bool = False) -> float:
    """Return the sum of the advances, which no kerning makes wider."""
    advances = _advances(bold)
    return size_mm * sum(advances.get(ord(character), 0.6) for character in text)


def wrapped(text: str, *, size_mm: float, width_mm: float, bold: bool = False) -> list[str]:
    """Return the text as lines no wider than `width_mm` (a single longer word stands alone)."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width_mm(longer, size_mm=size_mm, bold=bold) <= width_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def fitted(
    text: str, *, size_mm: float, width_mm: float, smallest_mm: float, bold: bool = False
) -> tuple[str, float]:
    """Return text and size that fit a width: first made smaller, then cut off with an ellipsis."""
    width = text_width_mm(text, size_mm=size_mm, bold=bold)
    size = size_mm if width <= width_mm else max(smallest_mm, size_mm * width_mm / width)
    if text_width_mm(text, size_mm=size, bold=bold) <= width_mm * (1.0 + 1e-9):
        return text, size
    while text and text_width_mm(text + "…", size_mm=size, bold=bold) > width_mm:
        text = text[:-1]
    return text.rstrip() + "…", size


def font_face_css(texts: Iterable[str]) -> str:
    """Return style rules that carry the letters of `texts`, so that any browser shows the right ones."""
    letters = set("".join(texts))
    rules = []
    for bold, weight in ((False, 400), (True, 700)):
        latin = latin_file(bold=bold).read_bytes()
        data = latin if letters <= LATIN else _cut_down(letters, bold=bold)
        rules.append(
            f'@font-face{{font-family:"{FAMILY}";font-weight:{weight};'
            f'src:url(data:font/woff;base64,{base64.b64encode(data).decode("ascii")}) format("woff")}}'
        )
    return "".join(rules)


def _cut_down(letters: set[str], *, bold: bool) -> bytes:
    """Return the font with these letters only."""
    from fontTools import subset
    from fontTools.ttLib import TTFont

    options = subset.Options(layout_features=["kern", "ccmp", "mark", "mkmk"], recalc_timestamp=False)
    cutter = subset.Subsetter(options)
    cutter.populate(text="".join(sorted(letters)))
    font = TTFont(font_file(bold=bold), recalcTimestamp=False)
    cutter.subset(font)
    font.flavor = "woff"
    content = io.BytesIO()
    font.save(content)
    return content.getvalue()
