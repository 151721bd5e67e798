"""The guide as one self-contained HTML file and as PDF; the sheet in it is true to scale."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from groovewright.report.guide import Guide
from groovewright.report.page import page
from groovewright.report.typesetting import TEMPLATES, Page, typeset
from groovewright.sheets import A4, Paper, svg_text
from groovewright.sheets.drawing import svg_without_font
from groovewright.sheets.pdf import without_print_scaling

WORD_CHOICES = (
    ("far-out", "far out", "more than 3°"),
    ("out", "out", "plain to see"),
    ("slightly-out", "slightly out", "just to be seen"),
    ("square", "square", ""),
    ("slightly-in", "slightly in", "just to be seen"),
    ("in", "in", "plain to see"),
    ("far-in", "far in", "more than 3°"),
)
"""What an owner may choose for each point: the word, how it is said, what it looks like."""


def _words(guide: Guide) -> dict[str, Any]:
    radii = guide.radii_mm
    return {
        "title": guide.title,
        "shop": guide.shop,
        "owner": guide.owner,
        "things": guide.things,
        "lay_out": guide.lay_out,
        "steps": [asdict(step) for step in guide.steps],
        "points": [
            {"name": name, "radius": "" if radii is None else f", {radii[index]} mm"}
            for index, name in enumerate(guide.points)
        ],
        "sheet_words": "" if radii is None else f"Sheet {radii[0]} and {radii[1]}. ",
        "sheet_key": "" if radii is None else f"{radii[0]},{radii[1]}",
        "choices": WORD_CHOICES,
    }


def guide_html(guide: Guide, *, paper: Paper = A4) -> str:
    """Return the guide as HTML; the same guide gives the same text."""
    words = {
        **_words(guide),
        "paper": "letter" if paper.name != A4.name else "a4",
        "has_sheet": guide.sheet is not None,
    }
    script = (TEMPLATES / "compose.js").read_text("utf-8") if guide.points else ""
    return page(
        "guide.html",
        words,
        guide.drawings,
        letters=json.dumps(words, ensure_ascii=False),
        script=script,
        sheet=svg_text(guide.sheet) if guide.sheet is not None else "",
    )


def guide_pdf(guide: Guide, *, paper: Paper = A4) -> bytes:
    """Return the guide as PDF, its last page the sheet; the same guide gives the same bytes."""
    data = {
        **_words(guide),
        "author": guide.shop,
        "foot": guide.title if len(guide.title) <= 90 else guide.title[:89] + "…",
        "page": {"width": paper.width_mm, "height": paper.height_mm},
    }
    sheet = None
    if guide.sheet is not None:
        size = guide.sheet.paper
        sheet = Page(size.width_mm, size.height_mm, svg_without_font(guide.sheet), guide.sheet.description)
    return without_print_scaling(typeset("guide.typ", data, guide.drawings, last_page=sheet))
