"""Print how long one sheet takes after import: drawing, SVG and PDF, the first and the usual one.

Run it with `.venv/bin/python benchmarks/sheet_speed.py`. The first PDF also loads typesetter and fonts.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median

from groovewright.geometry import alignment_for_nulls
from groovewright.sheets import (
    Drawing,
    SheetLabel,
    arc_sheet,
    pdf_bytes,
    stroboscope_sheet,
    svg_text,
    two_point_sheet,
)

LIMIT_S = 0.3


def seconds(work: Callable[[], object]) -> float:
    """Return how long a piece of work takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main() -> None:
    """Print the table."""
    alignment = alignment_for_nulls(222.0, 65.998, 120.891)
    label = SheetLabel("Fernhill F9", "Löfgren A", "grooves 60.325 to 146.05 mm", "A. Sample")
    sheets: dict[str, Callable[[], Drawing]] = {
        "two-point": lambda: two_point_sheet(alignment=alignment, label=label),
        "arc": lambda: arc_sheet(alignment=alignment, label=label),
        "stroboscope": lambda: stroboscope_sheet(flash_hz=100.0),
    }
    first = seconds(lambda: pdf_bytes(sheets["two-point"]()))
    print(f"first PDF after import: {first:.3f} s (limit {LIMIT_S} s)")
    print(f"{'sheet':<12} {'drawing':>9} {'SVG':>9} {'PDF':>9}   median of 9, in s")
    for name, make in sheets.items():
        drawing = make()
        times = [
            median(seconds(work) for _ in range(9))
            for work in (make, lambda d=drawing: svg_text(d), lambda d=drawing: pdf_bytes(d))
        ]
        print(f"{name:<12} " + " ".join(f"{value:9.4f}" for value in times))


if __name__ == "__main__":
    main()
