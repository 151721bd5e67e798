"""Records to test with: a SQLite file, and a database on a PostgreSQL server."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from importlib import resources

import pytest

from groovewright.job import log_from_toml
from groovewright.store import open_store


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
