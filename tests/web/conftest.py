"""A bench page with the demo job: as an app for httpx, and served for a browser."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from bench_under_test import Running, running, served

from groovewright.store import Store, open_store
from groovewright.web import Bench
from groovewright.web.first_job import add_demo_job


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(str(tmp_path / "records.sqlite3"), bench="bench one")
    add_demo_job(opened)
    yield opened
    opened.close()


@pytest.fixture
def local(store: Store) -> Running:
    return running(store)


@pytest.fixture
def lan(store: Store) -> Running:
    return running(store, lan=True)


CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    if CHROMIUM is None:
        pytest.skip("no chromium here: apt install chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()


@pytest.fixture(scope="session")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A served bench page; its record is empty but for the demo job."""
    store = open_store(str(tmp_path_factory.mktemp("bench") / "records.sqlite3"))
    add_demo_job(store)
    with served(Bench(store)) as place:
        yield place
    store.close()
