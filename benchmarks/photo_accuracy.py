"""How well yaw is read from rendered photographs whose truth is known; the tables in docs/vision.md.

Run: .venv/bin/python benchmarks/photo_accuracy.py [--photos 300] [--first 0] [--rows NAME;...] [--sweep]
[--cache FOLDER] [--errors FILE]

Every row is a line of ROWS: how its photographs are set up, how one is read, and whether the truth's geometry
says that it can be read at all. Photographs are kept in the cache folder and used again.
"""

from __future__ import annotations

import argparse
import hashlib
import tempfile
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from groovewright.geometry import alignment_for_nulls
from groovewright.quantities import BenchError, Reading
from groovewright.sheets import Drawing, SheetLabel, two_point_sheet
from groovewright.simulate.photo_scenes import sheet_pixels
from groovewright.simulate.photo_settings import (
    Setting,
    free_setting,
    from_other_side,
    guided_setting,
)
from groovewright.simulate.photo_visible import (
    EDGE_SHARE,
    READABLE_SHARE,
    flange_share_seen,
    front_share_seen,
)
from groovewright.simulate.photograph import Image, Single
from groovewright.vision import MarkedLine, Photo, PhotoReading, fuse_readings, read_photo

SEED = 20261125
MARK_SD_PX = 1.5
WORKERS = 2
USUAL_MM = (1.0, 5.0)
"""How far the body's front stands before the stylus."""
SWEEP_DEG = (10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0)


@dataclass(frozen=True)
class Result:
    """One photograph, or two fused: truth, reading (None: none was given), warned, and whether it can be read."""

    truth: float
    reading: Reading | None
    warned: bool
    possible: bool


@dataclass(frozen=True)
class Row:
    """One row of the table."""

    name: str
    make: Callable[[np.random.Generator], Setting]
    read: Callable[[Setting, np.random.Generator, Path], tuple[Reading | None, bool]]
    possible: Callable[[Setting, Path], bool]


@cache
def sheet() -> tuple[Drawing, Single]:
    """Return the sheet of every photograph, and its print."""
    drawing = two_point_sheet(
        alignment=alignment_for_nulls(222.0, 65.998, 120.891), label=SheetLabel("Fernhill F9", "Löfgren A")
    )
    return drawing, sheet_pixels(drawing)


def taken(setting: Setting, folder: Path) -> Image:
    """Return the photograph of a setting, from the cache where it is there."""
    path = folder / f"{hashlib.sha256(repr(setting).encode()).hexdigest()[:24]}.npy"
    if path.exists():
        return np.asarray(np.load(path), dtype=np.uint8)
    gray = setting.taken(*sheet())
    draft = path.with_suffix(".part.npy")
    np.save(draft, gray)
    draft.replace(path)
    return gray


def one(setting: Setting, folder: Path, lines: tuple[MarkedLine, ...] = ()) -> PhotoReading | None:
    """Return the reading of one photograph; None where the tool says that it can't."""
    try:
        return read_photo(Photo(taken(setting, folder)), lines)
    except BenchError:
        return None


def alone(setting: Setting, _: np.random.Generator, folder: Path) -> tuple[Reading | None, bool]:
    """Read by what the photograph shows: the flag, or else the body."""
    reading = one(setting, folder)
    return (reading.yaw, bool(reading.warnings)) if reading else (None, True)


def both_sides(setting: Setting, random: np.random.Generator, folder: Path) -> tuple[Reading | None, bool]:
    """Read two photographs from opposite sides, fused."""
    readings = [one(setting, folder), one(from_other_side(setting, random), folder)]
    given = [reading for reading in readings if reading is not None]
    if not given:
        return None, True
    yaw, warnings = fuse_readings(given)
    return yaw, bool(warnings)


def marked(setting: Setting, random: np.random.Generator, folder: Path) -> tuple[Reading | None, bool]:
    """Read with the foremost edge of the body's front marked with a hand's error."""
    a, b = setting.front_outline() + random.normal(0.0, MARK_SD_PX, (2, 2))
    line = MarkedLine((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), "front")
    reading = one(setting, folder, (line,))
    return (reading.yaw, bool(reading.warnings)) if reading else (None, True)


def flag_shows(setting: Setting, _: Path) -> bool:
    """Return whether enough of the flag's flange is in view."""
    return flange_share_seen(setting) >= READABLE_SHARE


def front_shows(setting: Setting, folder: Path) -> bool:
    """Return whether the light changes across enough of the body's front edge to be seen."""
    return front_share_seen(setting, taken(setting, folder)) >= EDGE_SHARE


def _guided(random: np.random.Generator) -> Setting:
    return guided_setting(random, with_flag=True, ahead_mm=USUAL_MM)


def _free(random: np.random.Generator) -> Setting:
    return free_setting(random, with_flag=True, ahead_mm=USUAL_MM)


def _bare(random: np.random.Generator) -> Setting:
    return guided_setting(random, with_flag=False, ahead_mm=USUAL_MM)


def _bare_free(random: np.random.Generator) -> Setting:
    return free_setting(random, with_flag=False, ahead_mm=USUAL_MM)


ROWS = (
    Row("flag, as guided", _guided, alone, flag_shows),
    Row("flag, from anywhere", _free, alone, flag_shows),
    Row("flag, from anywhere, two sides", _free, both_sides, flag_shows),
    Row("body, as guided", _bare, alone, front_shows),
    Row("body, as guided, two sides", _bare, both_sides, front_shows),
    Row("body, from anywhere", _bare_free, alone, front_shows),
    Row("body, from anywhere, two sides", _bare_free, both_sides, front_shows),
    Row("line marked, as guided", _bare, marked, front_shows),
)


def result(row: Row, index: int, folder: Path) -> Result:
    """Return what one photograph of a row gives."""
    random = np.random.default_rng(np.random.SeedSequence(SEED, spawn_key=(index,)))
    setting = row.make(random)
    reading, warned = row.read(setting, random, folder)
    return Result(setting.cartridge.yaw_deg, reading, warned, row.possible(setting, folder))


def _numbered(job: tuple[int, int, Path]) -> Result:
    return result(ROWS[job[0]], job[1], job[2])


def shown(name: str, results: list[Result]) -> str:
    """Return one line of the table."""
    read = [r for r in results if r.reading is not None]
    possible = sum(r.possible for r in results)
    of_possible = sum(r.possible and r.reading is not None for r in results) / max(1, possible)
    error = np.array([r.reading.value - r.truth for r in read if r.reading is not None])
    sd = np.array([r.reading.sd for r in read if r.reading is not None])
    head = f"| {name} | {len(results)} | {possible / len(results):.0%} | {of_possible:.1%} |"
    if not len(error):
        return f"{head} - | - | - | - | - | 0 |"
    silent = sum(abs(e) > 0.5 and not r.warned for e, r in zip(error, read, strict=True))
    p68, p95 = np.quantile(np.abs(error), [0.68, 0.95])
    covered = np.mean(np.abs(error) <= 1.959964 * sd)
    return (
        f"{head} {p68:.3f} | {p95:.3f} | {np.abs(error).max():.3f} | {np.median(sd):.3f} | {covered:.1%} | "
        f"{silent} |"
    )


HEAD = (
    "| photos | taken | can show | read of these | 68 % deg | 95 % deg | worst | median sd | covered | "
    ">0.5 unwarned |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |"
)


def _swept(job: tuple[float, int, Path]) -> Result:
    front, index, folder = job
    random = np.random.default_rng(np.random.SeedSequence(SEED, spawn_key=(index, 1)))
    setting = _guided(random)
    setting = replace(setting, camera=replace(setting.camera, front_deg=front))
    reading, warned = alone(setting, random, folder)
    return Result(setting.cartridge.yaw_deg, reading, warned, flag_shows(setting, folder))


def keep_errors(path: Path, name: str, results: list[Result]) -> None:
    """Write the error and the stated uncertainty of every reading of a row, in degrees."""
    head = f"# {name}: error and stated standard uncertainty of each reading in degrees; photo_accuracy.py --errors"
    rows = [f"{r.reading.value - r.truth:.4f},{r.reading.sd:.4f}" for r in results if r.reading is not None]
    path.write_text("\n".join([head, "error_deg,sd_deg", *rows, ""]), encoding="utf-8")


def main() -> None:
    """Print the table, or the sweep of the angle from which the flag is looked at."""
    parser = argparse.ArgumentParser(description="Accuracy of readings from rendered photographs.")
    parser.add_argument("--photos", type=int, default=300, help="photographs a row (300)")
    parser.add_argument("--first", type=int, default=0, help="number of the first photograph (0)")
    parser.add_argument(
        "--rows", default="", help="only rows whose name contains one of these, with semicolons between"
    )
    parser.add_argument("--sweep", action="store_true", help="sweep the view from the front instead")
    parser.add_argument("--cache", type=Path, default=Path(tempfile.gettempdir()) / "photo-accuracy")
    parser.add_argument("--errors", type=Path, help="a CSV file for the errors of the (last) row")
    options = parser.parse_args()
    options.cache.mkdir(parents=True, exist_ok=True)
    wanted = [word.strip() for word in options.rows.split(";") if word.strip()]
    print(HEAD)
    with ProcessPoolExecutor(WORKERS, mp_context=get_context("spawn")) as workers:
        if options.sweep:
            for front in SWEEP_DEG:
                jobs = [(front, index, options.cache) for index in range(options.photos)]
                print(shown(f"flag, {front:g} deg from upright", list(workers.map(_swept, jobs))), flush=True)
            return
        for number, row in enumerate(ROWS):
            if not wanted or any(word in row.name for word in wanted):
                numbers = range(options.first, options.first + options.photos)
                numbered = [(number, index, options.cache) for index in numbers]
                results = list(workers.map(_numbered, numbered, chunksize=4))
                print(shown(row.name, results), flush=True)
                if options.errors:
                    keep_errors(options.errors, row.name, results)


if __name__ == "__main__":
    main()
