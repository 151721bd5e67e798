"""The band list: what is recorded where on the record and in the file (TOML, see docs/listen.md)."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import Enum
from pathlib import Path
from typing import Any, TypeVar

from groovewright.quantities import (
    GROOVE_RADIUS,
    RPM_33,
    InputError,
    Limits,
    unknown_word,
)

FREQUENCY = Limits("frequency", 0.5, 96_000.0, "Hz")
LEVEL = Limits("level", 0.001, 200.0, "cm/s")
LEVEL_DB = Limits("level", -80.0, 40.0, "dB")
TIME = Limits("time", 0.0, 400_000.0, "s")
SPEED = Limits("platter speed", 10.0, 100.0, "rpm")


_E = TypeVar("_E", bound=Enum)


class Kind(Enum):
    """What a band carries."""

    TONE = "tone"
    TWO_TONES = "two-tones"
    SWEEP = "sweep"
    NOISE = "noise"
    SILENCE = "silence"
    OTHER = "other"


class Channel(Enum):
    """Which motion of the groove a band carries; `UNKNOWN` for a band that was found, not listed."""

    LEFT = "left"
    RIGHT = "right"
    LATERAL = "lateral"
    VERTICAL = "vertical"
    UNKNOWN = "unknown"


class Law(Enum):
    """How a sweep or noise was cut: flat after the ideal replay equaliser, or flat in velocity."""

    EQUALISED = "equalised"
    CONSTANT_VELOCITY = "constant-velocity"
    CONSTANT_AMPLITUDE = "constant-amplitude"


class Replay(Enum):
    """What stood between cartridge and file."""

    EQUALISED = "replay"
    EQUALISED_1976 = "replay-1976"
    NONE = "none"


@dataclass(frozen=True)
class Band:
    """One stretch of the record.

    Parameters
    ----------
    start_s, end_s : float
        Where it is in the file.
    frequency_hz, second_frequency_hz : float or None
        The tone, or the two tones.
    sweep_start_hz, sweep_end_hz : float or None
        Limits of a sweep, in the order in which it runs.
    level_cm_per_s : float or None
        Peak velocity of the motion that `channel` names (of the first tone, for two tones).
    second_level_cm_per_s : float or None
        Peak velocity of the second tone.
    groove_radius_mm : float or None
    """

    name: str
    kind: Kind
    start_s: float
    end_s: float
    channel: Channel = Channel.UNKNOWN
    frequency_hz: float | None = None
    second_frequency_hz: float | None = None
    sweep_start_hz: float | None = None
    sweep_end_hz: float | None = None
    level_cm_per_s: float | None = None
    second_level_cm_per_s: float | None = None
    groove_radius_mm: float | None = None
    law: Law = Law.EQUALISED

    @property
    def duration_s(self) -> float:
        """Length of the band in the file."""
        return self.end_s - self.start_s

    @property
    def is_low_sweep(self) -> bool:
        """Whether the band is a sweep for the arm's resonance: all of it at or below 100 Hz."""
        ends = (self.sweep_start_hz, self.sweep_end_hz)
        return self.kind is Kind.SWEEP and all(end is not None and end <= 100.0 for end in ends)


@dataclass(frozen=True)
class BandList:
    """All bands of one recording and what is common to them.

    Parameters
    ----------
    speed_rpm : float
        At which the record is meant to turn.
    reference_cm_per_s : float
        Peak velocity that 0 dB stands for.
    replay : Replay
        What stood between cartridge and file.
    listed : bool
        False where the bands were found, not given.
    """

    bands: tuple[Band, ...]
    speed_rpm: float = RPM_33
    reference_cm_per_s: float = 5.0
    replay: Replay = Replay.EQUALISED
    listed: bool = True
    name: str = ""
    notes: tuple[str, ...] = field(default=())


BAND_KEYS = (
    "name",
    "kind",
    "start_s",
    "end_s",
    "channel",
    "frequency_hz",
    "second_frequency_hz",
    "sweep_start_hz",
    "sweep_end_hz",
    "level_cm_per_s",
    "level_db",
    "second_level_cm_per_s",
    "groove_radius_mm",
    "law",
)
TOP_KEYS = ("name", "speed_rpm", "reference_cm_per_s", "equaliser", "band")


def read_band_list(path: Path) -> BandList:
    """Return the band list in a TOML file.

    Raises
    ------
    InputError
        No such file, not TOML, or a key or value that is not allowed; the text names the band and the key.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise InputError(f"band list {path} does not exist; docs/listen.md shows one to copy") from None
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is not text"
        raise InputError(
            f"band list {path} can't be read ({why}); docs/listen.md shows one to copy"
        ) from None
    return parse_band_list(text, where=str(path))


def parse_band_list(text: str, *, where: str = "band list") -> BandList:
    """Return the band list that a TOML text describes; errors as in `read_band_list`."""
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{where} is not TOML: {error}") from None
    _known(table, TOP_KEYS, where)
    rows = table.get("band", [])
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        raise InputError(f"{where} lists no band; write at least one [[band]] with kind, start_s and end_s")
    reference = LEVEL.check(table.get("reference_cm_per_s", 5.0), f"{where}: reference_cm_per_s")
    bands = tuple(_band(row, number, reference, where) for number, row in enumerate(rows, start=1))
    return BandList(
        bands=tuple(sorted(_told_apart(bands), key=lambda band: band.start_s)),
        speed_rpm=SPEED.check(table.get("speed_rpm", RPM_33), f"{where}: speed_rpm"),
        reference_cm_per_s=reference,
        replay=_word(table, "equaliser", Replay, Replay.EQUALISED, where),
        name=str(table.get("name", "")),
    )


def _told_apart(bands: tuple[Band, ...]) -> list[Band]:
    """Return the bands with a number behind each name that was there before: measures are kept by name."""
    seen: dict[str, int] = {}
    out = []
    for band in bands:
        seen[band.name] = seen.get(band.name, 0) + 1
        again = seen[band.name] > 1
        out.append(replace(band, name=f"{band.name} ({seen[band.name]})") if again else band)
    return out


def _band(row: Mapping[str, Any], number: int, reference_cm_per_s: float, where: str) -> Band:
    place = f"{where}: band {number}" + (f" ('{row['name']}')" if "name" in row else "")
    _known(row, BAND_KEYS, place)
    if "kind" not in row:
        raise InputError(f"{place}: kind is missing; allowed: {', '.join(kind.value for kind in Kind)}")
    start = _number(row, "start_s", TIME, place)
    end = _number(row, "end_s", TIME, place)
    if start is None or end is None or end - start < 0.5:
        raise InputError(f"{place}: needs start_s and end_s, at least 0.5 s apart; got {start} and {end}")
    band = Band(
        name=str(row.get("name", f"band {number}")),
        kind=_word(row, "kind", Kind, Kind.OTHER, place),
        start_s=start,
        end_s=end,
        channel=_word(row, "channel", Channel, Channel.UNKNOWN, place),
        frequency_hz=_number(row, "frequency_hz", FREQUENCY, place),
        second_frequency_hz=_number(row, "second_frequency_hz", FREQUENCY, place),
        sweep_start_hz=_number(row, "sweep_start_hz", FREQUENCY, place),
        sweep_end_hz=_number(row, "sweep_end_hz", FREQUENCY, place),
        level_cm_per_s=_level(row, reference_cm_per_s, place),
        second_level_cm_per_s=_number(row, "second_level_cm_per_s", LEVEL, place),
        groove_radius_mm=_number(row, "groove_radius_mm", GROOVE_RADIUS, place),
        law=_word(row, "law", Law, Law.EQUALISED, place),
    )
    if band.is_low_sweep and "law" not in row:
        band = replace(band, law=Law.CONSTANT_VELOCITY)
    _needs(band, place)
    return band


def _needs(band: Band, place: str) -> None:
    needed = {
        Kind.TONE: ("frequency_hz",),
        Kind.TWO_TONES: ("frequency_hz", "second_frequency_hz"),
        Kind.SWEEP: ("sweep_start_hz", "sweep_end_hz"),
    }.get(band.kind, ())
    for key in needed:
        if getattr(band, key) is None:
            raise InputError(f"{place}: a {band.kind.value} needs {key}")


def _level(row: Mapping[str, Any], reference_cm_per_s: float, place: str) -> float | None:
    if "level_db" in row and "level_cm_per_s" in row:
        raise InputError(f"{place}: give level_cm_per_s or level_db, not both")
    level_db = _number(row, "level_db", LEVEL_DB, place)
    if level_db is not None:
        return float(reference_cm_per_s * 10.0 ** (level_db / 20.0))
    return _number(row, "level_cm_per_s", LEVEL, place)


def _number(row: Mapping[str, Any], key: str, limits: Limits, place: str) -> float | None:
    return limits.check(row[key], f"{place}: {key}") if key in row else None


def _word(row: Mapping[str, Any], key: str, words: type[_E], default: _E, place: str) -> _E:
    if key not in row:
        return default
    word = str(row[key])
    allowed = [entry.value for entry in words]
    if word not in allowed:
        raise unknown_word(f"{place}: {key}", word, allowed)
    return words(word)


def _known(row: Mapping[str, Any], keys: tuple[str, ...], place: str) -> None:
    for key in row:
        if key not in keys:
            raise unknown_word(f"{place}: key", key, keys)


def band_list_toml(bands: BandList) -> str:
    """Return the band list as TOML that `parse_band_list` reads back, to be checked and corrected by hand."""
    lines = [
        f"name = {_quoted(bands.name)}",
        f"speed_rpm = {bands.speed_rpm!r}",
        f"reference_cm_per_s = {bands.reference_cm_per_s!r}",
        f"equaliser = {_quoted(bands.replay.value)}",
    ]
    for band in bands.bands:
        lines += ["", "[[band]]", f"name = {_quoted(band.name)}", f"kind = {_quoted(band.kind.value)}"]
        lines += [f"channel = {_quoted(band.channel.value)}"]
        for key in BAND_KEYS:
            value = getattr(band, key, None)
            if isinstance(value, int | float) and math.isfinite(value):
                lines.append(f"{key} = {float(value)!r}")
        if band.kind in (Kind.SWEEP, Kind.NOISE):
            lines.append(f"law = {_quoted(band.law.value)}")
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else " " for c in escaped) + '"'
