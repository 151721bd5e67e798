"""What a job may say: every section, its keys, and what each value may be."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from groovewright.geometry import CRITERIA, PIVOT_TO_SPINDLE
from groovewright.geometry.headshell import HOLES_TO_STYLUS, SLOT_ANGLE
from groovewright.job.records import ARM_KINDS, CARTRIDGE_KINDS, HEADSHELLS
from groovewright.quantities import (
    CENTIMETRES,
    GROOVE_RADIUS,
    INCHES,
    METRES,
    RADIANS,
    InputError,
    Limits,
    OtherUnit,
    nearest,
    parse_groove_range,
    unknown_word,
)
from groovewright.squaring.policy import TOLERANCE
from groovewright.squaring.record import DISTANCE_SD, SLIDE_MOVED, TURN_MOVED
from groovewright.squaring.words import READING_SD, parse_yaw

Check = Callable[[object, str], Any]
"""(value, where it stands) to the checked value; raises InputError with `where` in front."""

KILOGRAMS = OtherUnit("kilograms", 1000.0)
MILLINEWTONS = OtherUnit("millinewtons", 1.0 / 9.80665)


def number(limits: Limits) -> Check:
    """Return the check for a number within limits."""

    def check(value: object, where: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InputError(f"{where} is {value!r}, not a number; {limits.allowed()}")
        return limits.check(value, where)

    return check


def text(value: object, where: str) -> str:
    """Check a text: at most 500 characters, whatever the script."""
    if not isinstance(value, str):
        raise InputError(f"{where} is {value!r}, not a text; write it in quotation marks")
    if len(value) > 500:
        raise InputError(f"{where} has {len(value)} characters; allowed are 500")
    return value


def choice(words: tuple[str, ...]) -> Check:
    """Return the check for a word from a list."""

    def check(value: object, where: str) -> str:
        if not isinstance(value, str) or value not in words:
            raise unknown_word(where, str(value), words)
        return value

    return check


def yaw(value: object, where: str) -> float | str:
    """Check a yaw: degrees or a word."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise InputError(f"{where} is {value!r}; allowed are degrees or a word such as 'square'")
    parse_yaw(value, 0.0, where)
    return value


def grooves(value: object, where: str) -> Any:
    """Check a groove range: a record's name or 'INNER:OUTER'."""
    try:
        return parse_groove_range(text(value, where))
    except InputError as error:
        raise InputError(f"{where}: {error}") from None


def numbers(limits: Limits) -> Check:
    """Return the check for a list of numbers within limits."""
    one = number(limits)

    def check(value: object, where: str) -> tuple[float, ...]:
        if not isinstance(value, list):
            raise InputError(f"{where} is {value!r}, not a list such as [33.333, 45]")
        return tuple(one(entry, where) for entry in value)

    return check


def iso_date(value: object, where: str) -> str:
    """Check a day: a date of TOML, or a text such as '2026-03-14'."""
    try:
        return date.fromisoformat(value.isoformat() if isinstance(value, date) else str(value)).isoformat()
    except ValueError:
        raise InputError(f"{where} is {value!r}; write the day as year-month-day: 2026-03-14") from None


def _sd(name: str, unit: str) -> Check:
    return number(Limits(f"standard uncertainty of {name}", 0.0, 10.0, unit))


ROOM = Limits("room to slide", 0.0, 50.0, "mm", (INCHES, CENTIMETRES))
MASS = Limits("mass", 0.1, 200.0, "g", (KILOGRAMS,))
FORCE = Limits("tracking force", 0.1, 10.0, "gf", (MILLINEWTONS,))
LENGTH = Limits("effective length", 120.0, 500.0, "mm", (INCHES, METRES))
OFFSET = Limits("offset angle", -45.0, 45.0, "deg", (RADIANS,))
SPEED = Limits("speed", 8.0, 100.0, "rpm")
ARM_HEIGHT = Limits("arm height", -100.0, 200.0, "mm", (INCHES,))
HOURS_PER_WEEK = Limits("play time", 0.0, 168.0, "h a week")
STYLUS_HOURS = Limits("hours on the stylus", 0.0, 20_000.0, "h")

_CARTRIDGE: dict[str, Check] = {
    "name": text,
    "kind": choice(CARTRIDGE_KINDS),
    "stylus": text,
    "holes_to_stylus_mm": number(HOLES_TO_STYLUS),
    "mass_g": number(MASS),
    "force_min_gf": number(FORCE),
    "force_max_gf": number(FORCE),
}

SECTION_KEYS: dict[str, dict[str, Check]] = {
    "job": {"title": text, "shop": text, "owner": text, "date": text, "notes": text},
    "deck": {"name": text, "speeds_rpm": numbers(SPEED)},
    "arm": {
        "name": text,
        "kind": choice(ARM_KINDS),
        "headshell": choice(HEADSHELLS),
        "pivot_to_spindle_mm": number(PIVOT_TO_SPINDLE),
        "pivot_to_spindle_sd_mm": number(DISTANCE_SD),
        "effective_length_mm": number(LENGTH),
        "offset_angle_deg": number(OFFSET),
        "slot_angle_deg": number(SLOT_ANGLE),
        "room_back_mm": number(ROOM),
        "room_forward_mm": number(ROOM),
        "effective_mass_g": number(MASS),
    },
    "cartridge_out": _CARTRIDGE,
    "cartridge_in": _CARTRIDGE,
    "aim": {
        "criterion": choice(CRITERIA),
        "grooves": grooves,
        "null_inner_mm": number(GROOVE_RADIUS),
        "null_outer_mm": number(GROOVE_RADIUS),
        "tolerance_deg": number(TOLERANCE),
        "reading_sd_deg": number(READING_SD),
        "slide_sd_mm": _sd("a slide", "mm"),
        "turn_sd_deg": _sd("a turn", "deg"),
    },
    "kept": {
        "place": text,
        "null_inner_mm": number(GROOVE_RADIUS),
        "null_outer_mm": number(GROOVE_RADIUS),
        "tracking_force_gf": number(FORCE),
        "tracking_force_sd_gf": _sd("the force", "gf"),
        "antiskating": text,
        "counterweight": text,
        "arm_height_mm": number(ARM_HEIGHT),
        "stylus_hours": number(STYLUS_HOURS),
    },
    "play": {
        "hours_per_week": number(HOURS_PER_WEEK),
        "hours_before": number(STYLUS_HOURS),
        "since": iso_date,
    },
}
"""Section, key, check. A key is the name of the record's field."""

STEP_KEYS: dict[str, dict[str, Check]] = {
    "look": {"outer": yaw, "inner": yaw, "reading_sd_deg": number(READING_SD)},
    "moved": {"slide_mm": number(SLIDE_MOVED), "turn_deg": number(TURN_MOVED)},
}
"""The steps of work, each with its keys."""

REQUIRED_STEP_KEYS = {"look": (), "moved": ("slide_mm", "turn_deg")}


def checked(keys: Mapping[str, Check], values: object, where: str) -> dict[str, Any]:
    """Return the checked values of one section or step.

    Raises
    ------
    InputError
        Not a table, an unknown key (the nearest is named), or a value that is not allowed.
    """
    if not isinstance(values, dict):
        raise InputError(f"{where} is {values!r}; it holds keys such as {', '.join(list(keys)[:3])}")
    result = {}
    for key, value in values.items():
        if key not in keys:
            near = nearest(key, keys)
            hint = f"; did you mean '{near}'?" if near else f"; known are {', '.join(keys)}"
            raise InputError(f"{where}: there is no key '{key}'{hint}")
        result[key] = keys[key](value, f"{where}, {key}")
    return result
