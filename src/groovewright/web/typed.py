"""From what a person types into a field to the value that the job's own check takes, and back."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import MISSING, fields
from typing import Any

from groovewright.job import Described, Event, JobState
from groovewright.job.events import STEP_KINDS, step_of_values
from groovewright.job.keys import SECTION_KEYS, STEP_KEYS, checked
from groovewright.job.records import RECORDS, Record
from groovewright.quantities import InputError, unknown_word
from groovewright.web.fields import SECTION_FIELDS, STEP_FIELDS, YES_NO, Field

MOST_TYPED = 2000
"""Characters of one field; a job's text has at most 500, and the check says so."""

TICKS = ("checked", "unchecked")
LISTS = ("speeds_rpm", "offered_ohm", "offered_pF")
WORDS_OR_NUMBERS = ("outer", "inner")

_NUMBER = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:e[+-]?\d{1,3})?)", re.ASCII | re.IGNORECASE)
_PARTS = re.compile(r"([+-]?)(?:(\d{1,4})[ -])?(\d{1,4})/(\d{1,4})", re.ASCII)
_UNITS = {"": 1.0, "mm": 1.0, "cm": 10.0, "m": 1000.0, '"': 25.4, "in": 25.4, "inch": 25.4, "inches": 25.4}


def typed_number(text: str, unit: str, where: str) -> float:
    """Return the number of a text: '222', '222,5', '8.74 in' or '8 3/4"' where the unit is mm.

    Raises
    ------
    InputError
        It is no number.
    """
    said = text.strip().replace("−", "-").replace("″", '"').replace("\u00a0", " ")
    if said.count(",") == 1 and "." not in said:
        said = said.replace(",", ".")
    number, rest = _leading_number(said)
    allowed = _UNITS if unit == "mm" else {"": 1.0, unit.lower(): 1.0}
    factor = allowed.get(rest.strip().lower())
    if number is None or factor is None:
        also = ', or inches such as 8.74 in or 8 3/4"' if unit == "mm" else ""
        raise InputError(f"{where}: '{text.strip()[:40]}' is not a number; write it as 12.5{also}")
    # a hundredth of a micrometre: what comes of inches has no more idle digits than what is typed
    return number if factor == 1.0 else round(number * factor, 5)


def _leading_number(said: str) -> tuple[float | None, str]:
    parts = _PARTS.match(said)
    if parts and float(parts[4]):
        size = float(parts[2] or 0) + float(parts[3]) / float(parts[4])
        return (-size if parts[1] == "-" else size), said[parts.end() :]
    match = _NUMBER.match(said)
    return (float(match[1]), said[match.end() :]) if match else (None, said)


def typed_value(group: str, key: str, field: Field, text: str) -> Any:
    """Return the value of one filled field, as the job's check takes it."""
    where = field.label
    if len(text) > MOST_TYPED:
        raise InputError(f"{where} has {len(text)} characters; that is too long")
    if field.choices == YES_NO:
        return text == "yes"
    if key in LISTS:
        parts = [part for part in re.split(r"[;\s]+|,\s+|,(?=\d{2,})", text.strip()) if part]
        return [typed_number(part.rstrip(","), field.unit, where) for part in parts]
    if key in WORDS_OR_NUMBERS and group == "look" and any(letter.isalpha() for letter in text):
        return text.strip().lower().replace(" ", "-")
    if field.step is not None:
        return typed_number(text, field.unit, where)
    return text.replace("\r\n", "\n").strip()


def typed_values(group: str, given: Mapping[str, str]) -> dict[str, Any]:
    """Return the checked values of the filled fields of a section or step; empty ones are left out.

    Raises
    ------
    InputError
        A key that isn't there, or a value that is not allowed: the text begins with the field's label.
    """
    known = {**SECTION_FIELDS, **STEP_FIELDS}.get(group)
    keys = {**SECTION_KEYS, **STEP_KEYS}.get(group)
    if known is None or keys is None:
        raise unknown_word("part of a job", group, {**SECTION_FIELDS, **STEP_FIELDS})
    values = {}
    for key, text in given.items():
        if key not in known:
            raise unknown_word(f"field of {group}", key, known)
        if text.strip():
            values[key] = keys[key](typed_value(group, key, known[key], text), known[key].label)
    return values


def described(state: JobState, section: str, given: Mapping[str, str]) -> Described:
    """Return the section as it stands with the given fields changed; an empty field says 'not known'.

    Raises
    ------
    InputError
        A value is not allowed, or two don't go together.
    """
    values = typed_values(section, given)
    emptied = [key for key in given if key not in values]
    record = getattr(state, section) or RECORDS[section]()
    kept = {field.name: getattr(record, field.name) for field in fields(record)}
    merged = {key: value for key, value in {**kept, **values}.items() if key not in emptied}
    return Described(section, RECORDS[section](**merged))


def step_of(kind: str, given: Mapping[str, str]) -> Event:
    """Return the step of a filled form.

    Raises
    ------
    InputError
        A value is not allowed or missing.
    """
    values = typed_values(kind, given) if kind not in TICKS else checked(STEP_KEYS[kind], dict(given), kind)
    return step_from(kind, values)


def step_from(kind: str, values: Mapping[str, Any]) -> Event:
    """Return the step with these checked values.

    Raises
    ------
    InputError
        One is missing, or a look says nothing.
    """
    if kind == "look" and values.get("outer") is None and values.get("inner") is None:
        raise InputError("Fill in at least one point: degrees, or a word such as square")
    needed = [entry.name for entry in fields(STEP_KINDS[kind]) if entry.default is MISSING]
    missing = [name for name in needed if name not in values]
    if missing:
        labels = [STEP_FIELDS[kind][name].label if kind in STEP_FIELDS else name for name in missing]
        raise InputError(f"{' and '.join(labels)}: still empty; 0 where there was none")
    return step_of_values(kind, values)


def event_from_values(plain: Mapping[str, Any]) -> Event:
    """Return the event of a plain form that comes from outside, with every value checked.

    Raises
    ------
    InputError
        A kind or key that isn't there, or a value that is not allowed.
    """
    from groovewright.job import from_plain

    kind = plain.get("kind")
    if not isinstance(kind, str):
        raise InputError(f"an event says its kind as a text, not {kind!r:.60}")
    values = {key: value for key, value in plain.items() if key != "kind"}
    if kind in STEP_KEYS:
        return step_from(kind, checked(STEP_KEYS[kind], _said(values), kind))
    if kind != "described":
        if values:
            raise InputError(f"an event '{kind}' has no values")
        return from_plain(plain)
    section, record = values.get("section"), values.get("record")
    if not isinstance(section, str) or section not in SECTION_KEYS:
        raise unknown_word("section", str(section), SECTION_KEYS)
    said = _said(record) if isinstance(record, dict) else record
    return Described(section, RECORDS[section](**checked(SECTION_KEYS[section], _ranges(said), section)))


def _said(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return the values but for those that are null: not known."""
    return {key: value for key, value in values.items() if value is not None}


def _ranges(record: Any) -> Any:
    """Return a record whose groove range is written as the check reads it."""
    grooves = record.get("grooves") if isinstance(record, dict) else None
    if isinstance(grooves, dict) and set(grooves) == {"inner_mm", "outer_mm"}:
        return {**record, "grooves": f"{grooves['inner_mm']}:{grooves['outer_mm']}"}
    return record


def shown_value(section: str, key: str, value: Any) -> str:
    """Return a value as its field shows it; reading it back gives the same value."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(_plain_number(entry) for entry in value)
    if section == "aim" and key == "grooves":
        return _groove_word(value)
    return _plain_number(value) if isinstance(value, float | int) else str(value)


def _plain_number(value: float) -> str:
    return repr(float(value)).removesuffix(".0")


def _groove_word(value: Any) -> str:
    from groovewright.quantities import parse_groove_range

    for word, _ in SECTION_FIELDS["aim"]["grooves"].choices:
        if parse_groove_range(word) == value:
            return word
    return f"{value.inner_mm:g}:{value.outer_mm:g}"


def record_values(section: str, record: Record | None) -> dict[str, str]:
    """Return every field of a section as text; those of a new record where there is none."""
    plain = {
        field.name: getattr(record or RECORDS[section](), field.name) for field in fields(RECORDS[section])
    }
    return {key: shown_value(section, key, plain[key]) for key in SECTION_FIELDS[section]}
