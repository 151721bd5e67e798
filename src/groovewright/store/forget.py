"""Taking a customer's data out of the record: who it was goes, what was measured stays."""

from __future__ import annotations

import re
import time
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, delete, select, text, update

from groovewright.job.checks import Check
from groovewright.job.checks import text as free_text
from groovewright.job.heard_keys import NAMED_KEYS
from groovewright.job.keys import SECTION_KEYS, STEP_KEYS
from groovewright.quantities import InputError
from groovewright.store.faults import told_plainly
from groovewright.store.files import remove_files_of
from groovewright.store.header import header_of, keep_header
from groovewright.store.log import header_in, job_row
from groovewright.store.opening import Store
from groovewright.store.plain import event_of, json_text, plain_of
from groovewright.store.tables import event as event_table
from groovewright.store.tables import job as job_table
from groovewright.store.tables import seen
from groovewright.store.words import folded, words

STAYS = ("shop", "date")
"""The texts of a job's heading that say nothing about the customer. All others go, new ones too."""

FREE_TEXT = ("note", "notes", "remark", "remarks", "comment", "comments")
"""Keys of any event in which a person writes what they like: these go too."""

INNER_WORDS = ("kind", "channel")
"""Keys inside a table that hold words from a list."""

SHORTEST_NAME = 4
"""Letters of a word of the name that is looked for by itself, as in the name of a player."""

NAMES_READ_AT_ONCE = 500
TRIES, PAUSE_S = 50, 0.1


@dataclass(frozen=True)
class Forgotten:
    """What was taken out: the numbers of the jobs, and how many events were changed.

    `scrubbed`: what was deleted is overwritten already; else it is once every bench has closed the record.
    """

    jobs: tuple[int, ...]
    events: int
    scrubbed: bool


def forget_customer(store: Store, customer: str) -> Forgotten:
    """Take all data of a customer out of the record. This can't be undone.

    In every job that ever named the customer, in any event, also one that was undone: the heading's texts
    but for the shop and the date, all free text, and every name or place that holds the customer's name or
    one of its words of four letters or more. Readings, moves and choices stay, and so do the numbers of the
    events. What was deleted is overwritten in the file and its log; recordings and photographs of these jobs
    are deleted. Backups and exports made earlier still hold it.

    Raises
    ------
    InputError
        No job names the customer.
    CannotBeDoneError
        The record or a file can't be written to.
    """
    wanted = folded(customer)
    if not wanted:
        raise InputError("the customer's name is empty; give it as the list of jobs shows it")
    changed = 0
    with store.writing() as connection:
        numbers = _jobs_of(connection, wanted)
        if not numbers:
            raise InputError(
                f"no job names the customer '{customer}'; 'groovewright jobs search' shows how names are written"
            )
        for number in numbers:
            changed += _forget_in(connection, number, wanted, store.time())
        connection.execute(delete(seen).where(seen.c.kind == "customer", seen.c.folded == wanted))
        # before the record says that it is done: where a file can't be deleted, it can be tried again
        remove_files_of(store, [job_row(connection, number)["uid"] for number in numbers])
    store.recent.clear()
    with told_plainly(store.place):
        scrubbed = _scrub(store)
    return Forgotten(tuple(numbers), changed, scrubbed)


def _jobs_of(connection: Connection, wanted: str) -> list[int]:
    """Return the jobs of which any event has the customer in its heading, whatever was undone since."""
    heading = event_table.c.body.contains('"owner":', autoescape=True)
    rows = connection.execute(
        select(event_table.c.job_number, event_table.c.body).where(heading).order_by(event_table.c.job_number)
    ).yield_per(NAMES_READ_AT_ONCE)
    found: dict[int, None] = {}
    for number, body in rows:
        record = plain_of(body).get("record")
        if isinstance(record, dict) and folded(str(record.get("owner", ""))) == wanted:
            found[number] = None
    return list(found)


def _forget_in(connection: Connection, number: int, wanted: str, now: str) -> int:
    row = job_row(connection, number, lock=True)
    rows = list(
        connection.execute(
            select(event_table).where(event_table.c.job_number == number).order_by(event_table.c.sequence)
        ).mappings()
    )
    changed = 0
    log = []
    for kept in rows:
        plain = plain_of(kept["body"])
        clean = anonymous(plain, wanted)
        log.append(event_of(clean, kept["version"], f"job {number}, event {kept['sequence']}"))
        if clean != plain:
            changed += 1
            this = (event_table.c.job_number == number, event_table.c.sequence == kept["sequence"])
            connection.execute(update(event_table).where(*this).values(body=json_text(clean)))
    keep_header(connection, number, header_in(row), header_of(tuple(log)))
    connection.execute(update(job_table).where(job_table.c.number == number).values(anonymised=now))
    return changed


def anonymous(plain: Mapping[str, Any], wanted: str) -> dict[str, Any]:
    """Return the plain form of an event without the customer's data; `wanted` is the folded name."""
    named = _naming(wanted)
    if plain.get("kind") != "described":
        return _without(plain, named, _fixed(STEP_KEYS.get(str(plain.get("kind")), {})) | {"kind"})
    section = str(plain.get("section"))
    record = _without(plain["record"], named, _fixed(SECTION_KEYS.get(section, {})))
    if section == "job":
        record = {
            key: "" if isinstance(value, str) and key not in STAYS else value for key, value in record.items()
        }
    return {**plain, "record": record}


def _naming(wanted: str) -> re.Pattern[str]:
    """Return what finds the whole name, or one of its longer words, in a folded text."""
    parts = [wanted, *(word for word in words([wanted]) if len(word) >= SHORTEST_NAME)]
    return re.compile("|".join(rf"(?<!\w){re.escape(part)}(?!\w)" for part in parts))


def _fixed(keys: Mapping[str, Check]) -> frozenset[str]:
    """Return the keys that hold no text of a person's own: numbers, and words from a list."""
    free = NAMED_KEYS if keys is STEP_KEYS["listened"] else ()
    return frozenset(key for key, check in keys.items() if check is not free_text and key not in free)


def _without(value: Mapping[str, Any], named: re.Pattern[str], fixed: frozenset[str]) -> dict[str, Any]:
    return {key: entry if key in fixed else _cleaned(key, entry, named) for key, entry in value.items()}


def _cleaned(key: str, value: Any, named: re.Pattern[str]) -> Any:
    if isinstance(value, dict):
        return {
            inner: entry if inner in INNER_WORDS else _cleaned(inner, entry, named)
            for inner, entry in value.items()
        }
    if isinstance(value, list):
        return [_cleaned(key, entry, named) for entry in value]
    if isinstance(value, str) and (key in FREE_TEXT or named.search(folded(value))):
        return ""
    return value


def _scrub(store: Store) -> bool:
    """Overwrite what was deleted, in SQLite's file and log or in a server's tables; False: still busy."""
    if store.file is None:
        with store.engine.connect() as connection:
            connection.execution_options(isolation_level="AUTOCOMMIT")
            for table in ("event", "job", "job_word", "seen"):
                connection.execute(text(f"VACUUM (FULL) {table}"))
        return True
    with store.turn, closing(store.engine.raw_connection()) as raw:
        cursor = raw.cursor()
        cursor.execute("VACUUM")
        for _ in range(TRIES):
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            row = cursor.fetchone()
            if row is not None and row[0] == 0:
                return True
            time.sleep(PAUSE_S)
    return False
