"""True-scale sheets to print: spindle, grids at the nulls, stylus arc, stroboscope rings. SVG and PDF."""

from groovewright.sheets.drawing import Drawing, svg_text
from groovewright.sheets.papers import A4, LETTER, PAPERS, Paper, PrintCorrection, SheetLabel
from groovewright.sheets.pdf import pdf_bytes
from groovewright.sheets.two_point import two_point_sheet

__all__ = [
    "A4",
    "LETTER",
    "PAPERS",
    "Drawing",
    "Paper",
    "PrintCorrection",
    "SheetLabel",
    "pdf_bytes",
    "svg_text",
    "two_point_sheet",
]
