"""Backups of a SQLite record: taken while benches work on it, checked, and put back."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from groovewright.quantities import CannotBeDoneError, InputError
from groovewright.store.opening import Store, utc_now
from groovewright.store.tables import LATEST_VERSION, VERSION_TABLE

PAGES_AT_ONCE = 4096
"""Pages of the database that are copied before other benches get their turn."""


def back_up(store: Store, target: Path, *, force: bool = False) -> int:
    """Copy the record, as it is at one moment, to a file of its own; return how many jobs it holds.

    The file is checked and complete, or not there.

    Raises
    ------
    InputError
        The target exists (without `force`), is the record itself, or can't be written.
    CannotBeDoneError
        A server keeps the record, or it is damaged.
    """
    source_file = _file(store, "backup")
    if target.exists() and target.samefile(source_file):
        raise InputError(f"{target} is the record itself; name another file for the backup")
    if target.exists() and not force:
        raise InputError(f"{target} exists and was left as it is; add --force to replace it, or name another")
    part = target.with_name(target.name + ".part")
    with _told(target):
        part.unlink(missing_ok=True)
        os.close(os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        try:
            with closing(_opened(source_file)) as source, closing(sqlite3.connect(part)) as copy:
                source.backup(copy, pages=PAGES_AT_ONCE)
                copy.execute("PRAGMA journal_mode = DELETE")
                jobs = checked_jobs(copy, target)
            _to_disk(part)
            part.replace(target)
        finally:
            part.unlink(missing_ok=True)
    return jobs


def restore(store: Store, source_file: Path, *, force: bool = False) -> tuple[int, Path | None]:
    """Put a backup in place of what the record holds, whole or not at all.

    Return how many jobs there are now, and where what was there before was backed up to (None: it was empty).

    Raises
    ------
    InputError
        The backup is not there or is no record, or the record has jobs (without `force`).
    CannotBeDoneError
        The backup is damaged or newer than this program, or a server keeps the record.
    """
    target = _file(store, "restore")
    if not source_file.is_file():
        raise InputError(f"{source_file} is not there; name the file that 'groovewright jobs backup' wrote")
    with _told(source_file), closing(_opened(source_file)) as source:
        jobs = checked_jobs(source, source_file)
        with closing(_opened(target)) as present:
            there = checked_jobs(present, target, thorough=False)
        if there and not force:
            raise InputError(
                f"the record {target} holds {there} jobs and was left as it is; add --force to put the backup "
                "in its place (what is there is backed up first)"
            )
        aside = _free_name(target) if there else None
        if aside is not None:
            back_up(store, aside)
        store.close()
        with store.turn, closing(sqlite3.connect(target, timeout=20.0)) as present:
            present.execute("PRAGMA synchronous = FULL")
            source.backup(present)
        store.recent.clear()
    return jobs, aside


def checked_jobs(connection: sqlite3.Connection, file: Path, *, thorough: bool = True) -> int:
    """Return how many jobs a SQLite record holds.

    Raises
    ------
    InputError
        It is no record.
    CannotBeDoneError
        It is damaged (looked for where `thorough`), or newer than this program.
    """
    tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if VERSION_TABLE not in tables:
        raise InputError(f"{file} is no record of groovewright; nothing was changed")
    if thorough:
        answers = [row[0] for row in connection.execute("PRAGMA integrity_check(3)")]
        faults = [answer for answer in answers if answer != "ok"]
        faults += [
            f"a row of {row[0]} without its job" for row in connection.execute("PRAGMA foreign_key_check")
        ]
        if faults:
            raise CannotBeDoneError(
                f"{file} is damaged ({faults[0]}); take another backup. Nothing was changed"
            )
    version = connection.execute(f"SELECT version_num FROM {VERSION_TABLE}").fetchone()
    if version is None or version[0] > LATEST_VERSION:
        raise CannotBeDoneError(
            f"{file} was made by a newer groovewright (version {version[0] if version else '?'}, this one "
            f"knows up to {LATEST_VERSION}); update groovewright. Nothing was changed"
        )
    return int(connection.execute("SELECT count(*) FROM job").fetchone()[0])


def _file(store: Store, what: str) -> Path:
    if store.file is None:
        raise CannotBeDoneError(
            f"a server keeps this record: {what} is for its own tools (pg_dump, pg_restore), or use "
            "'groovewright jobs export' and 'import'"
        )
    return store.file


def _opened(file: Path) -> sqlite3.Connection:
    """Open a file that is there for reading; as unchanging where its folder takes no lock."""
    log = file.with_name(file.name + "-wal")
    still = not os.access(file.parent, os.W_OK) and not log.exists()
    return sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro{'&immutable=1' if still else ''}", uri=True)


def _free_name(target: Path) -> Path:
    stamp = utc_now().strftime("%Y%m%d-%H%M%S")
    return target.with_name(f"{target.stem}-before-restore-{stamp}{target.suffix}")


def _to_disk(file: Path) -> None:
    descriptor = os.open(file, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


@contextmanager
def _told(file: Path) -> Iterator[None]:
    try:
        yield
    except sqlite3.DatabaseError as error:
        raise CannotBeDoneError(f"{file}: {error}; nothing was changed") from None
    except OSError as error:
        raise InputError(f"{file} can't be written: {error.strerror}; name a folder that is yours") from None
