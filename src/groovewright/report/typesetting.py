"""From content to PDF: typst with the house's fonts, so that the same content gives the same bytes."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from groovewright.report.picture import svg_for_typesetter
from groovewright.sheets.drawing import Drawing
from groovewright.sheets.lettering import FONTS, font_file
from groovewright.sheets.metrics import read_advances

if TYPE_CHECKING:
    import typst

TEMPLATES = Path(__file__).resolve().parent / "templates"
WIDE_FONT = FONTS.with_name("fonts_wide") / "GroovewrightWide-Regular.ttf"
"""The fallback font for Chinese, Japanese and Korean."""


@dataclass(frozen=True)
class Page:
    """A page that is put behind the others as it is, for a sheet that is true to scale."""

    width_mm: float
    height_mm: float
    svg: str
    description: str


MISSING_NOTE = (
    "Some letters on this paper are not in its own lettering. Where you see boxes, the HTML file shows them."
)


@lru_cache(maxsize=2)
def _fonts(with_the_machines: bool) -> typst.Fonts:
    import typst

    return typst.Fonts(
        include_system_fonts=with_the_machines,
        include_embedded_fonts=False,
        font_paths=[str(FONTS), str(WIDE_FONT.parent)],
    )


@lru_cache(maxsize=2)
def _letters_of(file: Path) -> frozenset[int]:
    return frozenset(read_advances(file.read_bytes()))


def has_foreign_letters(text: str) -> bool:
    """Return whether a text has letters that the house's fonts lack, such as Arabic or Devanagari."""
    left = {ord(letter) for letter in text if letter.isprintable()} - _letters_of(font_file(bold=False))
    return bool(left) and bool(left - _letters_of(WIDE_FONT))


def typeset(
    template: str,
    content: Mapping[str, Any],
    drawings: Mapping[str, Drawing],
    *,
    images: Mapping[str, str] | None = None,
    day: date | None = None,
    last_page: Page | None = None,
) -> bytes:
    """Return a PDF: `template` is a file of the folder `templates`, the content goes in as JSON.

    `images` are further SVG files by the name of their input. `day` is the date that the file carries;
    1 January 1970 where there is none. Letters that the house's fonts lack are taken from the machine's fonts,
    if it has them, and the foot of the paper says so.
    """
    import typst

    inputs = {f"drawing-{name}": svg_for_typesetter(drawing) for name, drawing in drawings.items()}
    alts = {name: f"{drawing.title}. {drawing.description}" for name, drawing in drawings.items()}
    sizes = {name: drawing.paper.width_mm / drawing.paper.height_mm for name, drawing in drawings.items()}
    foreign = has_foreign_letters(json.dumps(content, ensure_ascii=False))
    data = {
        **content,
        "alts": alts,
        "ratios": sizes,
        "sheet": None,
        "missing": MISSING_NOTE if foreign else "",
    }
    if last_page is not None:
        inputs["sheet"] = last_page.svg
        data["sheet"] = {
            "width": last_page.width_mm,
            "height": last_page.height_mm,
            "alt": last_page.description,
        }
    moment = 0 if day is None else int(datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp())
    source = (TEMPLATES / "look.typ").read_bytes() + (TEMPLATES / template).read_bytes()
    return typst.compile(
        source,
        format="pdf",
        font_paths=_fonts(foreign),
        ignore_system_fonts=not foreign,
        sys_inputs={"data": json.dumps(data, ensure_ascii=False), **inputs, **(images or {})},
        timestamp=moment,
    )
