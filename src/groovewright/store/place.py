"""Where the record lies: a file in the user's data directory, a path, or the URL of a database."""

from __future__ import annotations

from pathlib import Path

import platformdirs
from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from groovewright.quantities import InputError

FILE_NAME = "records.sqlite3"

DRIVERS = {"sqlite": "sqlite", "postgresql": "postgresql+psycopg", "postgres": "postgresql+psycopg"}
"""What may stand before '://', and the driver that serves it."""


def default_place() -> str:
    """Return the path of the record that is used when none is named."""
    return str(platformdirs.user_data_path("groovewright", appauthor=False) / FILE_NAME)


def database_url(place: str) -> URL:
    """Return the URL of a place: a path of a SQLite file, 'sqlite:///PATH' or 'postgresql://...'.

    Raises
    ------
    InputError
        It names no file, or a kind of database that is not served.
    """
    if not place.strip():
        raise InputError("--database is empty; name a file, or a URL such as postgresql://user@host/records")
    if "://" not in place:
        return URL.create("sqlite", database=str(Path(place).expanduser().absolute()))
    try:
        url = make_url(place)
    except (ArgumentError, ValueError):
        raise InputError(
            "--database can't be read as a URL; write postgresql://user@host/records or sqlite:///file"
        ) from None
    kind = url.get_backend_name()
    if kind not in DRIVERS:
        raise InputError(f"--database: '{kind}' is not served; allowed: {', '.join(DRIVERS)}, or a path")
    url = url.set(drivername=DRIVERS[kind])
    if kind == "sqlite":
        if not url.database or url.database == ":memory:":
            raise InputError("--database sqlite:// names no file; write sqlite:///PATH or just the path")
        return URL.create("sqlite", database=str(Path(url.database).absolute()))
    return url


def file_of(url: URL) -> Path | None:
    """Return the file of a SQLite record; None where a server keeps it."""
    return Path(url.database) if url.get_backend_name() == "sqlite" and url.database else None


def shown(url: URL) -> str:
    """Return the place as it may be printed: a path, or the URL without its password."""
    file = file_of(url)
    return str(file) if file else url.render_as_string(hide_password=True)
