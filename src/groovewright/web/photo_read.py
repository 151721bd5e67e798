"""Reading the kept photos of a job for the photo page; what was read once is kept for the pictures beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from groovewright.job import JobState
from groovewright.job.events import LeanRead, Looked, RakeRead
from groovewright.job.photo import photo_lean, photo_look, photo_rake
from groovewright.quantities import BenchError, InputError, Reading
from groovewright.store.files import KeptFile
from groovewright.vision import (
    Frame,
    LeanReading,
    MarkedLine,
    Photo,
    PhotoReading,
    annotated,
    grid_frame,
    load_photo,
    rake_from_lean,
    read_lean,
    read_photo,
    reading_frame,
    rectified,
    whole_frame,
    with_lines,
)
from groovewright.web.photo_asked import Asked

Lines = tuple[MarkedLine, ...]


@dataclass(frozen=True)
class OnePhoto:
    """One photo of the page: what it says by itself, or why it can't be read.

    `frame` is the part of it that its picture shows.
    """

    kept: KeptFile
    frame: Frame
    problem: str = ""
    reading: Reading | None = None
    null: str = ""
    method: str = ""
    warnings: tuple[str, ...] = ()

    @property
    def pictures(self) -> tuple[str, ...]:
        """Return the kinds of picture that there are of it."""
        if self.reading is None:
            return ("plain",)
        return ("seen", "rectified") if self.null else ("seen",)


@dataclass(frozen=True)
class Finding:
    """What the photos of the page say together: the step that they make, or why they make none."""

    photos: tuple[OnePhoto, ...]
    step: Looked | RakeRead | LeanRead | None
    reading: Reading | None
    problem: str
    warnings: tuple[str, ...]


def find(kept: tuple[KeptFile, ...], asked: Asked, state: JobState) -> Finding:
    """Return what the photos say together; nothing is raised for a photo that can't be read."""
    photos = tuple(_one(entry, asked, k) for k, entry in enumerate(kept))
    if not photos:
        return Finding((), None, None, "", ())
    problem = next((photo.problem for photo in photos if photo.problem), "")
    if problem:
        return Finding(photos, None, None, problem, ())
    try:
        return _together(photos, kept, asked, state)
    except BenchError as error:
        return Finding(photos, None, None, str(error), ())


def picture(kept: KeptFile, asked: Asked, place: int, kind: str) -> bytes:
    """Return a PNG of one photo: 'plain', 'seen' (what was read drawn over it) or 'rectified'.

    Raises
    ------
    BenchError
        It can't be read so.
    """
    lines = asked.lines_on(place)
    if kind == "plain":
        return _plain(*_key(kept), lines, asked.what)
    if asked.what != "yaw":
        return _seen_lean(*_key(kept), *_two(lines), asked.looking_down_deg)
    return (_rectified if kind == "rectified" else _seen)(*_key(kept), lines)


PICTURES = ("plain", "seen", "rectified")


def _one(kept: KeptFile, asked: Asked, place: int) -> OnePhoto:
    lines = asked.lines_on(place)
    frame = (0, 0, 0, 0)
    try:
        frame = _frame(*_key(kept), asked.what)
        if asked.what == "yaw":
            read = _read(*_key(kept), lines)
            frame = reading_frame(_photo(*_key(kept)), read)
            return OnePhoto(kept, frame, "", read.yaw, read.null, read.method, read.warnings)
        lean = _lean(*_key(kept), *_two(lines), asked.looking_down_deg)
        return OnePhoto(kept, frame, "", _lean_or_rake(lean, asked))
    except BenchError as error:
        return OnePhoto(kept, frame, str(error))


def _two(lines: Lines) -> tuple[MarkedLine, MarkedLine]:
    if len(lines) != 2:
        raise InputError(
            "mark two lines: one on the edge itself, one on the same edge in the reflection"
            if not lines
            else "mark the second line: the same edge in the reflection"
        )
    return lines[0], lines[1]


def _lean_or_rake(lean: LeanReading, asked: Asked) -> Reading:
    return rake_from_lean(lean, front_is_right=asked.front == "right") if asked.what == "rake" else lean.lean


def _together(
    photos: tuple[OnePhoto, ...], kept: tuple[KeptFile, ...], asked: Asked, state: JobState
) -> Finding:
    if asked.what == "yaw":
        readings = [_read(*_key(entry), asked.lines_on(k)) for k, entry in enumerate(kept)]
        look, warnings = photo_look(readings, state)
        value = look.outer if look.inner is None else look.inner
        return Finding(photos, look, Reading(float(value or 0.0), look.reading_sd_deg or 0.0), "", warnings)
    reading = photos[0].reading
    if len(photos) != 1 or reading is None:
        raise InputError(f"{'rake' if asked.what == 'rake' else 'lean'} is read from one photo at a time")
    step = photo_rake(reading) if asked.what == "rake" else photo_lean(reading)
    return Finding(photos, step, reading, "", ())


def _key(kept: KeptFile) -> tuple[Path, int]:
    return kept.path, kept.size_bytes


@lru_cache(maxsize=4)
def _photo(path: Path, _size: int) -> Photo:
    return load_photo(path)


@lru_cache(maxsize=16)
def _frame(path: Path, size: int, what: str) -> Frame:
    photo = _photo(path, size)
    return grid_frame(photo) if what == "yaw" else whole_frame(photo)


@lru_cache(maxsize=16)
def _read(path: Path, size: int, lines: Lines) -> PhotoReading:
    return read_photo(_photo(path, size), lines)


@lru_cache(maxsize=16)
def _lean(path: Path, size: int, line: MarkedLine, reflection: MarkedLine, down_deg: float) -> LeanReading:
    return read_lean(_photo(path, size), line, reflection, down_deg)


@lru_cache(maxsize=8)
def _plain(path: Path, size: int, lines: Lines, what: str) -> bytes:
    ends = [np.array([line.start, line.end]) for line in lines]
    return with_lines(_photo(path, size), ends, _frame(path, size, what))


@lru_cache(maxsize=8)
def _seen(path: Path, size: int, lines: Lines) -> bytes:
    return annotated(_photo(path, size), _read(path, size, lines))


@lru_cache(maxsize=8)
def _rectified(path: Path, size: int, lines: Lines) -> bytes:
    return rectified(_photo(path, size), _read(path, size, lines))


@lru_cache(maxsize=8)
def _seen_lean(path: Path, size: int, line: MarkedLine, reflection: MarkedLine, down_deg: float) -> bytes:
    found = _lean(path, size, line, reflection, down_deg)
    return with_lines(_photo(path, size), (found.edge.ends(), found.reflection.ends()))


CACHES: tuple[Callable[[], None], ...] = tuple(
    cached.cache_clear for cached in (_photo, _frame, _read, _lean, _plain, _seen, _rectified, _seen_lean)
)


def forget_read() -> None:
    """Let go of everything that was read, as when a photo is deleted."""
    for clear in CACHES:
        clear()
