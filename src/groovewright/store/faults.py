"""What a database may report, told so that a person can act on it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, InterfaceError, OperationalError, SQLAlchemyError

from groovewright.quantities import CannotBeDoneError

UNCHANGED = "nothing of this was saved, everything saved before is still there"

MEANINGS = (
    (
        ("database or disk is full", "no space left", "could not extend file"),
        f"the disk is full: {UNCHANGED}; free some space and do it again",
    ),
    (
        ("readonly database", "read-only transaction", "read-only file system"),
        f"it is read-only: {UNCHANGED}; make the file and its folder writable, or name another --database",
    ),
    (
        ("database is locked", "lock timeout", "deadlock detected"),
        f"another program keeps it busy: {UNCHANGED}; do it again in a moment",
    ),
    (
        ("malformed", "not a database"),
        "the file is damaged or is no record; keep a copy of it and put back a backup: "
        "groovewright jobs restore",
    ),
    (("unable to open database file",), "it can't be opened; does the folder exist, and is it yours?"),
    (("permission denied", "password authentication"), "the server refuses this user; ask who runs it"),
    (("disk i/o error",), f"the disk does not answer as it should: {UNCHANGED}; look after the disk first"),
)
"""Parts of the messages of SQLite and PostgreSQL, and what each means at the bench."""


@contextmanager
def told_plainly(place: str) -> Iterator[None]:
    """Turn the errors of a database into errors that say what happened and what to do.

    Raises
    ------
    CannotBeDoneError
        The database could not do what was asked.
    """
    try:
        yield
    except SQLAlchemyError as error:
        raise CannotBeDoneError(f"the record {place}: {meaning(error)}") from error


def meaning(error: SQLAlchemyError) -> str:
    """Return what an error means, or its own first line where it is none of the known ones."""
    cause = str(error.orig if isinstance(error, DBAPIError) else error)
    for parts, sentence in MEANINGS:
        if any(part in cause.lower() for part in parts):
            return sentence
    first = cause.strip().splitlines()[0] if cause.strip() else type(error).__name__
    if isinstance(error, OperationalError | InterfaceError):
        return f"the database does not answer ({first}); {UNCHANGED}"
    return f"the database reports: {first}; {UNCHANGED}"
