"""Small drawings for screen and paper: one look, whose colours a page may set.

Every colour is a CSS custom property with the value for paper behind it, so that the same drawing follows a
page's light or dark scheme, stands alone as a file, and goes into a PDF with its colours fixed. The unit is
the millimetre of a picture that is as wide as it says.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from xml.sax.saxutils import escape, quoteattr

from groovewright.sheets.drawing import INK as PRINT_INK
from groovewright.sheets.drawing import Drawing, Point, Sketch, number
from groovewright.sheets.lettering import FAMILY, font_face_css
from groovewright.sheets.papers import Paper

LIGHT = {
    "paper": "#ffffff",
    "ink": "#16181b",
    "fine": "#565d64",
    "line": "#b4b9be",
    "pale": "#f6f4f0",
    "signal": "#c8401e",
}
DARK = {
    "paper": "#15181b",
    "ink": "#f1efe9",
    "fine": "#a9b0b6",
    "line": "#565d64",
    "pale": "#282c30",
    "signal": "#ff8a5c",
}
"""The two schemes; text in ink, fine and signal keeps 4.5 to 1 on paper and on pale (WCAG 2.2, 1.4.3)."""

PAPER, INK, FINE, LINE, PALE, SIGNAL = (f"var(--{name}, {LIGHT[name]})" for name in
                                        ("paper", "ink", "fine", "line", "pale", "signal"))  # fmt: skip

_PROPERTY = re.compile(r"var\(--([a-z]+), #[0-9a-f]{6}\)")


def blank_picture(width_mm: float, height_mm: float) -> Sketch:
    """Return an empty picture to draw on, y down from its top left corner."""
    return Sketch(Paper("picture", width_mm, height_mm))


def finished_picture(sketch: Sketch, *, title: str, description: str, **facts: float | str) -> Drawing:
    """Return the picture with the sentence that stands for it where it can't be seen."""
    sketch.elements = [element.replace(f'"{PRINT_INK}"', f'"{INK}"') for element in sketch.elements]
    return sketch.finished(title=title, description=description, facts=facts)


def inline_svg(drawing: Drawing) -> str:
    """Return the picture as an element of a page: it takes its colours and lettering from there."""
    label = _allowed(f"{drawing.title}. {drawing.description}")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="picture" role="img" aria-label={quoteattr(label)}'
        f' viewBox="0 0 {number(drawing.paper.width_mm)} {number(drawing.paper.height_mm)}"'
        f" font-family={quoteattr(f'{FAMILY}, sans-serif')}>" + "".join(drawing.elements) + "</svg>"
    )


def svg_file(drawing: Drawing, scheme: Mapping[str, str] = LIGHT) -> str:
    """Return the picture as a file of its own, with its lettering, on paper of this scheme."""
    return _file(drawing, scheme, f"<style>{font_face_css(box.text for box in drawing.texts)}</style>")


def svg_for_typesetter(drawing: Drawing) -> str:
    """Return the picture in the colours of paper, for a program that has the house's font."""
    return _file(drawing, LIGHT, "")


def _file(drawing: Drawing, scheme: Mapping[str, str], style: str) -> str:
    width, height = number(drawing.paper.width_mm), number(drawing.paper.height_mm)
    body = _PROPERTY.sub(lambda match: scheme[match[1]], "\n".join(drawing.elements))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm"'
        f' viewBox="0 0 {width} {height}" font-family={quoteattr(f"{FAMILY}, sans-serif")}>\n'
        f"<title>{escape(_allowed(drawing.title))}</title>\n<desc>{escape(_allowed(drawing.description))}</desc>\n{style}"
        f'<rect width="{width}" height="{height}" fill="{scheme["paper"]}"/>\n{body}\n</svg>\n'
    )


def _allowed(text: str) -> str:
    """Return a text without the control characters that XML 1.0 does not allow."""
    return "".join(c for c in text if c in "\t\n\r" or (c >= " " and c not in "\ufffe\uffff"))


def arrow(sketch: Sketch, start: Point, end: Point, *, width: float = 2.0, color: str = SIGNAL) -> None:
    """Draw a broad straight arrow; its head is three widths wide."""
    along = (end[0] - start[0], end[1] - start[1])
    length = (along[0] ** 2 + along[1] ** 2) ** 0.5
    ux, uy = along[0] / length, along[1] / length
    head = min(2.6 * width, 0.6 * length)

    def at(forward: float, left: float) -> Point:
        return start[0] + ux * forward + uy * left, start[1] + uy * forward - ux * left

    half, wide = 0.5 * width, 1.5 * width
    neck = length - head
    sketch.outline(
        (at(0, half), at(neck, half), at(neck, wide), at(length, 0), at(neck, -wide), at(neck, -half),
         at(0, -half)),
        fill=color,
    )  # fmt: skip
