"""How well yaw is read from rendered photographs whose truth is known; the table in docs/vision.md.

Run: .venv/bin/python benchmarks/photo_accuracy.py [PHOTOS PER ROW [PART OF A ROW'S NAME]]
"""

from __future__ import annotations

import sys
from collections.abc import Callable

import numpy as np

from groovewright.geometry import alignment_for_nulls
from groovewright.quantities import BenchError, Reading
from groovewright.sheets import SheetLabel, two_point_sheet
from groovewright.simulate.photo_scenes import sheet_pixels
from groovewright.simulate.photo_settings import Setting, free_setting, from_other_side, guided_setting
from groovewright.vision import MarkedLine, Photo, PhotoReading, fuse_readings, read_photo

SEED = 20261125
MARK_SD_PX = 1.5
DRAWING = two_point_sheet(
    alignment=alignment_for_nulls(222.0, 65.998, 120.891), label=SheetLabel("Fernhill F9", "Löfgren A")
)
SHEET = sheet_pixels(DRAWING)

Row = list[tuple[float, Reading | None, bool]]
"""For each photo the truth, the reading (None: none was given), and whether something was warned of."""


def one(setting: Setting, lines: tuple[MarkedLine, ...] = ()) -> PhotoReading | None:
    """Return the reading of one photograph; None where the tool says that it can't."""
    try:
        return read_photo(Photo(setting.taken(DRAWING, SHEET)), lines)
    except BenchError:
        return None


def alone(setting: Setting, _: np.random.Generator) -> tuple[Reading | None, bool]:
    """Read by what the photograph shows: the flag, or else the body."""
    reading = one(setting)
    return (reading.yaw, bool(reading.warnings)) if reading else (None, True)


def both_sides(setting: Setting, random: np.random.Generator) -> tuple[Reading | None, bool]:
    """Read two photographs from opposite sides, fused."""
    readings = [one(setting), one(from_other_side(setting, random))]
    given = [reading for reading in readings if reading is not None]
    if not given:
        return None, True
    yaw, warnings = fuse_readings(given)
    return yaw, bool(warnings)


def marked(setting: Setting, random: np.random.Generator) -> tuple[Reading | None, bool]:
    """Read with the lower edge of the body's front marked with a hand's error."""
    a, b = setting.lower_front_edge() + random.normal(0.0, MARK_SD_PX, (2, 2))
    line = MarkedLine((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), "front")
    reading = one(setting, (line,))
    return (reading.yaw, bool(reading.warnings)) if reading else (None, True)


def row_of(
    count: int,
    make: Callable[[np.random.Generator], Setting],
    read: Callable[[Setting, np.random.Generator], tuple[Reading | None, bool]],
) -> Row:
    """Return truth and reading for a number of photographs."""
    found: Row = []
    for seed in np.random.SeedSequence(SEED).spawn(count):
        random = np.random.default_rng(seed)
        setting = make(random)
        found.append((setting.cartridge.yaw_deg, *read(setting, random)))
    return found


def shown(name: str, row: Row) -> str:
    """Return one line of the table."""
    read = [(truth, reading, warned) for truth, reading, warned in row if reading is not None]
    error = np.array([reading.value - truth for truth, reading, _ in read])
    sd = np.array([reading.sd for _, reading, _ in read])
    silent = sum(abs(r.value - truth) > 0.5 and not warned for truth, r, warned in read)
    if not len(error):
        return f"| {name} | {len(row)} | 0 % | - | - | - | - | 0 |"
    p68, p95 = np.quantile(np.abs(error), [0.68, 0.95])
    covered = np.mean(np.abs(error) <= 1.959964 * sd)
    return (
        f"| {name} | {len(row)} | {len(read) / len(row):.0%} | {p68:.3f} | {p95:.3f} | {np.median(sd):.3f} | "
        f"{covered:.1%} | {silent} |"
    )


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    usual = (1.0, 5.0)
    rows = (
        ("flag, as guided", lambda r: guided_setting(r, with_flag=True, ahead_mm=usual), alone),
        ("flag, from anywhere", lambda r: free_setting(r, with_flag=True, ahead_mm=usual), alone),
        (
            "flag, from anywhere, two sides",
            lambda r: free_setting(r, with_flag=True, ahead_mm=usual),
            both_sides,
        ),
        ("body, as guided", lambda r: guided_setting(r, with_flag=False, ahead_mm=usual), alone),
        (
            "body, as guided, two sides",
            lambda r: guided_setting(r, with_flag=False, ahead_mm=usual),
            both_sides,
        ),
        ("body, from anywhere", lambda r: free_setting(r, with_flag=False, ahead_mm=usual), alone),
        ("line marked, as guided", lambda r: guided_setting(r, with_flag=False, ahead_mm=usual), marked),
    )
    print("| photos | taken | read | 68 % deg | 95 % deg | median sd | covered | >0.5 unwarned |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    part = sys.argv[2] if len(sys.argv) > 2 else ""
    for name, make, read in (row for row in rows if part in row[0]):
        print(shown(name, row_of(count, make, read)), flush=True)


if __name__ == "__main__":
    main()
