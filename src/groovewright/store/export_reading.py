"""An export from elsewhere, read and checked as if it had been typed. See docs/records.md."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any, NoReturn

from groovewright.job import Event
from groovewright.job.events import STEP_KINDS
from groovewright.job.keys import SECTION_KEYS, STEP_KEYS, checked
from groovewright.job.records import RECORDS
from groovewright.quantities import CannotBeDoneError, GrooveRange, InputError
from groovewright.store.catalogue import SECTIONS, record_of
from groovewright.store.exporting import FORMAT, FORMAT_VERSION
from groovewright.store.log import LARGEST_NUMBER
from groovewright.store.plain import EVENT_VERSION, event_of, json_text
from groovewright.store.words import folded

LARGEST_EXPORT = 1_000_000_000
"""Bytes that are read in at once."""

UID = re.compile(r"[0-9a-f]{32}")


def read_document(content: bytes, name: str) -> dict[str, Any]:
    """Return an export's outer object with its lists "jobs" and "catalogue".

    Raises
    ------
    InputError
        It is too large, no JSON, or no export of a record.
    CannotBeDoneError
        A newer program wrote it.
    """
    if len(content) > LARGEST_EXPORT:
        raise InputError(
            f"{name} has {len(content):,} bytes; allowed are {LARGEST_EXPORT:,}: export in parts"
        )
    try:
        document = json.loads(content.decode("utf-8-sig"), parse_constant=_refuse)
    except UnicodeDecodeError as error:
        raise InputError(f"{name} is not text (byte {error.start} is not UTF-8)") from None
    except RecursionError:
        raise InputError(f"{name} is nested too deeply to be an export") from None
    except json.JSONDecodeError as error:
        raise InputError(f"{name} can't be read as JSON: {error}; is it cut off?") from None
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise InputError(f"{name} is no export of a record: its \"format\" is not '{FORMAT}'")
    version = document.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise InputError(f"{name}: its version is {version!r}; a version is a whole number from 1")
    if version > FORMAT_VERSION:
        raise CannotBeDoneError(
            f"{name} was written by a newer groovewright (version {version} of the form, this one reads "
            f"{FORMAT_VERSION}); update this one. Nothing was changed"
        )
    for key in ("jobs", "catalogue"):
        if not isinstance(document.setdefault(key, []), list):
            raise InputError(f'{name}: "{key}" is not a list')
    return document


def _refuse(constant: str) -> NoReturn:
    raise InputError(f"the export holds '{constant}'; numbers are finite")


@dataclass(frozen=True)
class ReadJob:
    """One job of an export, checked: its rows as they are kept, and its events as they are understood."""

    uid: str
    number: int
    created: str
    changed: str
    anonymised: str | None
    rows: tuple[Mapping[str, Any], ...]
    events: tuple[Event, ...]


def name_of_job(exported: object, place: int) -> str:
    """Return what a message calls a job of an export: its number, or its place where it has none."""
    number = exported.get("number") if isinstance(exported, dict) else None
    return f"job {number}" if isinstance(number, int) else f"entry {place}"


def read_job(exported: object) -> ReadJob:
    """Return one job of an export.

    Raises
    ------
    InputError
        Something in it is not as an export has it.
    """
    if not isinstance(exported, dict):
        raise InputError("it is not an object")
    uid, number = exported.get("uid"), exported.get("number")
    if not isinstance(uid, str) or not UID.fullmatch(uid):
        raise InputError(f"its uid is {uid!r}; it has 32 hexadecimal digits")
    if not isinstance(number, int) or isinstance(number, bool) or not 0 < number <= LARGEST_NUMBER:
        raise InputError(f"its number is {number!r}; numbers count from 1")
    listed = exported.get("events")
    if not isinstance(listed, list) or not listed:
        raise InputError("it has no events")
    read = [_read_event(entry, place) for place, entry in enumerate(listed, 1)]
    anonymised = exported.get("anonymised")
    return ReadJob(
        uid,
        number,
        _time(exported.get("created"), "created"),
        _time(exported.get("changed"), "changed"),
        None if anonymised is None else _time(anonymised, "anonymised"),
        tuple(row for row, _ in read),
        tuple(event for _, event in read),
    )


def _read_event(entry: object, place: int) -> tuple[Mapping[str, Any], Event]:
    where = f"event {place}"
    if not isinstance(entry, dict) or not isinstance(entry.get("event"), dict):
        raise InputError(f'{where} has no object "event"')
    if entry.get("sequence") != place:
        raise InputError(f"{where} has the sequence number {entry.get('sequence')!r}; they count 1, 2, 3 ...")
    version, bench = entry.get("version"), entry.get("bench")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise InputError(f"{where} has the version {version!r}; it is a whole number from 1")
    if not isinstance(bench, str) or len(bench) > 500:
        raise InputError(f"{where} has the bench {bench!r}; it is a text of at most 500 characters")
    if version > EVENT_VERSION:
        raise InputError(f"{where} was written by a newer groovewright; update this one")
    plain = entry["event"]
    check_plain(plain, where)
    row = {
        "sequence": place,
        "at": _time(entry.get("at"), f"{where}, at"),
        "bench": bench,
        "version": version,
        "body": json_text(plain),
    }
    return row, event_of(plain, version, where)


def check_plain(plain: Mapping[str, Any], where: str) -> None:
    """Check the values of a plain form from elsewhere as if they had been typed.

    Raises
    ------
    InputError
        One is not what its key may hold.
    """
    kind = plain.get("kind")
    if kind == "described":
        section, values = plain.get("section"), plain.get("record")
        if not isinstance(section, str) or section not in SECTION_KEYS or not isinstance(values, dict):
            raise InputError(f"{where} describes {section!r}; known are {', '.join(SECTION_KEYS)}")
        keys, own = SECTION_KEYS[section], fields(RECORDS[section])
    elif isinstance(kind, str) and kind in STEP_KEYS:
        keys, own = STEP_KEYS[kind], fields(STEP_KINDS[kind])
        values = {key: value for key, value in plain.items() if key != "kind"}
    else:
        return
    usual = {field.name: field.default for field in own}
    typed = {
        key: value
        for key, value in values.items()
        if key in keys and not (type(value) is type(usual.get(key)) and value == usual.get(key))
    }
    flat = {
        key: value
        for key, value in typed.items()
        if not isinstance(value, dict) or not isinstance(usual.get(key), GrooveRange)
    }
    checked(keys, flat, where)


def _time(value: object, what: str) -> str:
    try:
        if isinstance(value, str) and len(value) <= 32 and datetime.fromisoformat(value).tzinfo:
            return value
    except ValueError:
        pass
    raise InputError(f"{what} is {value!r}; a time is written as 2026-03-14T09:30:00.000000Z")


def read_entry(entry: object, name: str) -> dict[str, str]:
    """Return one entry of an export's catalogue as a row of the table. Raises InputError as `read_job` does."""
    if not isinstance(entry, dict) or entry.get("kind") not in SECTIONS:
        raise InputError(
            f"{name}: an entry of the catalogue is no object with a kind ({', '.join(SECTIONS)})"
        )
    values, source = entry.get("values"), entry.get("source")
    if not isinstance(values, dict) or not isinstance(source, str) or len(source) > 500:
        raise InputError(f"{name}: an entry of the catalogue lacks values or source")
    checked_values = checked(SECTION_KEYS[SECTIONS[entry["kind"]]], values, f"{name}, catalogue")
    called = str(checked_values.get("name", ""))
    if not folded(called):
        raise InputError(f"{name}: an entry of the catalogue has no name")
    record_of(entry["kind"], checked_values)
    return {
        "kind": entry["kind"],
        "folded": folded(called),
        "name": called,
        "imported": _time(entry.get("imported"), "imported"),
        "source": source,
        "body": json_text(values),
    }
