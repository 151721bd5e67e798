"""Exports from elsewhere taken into the record: events that are missing here are added, none is overwritten."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, insert, select, update
from sqlalchemy import text as sql

from groovewright.quantities import InputError
from groovewright.store.export_reading import ReadJob, name_of_job, read_document, read_entry, read_job
from groovewright.store.header import Header, header_of, keep_header
from groovewright.store.log import header_in, insert_job
from groovewright.store.opening import Store
from groovewright.store.tables import catalogue as catalogue_table
from groovewright.store.tables import event as event_table
from groovewright.store.tables import job as job_table


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
    document = read_document(content, name)
    outcome: dict[str, list[int]] = {"added": [], "extended": [], "unchanged": []}
    renumbered: dict[int, int] = {}
    refused: list[tuple[str, str]] = []
    with store.writing() as connection:
        _hold_numbers(connection)
        for place, exported in enumerate(document["jobs"], 1):
            called = name_of_job(exported, place)
            if progress is not None:
                progress(place / len(document["jobs"]))
            try:
                job = read_job(exported)
                with connection.begin_nested():
                    what, number = _take_job(connection, job)
            except InputError as error:
                refused.append((called, str(error)))
                continue
            outcome[what].append(number)
            if number != job.number:
                renumbered[job.number] = number
        entries = [read_entry(entry, name) for entry in document["catalogue"]]
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


def _take_job(connection: Connection, job: ReadJob) -> tuple[str, int]:
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


def _take_entry(connection: Connection, row: Mapping[str, str]) -> int:
    table = catalogue_table
    same = (table.c.kind == row["kind"], table.c.folded == row["folded"])
    if connection.execute(select(table.c.name).where(*same)).first():
        return 0
    connection.execute(insert(table).values(**row))
    return 1
