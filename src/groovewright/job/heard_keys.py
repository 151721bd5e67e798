"""What a job may say of a recording: every key of the step `listened`, and what each value may be."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import fields
from typing import Any

from groovewright.audio.bands import FREQUENCY, Channel
from groovewright.audio.identity import CANNOT_TELL, CORRECT, REVERSED, SWAPPED
from groovewright.audio.measures import NUMBER_KEYS, WORD_KEYS
from groovewright.job.checks import Check, choice, flag, iso_date, number, text
from groovewright.job.heard import CURVE_SERIES, CrosstalkHeard
from groovewright.quantities import InputError, Limits, nearest

WORDS = {"leads": (CORRECT, SWAPPED, CANNOT_TELL), "polarity": (CORRECT, REVERSED, CANNOT_TELL)}
"""What the findings that are words may say."""

LONGEST_LIST = 60_000
"""Characters of a band list; twenty bands have about 4,000."""

MOST_ENTRIES = 200
"""Bands, warnings, frequencies, curves of one recording."""

DURATION = Limits("length of a recording", 0.0, 400_000.0, "s")
RATE = Limits("sample rate", 0.0, 1_000_000.0, "Hz")


def _table(value: object, where: str, known: Collection[str], what: str) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise InputError(f"{where} is {value!r:.60}, not a table of {what}")
    for key in value:
        if key not in known:
            near = nearest(str(key), list(known))
            hint = f"; did you mean '{near}'?" if near else f"; known are {', '.join(known)}"
            raise InputError(f"{where}: there is no key '{key}'{hint}")
    return value


def _entries(value: object, where: str) -> list[Any]:
    if not isinstance(value, list) or len(value) > MOST_ENTRIES:
        raise InputError(f"{where} is {value!r:.60}; allowed is a list of at most {MOST_ENTRIES}")
    return list(value)


def finite(value: object, where: str) -> float:
    """Check a number: any that is finite."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise InputError(f"{where} is {value!r:.60}, not a finite number")
    return float(value)


def uncertainty(value: object, where: str) -> float:
    """Check a standard uncertainty: finite, 0 or more."""
    checked = finite(value, where)
    if checked < 0.0:
        raise InputError(f"{where} is {checked:g}; a standard uncertainty is 0 or more")
    return checked


def findings(value: object, where: str) -> dict[str, Any]:
    """Check findings: the keys of docs/listen.md, each number with its partner in `_sd`."""
    known = (*WORD_KEYS, *NUMBER_KEYS, *(f"{key}_sd" for key in NUMBER_KEYS))
    result: dict[str, Any] = {}
    for key, entry in _table(value, where, known, "findings").items():
        check = choice(WORDS[key]) if key in WORDS else uncertainty if key.endswith("_sd") else finite
        result[key] = check(entry, f"{where}, {key}")
    return result


def _by_key(one: Check) -> Check:
    def check(value: object, where: str) -> dict[str, Any]:
        table = _table(value, where, (*WORD_KEYS, *NUMBER_KEYS), "keys of docs/listen.md")
        return {key: one(entry, f"{where}, {key}") for key, entry in table.items()}

    return check


def _list_of(one: Check) -> Check:
    def check(value: object, where: str) -> list[Any]:
        return [
            one(entry, f"{where}, entry {place}") for place, entry in enumerate(_entries(value, where), 1)
        ]

    return check


def _maybe(one: Check) -> Check:
    return lambda value, where: None if value is None else one(value, where)


def _record(keys: dict[str, Check], needed: Collection[str]) -> Check:
    def check(value: object, where: str) -> dict[str, Any]:
        table = _table(value, where, keys, ", ".join(list(keys)[:3]))
        missing = [key for key in needed if key not in table]
        if missing:
            raise InputError(f"{where}: {', '.join(missing)} missing")
        return {key: keys[key](entry, f"{where}, {key}") for key, entry in table.items()}

    return check


def band_list(value: object, where: str) -> str:
    """Check the text of a band list."""
    if not isinstance(value, str) or len(value) > LONGEST_LIST:
        raise InputError(f"{where} is not a text of at most {LONGEST_LIST:,} characters")
    return value


_CROSSTALK: dict[str, Check] = {
    entry.name: uncertainty if entry.name.endswith("_sd") else finite for entry in fields(CrosstalkHeard)
} | {"frequency_hz": number(FREQUENCY)}
_level = number(Limits("level", 0.0, 1000.0, "cm/s"))
_LADDER: dict[str, Check] = {
    "frequency_hz": number(FREQUENCY),
    "channel": choice(tuple(channel.value for channel in Channel)),
    "bands": _list_of(text),
    "levels_cm_per_s": _list_of(_level),
    "left_percent": _list_of(finite),
    "left_percent_sd": _list_of(uncertainty),
    "right_percent": _list_of(finite),
    "right_percent_sd": _list_of(uncertainty),
    "left_breaks_cm_per_s": _maybe(_level),
    "right_breaks_cm_per_s": _maybe(_level),
    "left_clean_cm_per_s": _level,
    "right_clean_cm_per_s": _level,
}
_CURVE: dict[str, Check] = {"kind": choice(tuple(CURVE_SERIES)), "band": text, "channel": text} | {
    name: _list_of(finite) for names in CURVE_SERIES.values() for name in names
}

LISTENED_KEYS: dict[str, Check] = {
    "file": text,
    "as_found": flag,
    "heard_on": lambda value, where: iso_date(value, where) if value else "",
    "duration_s": number(DURATION),
    "sample_rate_hz": number(RATE),
    "encoding": text,
    "complete": flag,
    "bands_from": choice(("list", "found")),
    "band_list": band_list,
    "findings": findings,
    "measured_in": _by_key(_list_of(text)),
    "notes": _by_key(text),
    "withheld": _by_key(text),
    "warnings": _list_of(text),
    "crosstalk": _list_of(_record(_CROSSTALK, _CROSSTALK)),
    "tracking_ability": _list_of(_record(_LADDER, ("frequency_hz", "channel", "bands", "levels_cm_per_s"))),
    "curves": _list_of(_record(_CURVE, ("kind",))),
}
"""Every key of a recording that was heard; docs/job.md says what they mean."""

NAMED_KEYS = ("band_list", "measured_in", "notes", "withheld", "warnings", "tracking_ability", "curves")
"""Keys that hold names of bands or of the record, as a person wrote them."""
