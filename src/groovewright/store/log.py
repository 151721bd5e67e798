"""The log of a job in the record: begin one, add to it, read it. Nothing is ever overwritten."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import fields

from sqlalchemy import Connection, RowMapping, bindparam, insert, select, update

from groovewright.job import Event, Log
from groovewright.job.back import log_for_going_back
from groovewright.quantities import InputError
from groovewright.store.header import Header, header_of, keep_header, may_change_header
from groovewright.store.kept_job import ConflictError, KeptEvent, KeptJob, NoJobError
from groovewright.store.opening import Store
from groovewright.store.plain import EVENT_VERSION, body_of, event_of, plain_of
from groovewright.store.recent import ReadBefore
from groovewright.store.tables import event as event_table
from groovewright.store.tables import job as job_table

LARGEST_NUMBER = 2_147_483_647
"""The largest number of a job that both databases can hold."""


def new_job(store: Store, events: Sequence[Event]) -> int:
    """Begin a job with some events and return its number. It is on disk when this returns.

    Raises
    ------
    InputError
        There is no event, or one can't be kept.
    CannotBeDoneError
        The database can't take it (full, read-only, busy).
    """
    if not events:
        raise InputError("a job begins with at least one event, such as the player described")
    bodies = [body_of(event) for event in events]
    now = store.time()

    def begin(connection: Connection) -> int:
        number = insert_job(connection, uid=uuid.uuid4().hex, created=now, changed=now, count=len(events))
        rows = [_row(store, number, place, now, body) for place, body in enumerate(bodies, 1)]
        connection.execute(insert(event_table), rows)
        keep_header(connection, number, Header(), header_of(tuple(events)))
        return number

    return store.write(begin)


def insert_job(
    connection: Connection,
    *,
    uid: str,
    created: str,
    changed: str,
    count: int,
    number: int | None = None,
    anonymised: str | None = None,
) -> int:
    """Write the row of a job without a header and return its number."""
    values = {
        "uid": uid,
        "created": created,
        "changed": changed,
        "last_sequence": count,
        "anonymised": anonymised,
        **{field.name: "" for field in fields(Header)},
        **({} if number is None else {"number": number}),
    }
    key = connection.execute(insert(job_table).values(**values)).inserted_primary_key
    if key is None:
        raise RuntimeError("the database gave no number for a new job")
    return int(key[0])


def append(store: Store, job: int, event: Event, expected_sequence: int) -> int:
    """Add an event to a job and return its sequence number. It is on disk when this returns.

    `expected_sequence` is the sequence number of the last event that the writer has seen. Errors as
    `append_all`.
    """
    return append_all(store, job, (event,), expected_sequence)


def append_all(store: Store, job: int, events: Sequence[Event], expected_sequence: int) -> int:
    """Add several events to a job, all or none, and return the last one's sequence number.

    They are on disk when this returns.

    Raises
    ------
    ConflictError
        Another bench added to the job since; it holds what. Nothing was written.
    InputError
        There is no such job, or an event can't be kept.
    CannotBeDoneError
        The database can't take it (full, read-only, busy).
    """
    _check_number(job)
    bodies = [body_of(event) for event in events]
    _check_expected(store, job, expected_sequence)  # what is too late already need not wait for its turn
    if not events:
        return expected_sequence
    added = store.write(lambda connection: _append(store, connection, job, events, bodies, expected_sequence))
    if not added:
        _check_expected(store, job, expected_sequence)
        raise RuntimeError(f"job {job} took no event after {expected_sequence}, though nothing came after it")
    return expected_sequence + len(events)


ADVANCE = (
    update(job_table)
    .where(job_table.c.number == bindparam("job"), job_table.c.last_sequence == bindparam("expected"))
    .values(last_sequence=bindparam("next"), changed=bindparam("now"))
)
"""Takes the next sequence numbers of a job, if nobody else has."""


def _append(
    store: Store,
    connection: Connection,
    job: int,
    events: Sequence[Event],
    bodies: Sequence[str],
    expected_sequence: int,
) -> bool:
    """Return whether the events were added; not where another sequence number was expected.

    Whatever can be refused is refused before the first write.
    """
    headers = None
    if any(may_change_header(event) for event in events):
        row = job_row(connection, job, lock=True)
        log = tuple(kept.event for kept in _log_of(store, connection, row))
        headers = header_in(row), header_of((*log, *events))
    now = store.time()
    values = {"job": job, "expected": expected_sequence, "next": expected_sequence + len(events), "now": now}
    if connection.execute(ADVANCE, values).rowcount == 0:
        return False
    rows = [_row(store, job, place, now, body) for place, body in enumerate(bodies, expected_sequence + 1)]
    connection.execute(insert(event_table), rows)
    if headers is not None:
        keep_header(connection, job, *headers)
    return True


LAST_SEQUENCE = select(job_table.c.last_sequence).where(job_table.c.number == bindparam("job"))


def _check_expected(store: Store, job: int, expected_sequence: int) -> None:
    """Make sure that a job's last event is the one expected, as far as the disk has it."""
    with store.glancing() as connection:
        last = connection.execute(LAST_SEQUENCE, {"job": job}).scalar()
        if last is None:
            raise _no_job(job)
        if expected_sequence < last:
            raise ConflictError(job, _events(connection, job, after=expected_sequence), last)
    if expected_sequence > last:
        raise InputError(
            f"job {job} has {last} events only, fewer than the {expected_sequence} that were expected"
        )


def _row(store: Store, number: int, sequence: int, at: str, body: str) -> dict[str, object]:
    return {
        "job_number": number,
        "sequence": sequence,
        "at": at,
        "bench": store.bench,
        "version": EVENT_VERSION,
        "body": body,
    }


def read_job(store: Store, job: int) -> KeptJob:
    """Return a job with all its events.

    Raises
    ------
    InputError
        There is no such job.
    CannotBeDoneError
        A newer program wrote one of its events.
    """
    with store.glancing() as connection:
        row = job_row(connection, job)
        events = _log_of(store, connection, row, hold=True)
        return KeptJob(
            number=row["number"],
            uid=row["uid"],
            created=row["created"],
            changed=row["changed"],
            sequence=row["last_sequence"],
            anonymised=row["anonymised"],
            header=header_in(row),
            events=events,
        )


def read_log(store: Store, job: int) -> Log:
    """Return the events of a job, in order. Errors as `read_job`."""
    return read_job(store, job).log


def go_back(store: Store, job: int) -> int:
    """Begin a job that puts back what came off in a job, as it was found, and return its number.

    Raises
    ------
    CannotBeDoneError
        The job doesn't say what came off.
    """
    return new_job(store, log_for_going_back(read_log(store, job)))


def read_since(store: Store, job: int, sequence: int) -> tuple[KeptEvent, ...]:
    """Return what was added to a job after a sequence number: what a page that is open has not seen."""
    with store.glancing() as connection:
        found = _events(connection, job, after=sequence)
        if not found:
            job_row(connection, job)
        return found


JOB = select(job_table).where(job_table.c.number == bindparam("job"))
JOB_LOCKED = JOB.with_for_update()


def job_row(connection: Connection, job: int, *, lock: bool = False) -> RowMapping:
    """Return the row of a job, on a server locked until the transaction ends.

    Raises
    ------
    InputError
        There is no such job.
    """
    _check_number(job)
    row = connection.execute(JOB_LOCKED if lock else JOB, {"job": job}).mappings().first()
    if row is None:
        raise _no_job(job)
    return row


def _check_number(job: int) -> None:
    if not 0 < job <= LARGEST_NUMBER:
        raise _no_job(job)


def _no_job(job: int) -> NoJobError:
    return NoJobError(f"there is no job {job} in the record; 'groovewright jobs list' shows those there are")


def header_in(row: RowMapping) -> Header:
    """Return the header that a job's row holds."""
    return Header(**{field.name: row[field.name] for field in fields(Header)})


def _log_of(
    store: Store, connection: Connection, row: RowMapping, *, hold: bool = False
) -> tuple[KeptEvent, ...]:
    """Return all events of the job of a row, reading on from where it was left.

    `hold`: for the next time; not from within a write, which may yet come to nothing.
    """
    job, uid, anonymised = row["number"], row["uid"], row["anonymised"]
    before = store.recent.of(job, uid, anonymised)
    rows = _rows(connection, job, after=len(before.events) - 1 if before else 0)
    if before and rows and dict(rows[0]) == before.last_row:
        events = (*before.events, *(_kept(new) for new in rows[1:]))
    else:
        rows = _rows(connection, job) if before else rows
        events = tuple(_kept(new) for new in rows)
    if hold and rows:
        store.recent.keep(job, ReadBefore(uid, anonymised, events, dict(rows[-1])))
    return events


def _events(connection: Connection, job: int, after: int) -> tuple[KeptEvent, ...]:
    return tuple(_kept(row) for row in _rows(connection, job, after))


EVENTS_AFTER = (
    select(event_table)
    .where(event_table.c.job_number == bindparam("job"), event_table.c.sequence > bindparam("after"))
    .order_by(event_table.c.sequence)
)


def _rows(connection: Connection, job: int, after: int = 0) -> Sequence[RowMapping]:
    return connection.execute(EVENTS_AFTER, {"job": job, "after": after}).mappings().all()


def _kept(row: RowMapping) -> KeptEvent:
    where = f"job {row['job_number']}, event {row['sequence']}"
    event = event_of(plain_of(row["body"]), row["version"], where)
    return KeptEvent(row["sequence"], row["at"], row["bench"], event)
