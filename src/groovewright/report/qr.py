"""A code that a telephone's camera reads (QR, ISO/IEC 18004), as a picture."""

from __future__ import annotations

from groovewright.report.picture import blank_picture, finished_picture
from groovewright.sheets.drawing import Drawing

QUIET = 4
"""Modules of white around the code (ISO/IEC 18004:2015, 9.1)."""


def code_picture(text: str) -> Drawing:
    """Return the code of a text, dark on white in every scheme, one unit a module."""
    import segno

    code = segno.make(text, error="m", micro=False, boost_error=False, encoding="utf-8")
    rows = [list(row) for row in code.matrix]
    side = len(rows) + 2 * QUIET
    sketch = blank_picture(float(side), float(side))
    path = "".join(
        f"M{column + QUIET} {row + QUIET}h1v1h-1z"
        for row, line in enumerate(rows)
        for column, dark in enumerate(line)
        if dark
    )
    sketch.elements.append(f'<rect width="{side}" height="{side}" fill="#ffffff"/>')
    sketch.elements.append(f'<path d="{path}" fill="#000000" shape-rendering="crispEdges"/>')
    return finished_picture(sketch, title="Code with the settings", description=text.replace("\n", "; "))
