"""Make the demo's photographs, which `groovewright demo` writes and the help of `photo` reads.

Run it after a change of the sheet or of the renderer: ``.venv/bin/python tools/remake_demo_photos.py``.
"""

from __future__ import annotations

from pathlib import Path

from PIL import Image

from groovewright.geometry import alignment_for_nulls
from groovewright.sheets import SheetLabel, two_point_sheet
from groovewright.simulate.demo_photo import demo_photos

FOLDER = Path(__file__).parents[1] / "src" / "groovewright" / "demo"
QUALITY = 80


def main() -> None:
    """Write every photograph of the demo as a JPEG."""
    drawing = two_point_sheet(
        alignment=alignment_for_nulls(222.0, 65.998, 120.891), label=SheetLabel("Fernhill F9", "Löfgren A")
    )
    for name, gray in demo_photos(drawing).items():
        Image.fromarray(gray).save(FOLDER / f"fernhill-{name}.jpg", "JPEG", quality=QUALITY)


if __name__ == "__main__":
    main()
