"""True-scale sheets to print: spindle, grids at the nulls, stylus arc, stroboscope rings. SVG and PDF."""

from groovewright.sheets.arc import arc_sheet
from groovewright.sheets.drawing import Drawing, svg_text
from groovewright.sheets.papers import A4, LETTER, PAPERS, Paper, PrintCorrection, SheetLabel
from groovewright.sheets.pdf import pdf_bytes, png_bytes
from groovewright.sheets.stroboscope import Ring, flashes_for_mains, stroboscope_rings
from groovewright.sheets.stroboscope_sheet import stroboscope_sheet
from groovewright.sheets.two_point import two_point_sheet

__all__ = [
    "A4",
    "LETTER",
    "PAPERS",
    "Drawing",
    "Paper",
    "PrintCorrection",
    "Ring",
    "SheetLabel",
    "arc_sheet",
    "flashes_for_mains",
    "pdf_bytes",
    "png_bytes",
    "stroboscope_rings",
    "stroboscope_sheet",
    "svg_text",
    "two_point_sheet",
]
