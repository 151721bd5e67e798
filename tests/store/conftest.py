"""Records to test with: a SQLite file, and a database on a PostgreSQL server that the tests start themselves."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from datetime import UTC, datetime, timedelta
from importlib import resources
from pathlib import Path

import psycopg
import pytest

from groovewright.job import log_from_toml
from groovewright.store import open_store

INSTALL = "to test with PostgreSQL too: sudo apt install postgresql"


def server_programs():
    """Return the folder of PostgreSQL's server programs, or None."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    on_path = shutil.which("initdb")
    return found[-1].parent if found else Path(on_path).parent if on_path else None


def server_user():
    """Return who runs the server, as arguments for subprocess: initdb refuses root."""
    if os.geteuid() != 0:
        return {}
    try:
        entry = pwd.getpwnam("postgres")
    except KeyError:
        pytest.skip(f"there is no user 'postgres' to run the server; {INSTALL}")
    return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}


@pytest.fixture(scope="session")
def postgresql_server():
    """Start a throw-away server that listens on a socket in its own folder only; yield the folder."""
    programs = server_programs()
    if programs is None:
        pytest.skip(f"PostgreSQL's server is not installed; {INSTALL}")
    who = server_user()
    folder = Path(tempfile.mkdtemp(prefix="gw-pg-"))
    try:
        if who:
            os.chown(folder, who["user"], who["group"])
        data = str(folder / "data")
        quiet = {"check": True, "capture_output": True, "cwd": folder, **who}
        subprocess.run(
            [programs / "initdb", "-D", data, "-U", "bench", "-A", "trust", "--no-sync", "-E", "UTF8"],
            **quiet,
        )
        options = f"-k {folder} -c listen_addresses='' -c fsync=off -c max_connections=60"
        log = str(folder / "log")
        subprocess.run(
            [programs / "pg_ctl", "-D", data, "-w", "-l", log, "-o", options, "start"], timeout=60, **quiet
        )
        yield folder
        subprocess.run(
            [programs / "pg_ctl", "-D", data, "-w", "-m", "immediate", "stop"], timeout=60, **quiet
        )
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def postgresql_place(postgresql_server, request):
    """Return the URL of a new, empty database."""
    name = f"record_{os.getpid()}_{abs(hash(request.node.nodeid))}"
    with psycopg.connect(
        host=str(postgresql_server), user="bench", dbname="postgres", autocommit=True
    ) as raw:
        raw.execute(f"CREATE DATABASE {name}")
    return f"postgresql://bench@/{name}?host={postgresql_server}"


@pytest.fixture
def sqlite_place(tmp_path):
    return str(tmp_path / "records.sqlite3")


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request):
    """Return the place of a new record, of each kind in turn."""
    return request.getfixturevalue(f"{request.param}_place")


class Clock:
    """A clock that goes on by a second each time it is looked at."""

    def __init__(self):
        self.time = datetime(2026, 3, 14, 9, 30, tzinfo=UTC)

    def __call__(self):
        self.time += timedelta(seconds=1)
        return self.time


@pytest.fixture
def open_record():
    """Return `open_store` for tests: every record is closed in the end."""
    stores = []

    def opened(place, **options):
        store = open_store(place, **{"now": Clock(), **options})
        stores.append(store)
        return store

    yield opened
    for store in stores:
        store.close()


@pytest.fixture
def store(place, open_record):
    return open_record(place, bench="front bench")


@pytest.fixture
def sqlite_store(sqlite_place, open_record):
    return open_record(sqlite_place, bench="front bench")


@pytest.fixture(scope="session")
def demo_log():
    content = resources.files("groovewright.demo").joinpath("fernhill.toml").read_bytes()
    return log_from_toml(content, "fernhill.toml")
