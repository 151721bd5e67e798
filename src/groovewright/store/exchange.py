"""The versioned JSON form of a record: written out whole, read in again exactly. See docs/records.md."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any, NoReturn

from sqlalchemy import Connection, insert, select, update
from sqlalchemy import text as sql

from groovewright.job import Event
from groovewright.job.events import STEP_KINDS
from groovewright.job.keys import SECTION_KEYS, STEP_KEYS, checked
from groovewright.job.records import RECORDS
from groovewright.quantities import CannotBeDoneError, GrooveRange, InputError
from groovewright.store.catalogue import SECTIONS, record_of
from groovewright.store.header import Header, header_of, keep_header
from groovewright.store.log import LARGEST_NUMBER, header_in, insert_job, job_row
from groovewright.store.opening import Store
from groovewright.store.plain import EVENT_VERSION, event_of, json_text, plain_of
from groovewright.store.tables import catalogue as catalogue_table
from groovewright.store.tables import event as event_table
from groovewright.store.tables import job as job_table
from groovewright.store.words import folded

FORMAT = "groovewright-record"
FORMAT_VERSION = 1

LARGEST_EXPORT = 1_000_000_000
"""Bytes that are read in at once."""

UID = re.compile(r"[0-9a-f]{32}")


@dataclass(frozen=True)
class ImportReport:
    """What became of an export that was read in. Jobs are named by their number in this record.

    Parameters
    ----------
    added, extended, unchanged : tuple of int
        New jobs; jobs that were here with fewer events; jobs that were here with all of them, or more.
    renumbered : mapping
        Number in the export to number here, where another job had the number.
    refused : tuple of (str, str)
        Which job was not taken, and why.
    catalogue_added : int
        Entries of the catalogue that were not here.
    """

    added: tuple[int, ...]
    extended: tuple[int, ...]
    unchanged: tuple[int, ...]
    renumbered: Mapping[int, int]
    refused: tuple[tuple[str, str], ...]
    catalogue_added: int


def export_text(store: Store, jobs: Sequence[int] | None = None) -> Iterator[str]:
    """Yield the parts of the JSON text of some jobs, or of everything with the catalogue.

    One job stands on a line. The same record always gives the same text.

    Raises
    ------
    InputError
        One of the jobs is not there.
    """
    with store.reading() as connection:
        yield f'{{"format": "{FORMAT}", "version": {FORMAT_VERSION},\n"jobs": ['
        every = select(job_table.c.number).order_by(job_table.c.number)
        numbers = [row[0] for row in connection.execute(every)] if jobs is None else jobs
        for place, number in enumerate(numbers):
            yield (",\n" if place else "\n") + _dumped(_exported_job(connection, number))
        yield '\n],\n"catalogue": ['
        entries = _exported_catalogue(connection) if jobs is None else []
        for place, entry in enumerate(entries):
            yield (",\n" if place else "\n") + _dumped(entry)
        yield "\n]}\n"


def _dumped(value: Mapping[str, Any]) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _exported_job(connection: Connection, number: int) -> dict[str, Any]:
    row = job_row(connection, number)
    events = connection.execute(
        select(event_table).where(event_table.c.job_number == number).order_by(event_table.c.sequence)
    ).mappings()
    return {
        "uid": row["uid"],
        "number": row["number"],
        "created": row["created"],
        "changed": row["changed"],
        "anonymised": row["anonymised"],
        "events": [
            {
                "sequence": kept["sequence"],
                "at": kept["at"],
                "bench": kept["bench"],
                "version": kept["version"],
                "event": plain_of(kept["body"]),
            }
            for kept in events
        ],
    }


def _exported_catalogue(connection: Connection) -> list[dict[str, Any]]:
    order = (catalogue_table.c.kind, catalogue_table.c.folded)
    return [
        {
            "kind": row["kind"],
            "imported": row["imported"],
            "source": row["source"],
            "values": plain_of(row["body"]),
        }
        for row in connection.execute(select(catalogue_table).order_by(*order)).mappings()
    ]


def import_text(
    store: Store, content: bytes, name: str, *, progress: Callable[[float], None] | None = None
) -> ImportReport:
    """Take an export into the record: what is right in it, in one transaction.

    `progress` is told the share of the jobs that was gone through, from 0 to 1.

    A job that is here already (the same uid) gets the events that it lacks; where the two differ it is
    refused, and nothing of it is overwritten.

    Raises
    ------
    InputError
        The file as a whole can't be read.
    CannotBeDoneError
        A newer program wrote it.
    """
    document = _document(content, name)
    outcome: dict[str, list[int]] = {"added": [], "extended": [], "unchanged": []}
    renumbered: dict[int, int] = {}
    refused: list[tuple[str, str]] = []
    with store.writing() as connection:
        _hold_numbers(connection)
        for place, exported in enumerate(document["jobs"], 1):
            called = _called(exported, place)
            if progress is not None:
                progress(place / len(document["jobs"]))
            try:
                job = _read_job(exported)
                with connection.begin_nested():
                    what, number = _take_job(connection, job)
            except InputError as error:
                refused.append((called, str(error)))
                continue
            outcome[what].append(number)
            if number != job.number:
                renumbered[job.number] = number
        entries = [_read_entry(entry, name) for entry in document["catalogue"]]
        count = sum(_take_entry(connection, entry) for entry in entries)
        _count_on(connection)
    return ImportReport(
        tuple(outcome["added"]),
        tuple(outcome["extended"]),
        tuple(outcome["unchanged"]),
        renumbered,
        tuple(refused),
        count,
    )


def _hold_numbers(connection: Connection) -> None:
    """Keep other benches of a server from taking numbers while an export brings its own."""
    if connection.dialect.name == "postgresql":
        connection.execute(sql("LOCK TABLE job IN EXCLUSIVE MODE"))


def _count_on(connection: Connection) -> None:
    """Let a server count on from the largest number; SQLite does so by itself."""
    if connection.dialect.name == "postgresql":
        connection.execute(
            sql("SELECT setval(pg_get_serial_sequence('job', 'number'), greatest(max(number), 1)) FROM job")
        )


def _document(content: bytes, name: str) -> dict[str, Any]:
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
class _Job:
    uid: str
    number: int
    created: str
    changed: str
    anonymised: str | None
    rows: tuple[Mapping[str, Any], ...]
    events: tuple[Event, ...]


def _called(exported: object, place: int) -> str:
    number = exported.get("number") if isinstance(exported, dict) else None
    return f"job {number}" if isinstance(number, int) else f"entry {place}"


def _read_job(exported: object) -> _Job:
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
    return _Job(
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


def _take_job(connection: Connection, job: _Job) -> tuple[str, int]:
    here = connection.execute(select(job_table).where(job_table.c.uid == job.uid)).mappings().first()
    if here is None:
        taken = connection.execute(select(job_table.c.number).where(job_table.c.number == job.number)).first()
        number = insert_job(
            connection,
            uid=job.uid,
            created=job.created,
            changed=job.changed,
            anonymised=job.anonymised,
            count=len(job.rows),
            number=None if taken else job.number,
        )
        _add_events(connection, number, job.rows)
        keep_header(connection, number, Header(), header_of(job.events))
        return "added", number
    number = here["number"]
    kept = connection.execute(
        select(*(event_table.c[name] for name in job.rows[0]))
        .where(event_table.c.job_number == number)
        .order_by(event_table.c.sequence)
    ).mappings()
    for have, get in zip(kept, job.rows, strict=False):
        if dict(have) != dict(get):
            raise InputError(
                f"it is here as job {number} and differs from event {have['sequence']} on; left as it is here"
            )
    if len(job.rows) <= here["last_sequence"]:
        return "unchanged", number
    _add_events(connection, number, job.rows[here["last_sequence"] :])
    values = {"last_sequence": len(job.rows), "changed": job.changed}
    connection.execute(update(job_table).where(job_table.c.number == number).values(**values))
    keep_header(connection, number, header_in(here), header_of(job.events))
    return "extended", number


def _add_events(connection: Connection, number: int, rows: Sequence[Mapping[str, Any]]) -> None:
    connection.execute(insert(event_table), [{"job_number": number, **row} for row in rows])


def _read_entry(entry: object, name: str) -> dict[str, str]:
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


def _take_entry(connection: Connection, row: Mapping[str, str]) -> int:
    table = catalogue_table
    same = (table.c.kind == row["kind"], table.c.folded == row["folded"])
    if connection.execute(select(table.c.name).where(*same)).first():
        return 0
    connection.execute(insert(table).values(**row))
    return 1
