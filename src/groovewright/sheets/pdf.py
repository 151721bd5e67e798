"""The same drawing as a PDF of exactly the paper's size, which asks the printer not to scale it."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from groovewright.sheets.drawing import Drawing, number, svg_without_font
from groovewright.sheets.lettering import FONTS

if TYPE_CHECKING:
    import typst

_PAGE = """#set document(title: sys.inputs.title, author: "groovewright")
#set page(width: {width}mm, height: {height}mm, margin: 0pt)
#image(
  bytes(sys.inputs.sheet), format: "svg", width: {width}mm, height: {height}mm, alt: sys.inputs.description
)
"""


@lru_cache(maxsize=1)
def _fonts() -> typst.Fonts:
    import typst

    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(FONTS)])


def pdf_bytes(drawing: Drawing) -> bytes:
    """Return the sheet as a one-page PDF; the same drawing gives the same bytes."""
    return without_print_scaling(_typeset(drawing, "pdf", None))


def png_bytes(drawing: Drawing, *, dots_per_inch: float) -> bytes:
    """Return the sheet as a picture, as a printer of that resolution would draw it."""
    return _typeset(drawing, "png", dots_per_inch)


def _typeset(drawing: Drawing, file_format: Literal["pdf", "png"], dots_per_inch: float | None) -> bytes:
    import typst

    page = _PAGE.format(width=number(drawing.paper.width_mm), height=number(drawing.paper.height_mm))
    return typst.compile(
        page.encode(),
        format=file_format,
        ppi=dots_per_inch,
        font_paths=_fonts(),
        ignore_system_fonts=True,
        sys_inputs={
            "title": drawing.title,
            "description": drawing.description,
            "sheet": svg_without_font(drawing),
        },
        timestamp=0,
    )


def without_print_scaling(content: bytes) -> bytes:
    """Add the entry PrintScaling = None (ISO 32000-2:2020, 12.2, table 147), which print dialogues honour.

    It is added as an incremental update (ISO 32000-2:2020, 7.5.6): the catalog once more, with the entry,
    behind the file as it is. A library would do the same in half a second more, most of it for its import.
    """
    trailer = re.search(rb"trailer\s*<<(.*)>>\s*startxref\s+(\d+)\s+%%EOF\s*$", content, re.DOTALL)
    root = re.search(rb"/Root (\d+) 0 R", trailer[1]) if trailer else None
    catalog = re.search(rb"\n%s 0 obj\n<<(.*?)>>\nendobj" % root[1], content, re.DOTALL) if root else None
    if trailer is None or root is None or catalog is None or b"/PrintScaling" in catalog[1]:
        raise RuntimeError("the typesetter wrote a PDF without a plain trailer and catalog")
    entries = re.sub(rb"/ViewerPreferences<<[^<>]*>>", b"", catalog[1])
    whole = content.rstrip(b"\r\n") + b"\n"
    update = b"%s 0 obj\n<<%s/ViewerPreferences<</Direction/L2R/PrintScaling/None>>>>\nendobj\n" % (
        root[1],
        entries,
    )
    table = b"xref\n%s 1\n%010d 00000 n\r\ntrailer\n<<%s/Prev %s>>\nstartxref\n%d\n%%%%EOF\n" % (
        root[1],
        len(whole),
        trailer[1],
        trailer[2],
        len(whole) + len(update),
    )
    return whole + update + table
