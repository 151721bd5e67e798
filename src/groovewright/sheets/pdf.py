"""The same drawing as a PDF of exactly the paper's size, which asks the printer not to scale it."""

from __future__ import annotations

import io
from functools import lru_cache
from typing import TYPE_CHECKING

from groovewright.sheets.drawing import Drawing, number, svg_without_font
from groovewright.sheets.lettering import FONTS

if TYPE_CHECKING:
    import typst

_PAGE = """#set document(title: sys.inputs.title, author: "groovewright")
#set page(width: {width}mm, height: {height}mm, margin: 0pt)
#image("sheet.svg", width: {width}mm, height: {height}mm, alt: sys.inputs.description)
"""


@lru_cache(maxsize=1)
def _fonts() -> typst.Fonts:
    import typst

    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(FONTS)])


def pdf_bytes(drawing: Drawing) -> bytes:
    """Return the sheet as a one-page PDF; the same drawing gives the same bytes."""
    import typst

    page = _PAGE.format(width=number(drawing.paper.width_mm), height=number(drawing.paper.height_mm))
    content = typst.compile(
        {"main.typ": page.encode(), "sheet.svg": svg_without_font(drawing).encode()},
        format="pdf",
        font_paths=_fonts(),
        ignore_system_fonts=True,
        sys_inputs={"title": drawing.title, "description": drawing.description},
        timestamp=0,
    )
    if not isinstance(content, bytes):
        raise TypeError("one page was asked for and several came out")
    return _without_print_scaling(content)


def _without_print_scaling(content: bytes) -> bytes:
    """Add the entry PrintScaling = None (ISO 32000-2:2020, 12.2, table 147), which print dialogues honour."""
    import pypdf
    from pypdf.generic import DictionaryObject, NameObject

    writer = pypdf.PdfWriter(clone_from=io.BytesIO(content))
    writer.root_object[NameObject("/ViewerPreferences")] = DictionaryObject(
        {NameObject("/PrintScaling"): NameObject("/None")}
    )
    result = io.BytesIO()
    writer.write(result)
    return result.getvalue()
