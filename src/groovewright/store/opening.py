"""Opening a record: make it, bring it up to date, or say why it can't be used."""

from __future__ import annotations

import os
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, inspect, text

from groovewright.quantities import CannotBeDoneError
from groovewright.store.faults import told_plainly
from groovewright.store.place import database_url, default_place, file_of, shown
from groovewright.store.recent import Recent
from groovewright.store.tables import LATEST_VERSION, VERSION_TABLE
from groovewright.store.together import Result, Writer

WAIT_S = 20.0
"""How long a bench waits for its turn to write before it is told that the record is busy."""
LOOK_AGAIN_S = 0.01
"""How often it looks whether its turn has come, where SQLite doesn't wait by itself."""

POOL = {"pool_size": 24, "max_overflow": 40, "pool_timeout": WAIT_S}


def utc_now() -> datetime:
    """Return the time, with its zone."""
    return datetime.now(UTC)


@dataclass(frozen=True)
class Store:
    """An opened record.

    Parameters
    ----------
    place : str
        Where it lies, as it may be printed: never with a password.
    file : Path or None
        The file of a SQLite record.
    read_only : bool
        Nothing can be written to the file.
    now : function
        Gives the time that new events carry.
    bench : str
        Who writes: a name for this bench, kept with every event.
    turn, glance, writer
        Whose turn it is in this process to write, and to read shortly; who writes for all benches: see
        `together`.
    recent
        Logs that were read lately.
    """

    engine: Engine
    place: str
    file: Path | None
    read_only: bool
    now: Callable[[], datetime] = utc_now
    bench: str = ""
    turn: threading.Lock = field(default_factory=threading.Lock)
    glance: threading.Lock = field(default_factory=threading.Lock)
    writer: Writer = field(init=False)
    recent: Recent[Any] = field(default_factory=Recent)

    def __post_init__(self) -> None:
        object.__setattr__(self, "writer", Writer(self.writing))

    def time(self) -> str:
        """Return the time as it is kept: ISO 8601 in UTC, to the microsecond."""
        return self.now().astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees the record as it is at one moment."""
        with told_plainly(self.place), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def glancing(self) -> Iterator[Connection]:
        """Give a connection for a read that takes a millisecond and no more, such as one job's new events.

        In one process they take turns: they share one interpreter anyway, and the thread that writes for all
        benches would have to wait for it behind every one of them after each of its calls.
        """
        with self.glance if self.file else nullcontext(), self.reading() as connection:
            yield connection

    def write(self, work: Callable[[Connection], Result]) -> Result:
        """Do some work in a transaction that is on disk when this returns; what it raises, is raised.

        `work` may be done on another thread, together with that of other benches, and changes nothing but
        through its connection. A server lets benches wait together by itself.
        """
        if self.file is not None:
            return self.writer.write(work)
        with self.writing() as connection:
            return work(connection)

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection that writes all or nothing; when this ends without error it is on disk."""
        if self.read_only:
            raise CannotBeDoneError(
                f"the record {self.place} is read-only: nothing was changed; make the file and its folder "
                "writable, or name another --database"
            )
        # In one process writers queue here; SQLite alone would make them poll for their turn.
        turn = self.turn if self.file else nullcontext()
        with told_plainly(self.place), turn, self.engine.connect() as connection:
            connection.execution_options(writes=True)
            with connection.begin():
                yield connection

    def close(self) -> None:
        """Write what waits, then close all connections."""
        self.writer.close()
        self.engine.dispose()


def open_store(place: str | None = None, *, bench: str = "", now: Callable[[], datetime] = utc_now) -> Store:
    """Open the record at a place (see `place.database_url`; None: the user's own), making it if need be.

    An older record is brought up to date, all or nothing. A SQLite file that can't be written to is opened
    for reading.

    Raises
    ------
    InputError
        The place can't be read.
    CannotBeDoneError
        It is newer than this program, no record at all, damaged, or can't be reached.
    """
    url = database_url(place or default_place())
    file = file_of(url)
    read_only = file is not None and file.exists() and not _writable(file)
    if file is not None and not file.exists():
        _make_private(file)
    engine = _sqlite_engine(url, file, read_only) if file else _server_engine(url)
    store = Store(engine, shown(url), file, read_only, now, bench)
    try:
        with told_plainly(store.place):
            _bring_up_to_date(store)
    except BaseException:
        store.close()
        raise
    return store


def _writable(file: Path) -> bool:
    return os.access(file, os.W_OK) and os.access(file.parent, os.W_OK)


def _make_private(file: Path) -> None:
    """Make an empty file, and its folder, that only their owner may read: customers' names go in."""
    try:
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        file.touch(mode=0o600)
    except OSError as error:
        raise CannotBeDoneError(
            f"the record {file} can't be made: {error.strerror}; name a place that is yours with --database"
        ) from None


def _sqlite_engine(url: URL, file: Path, read_only: bool) -> Engine:
    if read_only:
        # Without a log beside it nobody is writing, and a folder that can't be written to takes no lock.
        log = file.with_name(file.name + "-wal")
        still = not log.exists() or log.stat().st_size == 0
        query = {"mode": "ro", "uri": "true", **({"immutable": "1"} if still else {})}
        url = url.set(database=file.as_uri(), query=query)
    engine = create_engine(url, connect_args={"timeout": WAIT_S, "check_same_thread": False}, **POOL)

    @event.listens_for(engine, "connect")
    def prepare(raw: Any, _record: Any) -> None:
        raw.isolation_level = None  # transactions begin and end where this package says
        raw.execute("PRAGMA foreign_keys = ON")
        if not read_only:
            _keep_a_log(raw)
            raw.execute("PRAGMA synchronous = FULL")  # what was acknowledged is on disk
            raw.execute("PRAGMA secure_delete = ON")  # what was deleted is overwritten

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("writes")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _keep_a_log(raw: sqlite3.Connection) -> None:
    """Have a file keep a log of what is written (sqlite.org/wal.html), for good.

    While another bench does the same to a new file, SQLite says at once that it is busy: here it is waited for.
    """
    until = time.monotonic() + WAIT_S
    while True:
        try:
            raw.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                raise
        time.sleep(LOOK_AGAIN_S)


def _server_engine(url: URL) -> Engine:
    try:
        engine = create_engine(url, pool_pre_ping=True, **POOL)
    except ModuleNotFoundError:
        raise CannotBeDoneError(
            "PostgreSQL needs the extra package: pip install 'groovewright[postgresql]'"
        ) from None

    @event.listens_for(engine, "connect")
    def prepare(raw: Any, _record: Any) -> None:
        raw.autocommit = True
        raw.execute("SET synchronous_commit = on")  # what was acknowledged is on disk
        raw.execute(f"SET lock_timeout = '{WAIT_S:g}s'")
        raw.autocommit = False

    return engine


def version_of(connection: Connection) -> str | None:
    """Return the revision of a record; None where the database is empty.

    Raises
    ------
    CannotBeDoneError
        The database holds tables of something else.
    """
    tables = set(inspect(connection).get_table_names())
    if VERSION_TABLE in tables:
        revision = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalar()
        if revision:
            return str(revision)
    if tables - {VERSION_TABLE}:
        raise CannotBeDoneError(
            f"the database holds something else (table '{min(tables)}'), not a groovewright record; "
            "nothing was changed. Name another --database"
        )
    return None


def _bring_up_to_date(store: Store) -> None:
    with store.engine.connect() as connection, connection.begin():
        revision = version_of(connection)
    if revision == LATEST_VERSION:
        return
    if store.read_only:
        raise CannotBeDoneError(
            f"the record {store.place} has version {revision or 'none'} and this program needs "
            f"{LATEST_VERSION}, but it is read-only; open it once where it can be written to"
        )
    from groovewright.store.migrating import upgrade  # brings Alembic, which few openings need

    upgrade(store.engine, store.place)
