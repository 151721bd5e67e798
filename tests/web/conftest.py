"""A bench page with the demo job: as an app for httpx, and served for a browser."""

from __future__ import annotations

import re
import shutil
import socket
import threading
import time
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
import uvicorn

from groovewright.store import Store, open_store
from groovewright.web import Bench, make_app
from groovewright.web.first_job import add_demo_job
from groovewright.web.pairing import Pairing

with warnings.catch_warnings():  # says that a successor of httpx is preferred; both serve here
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

LOCAL, PHONE = ("127.0.0.1", 50000), ("192.0.2.7", 50000)


@dataclass
class Clock:
    """A time that a test sets."""

    at: float = 1_800_000_000.0

    def __call__(self) -> float:
        return self.at


@dataclass
class Running:
    """A bench page under test, and what it said."""

    bench: Bench
    clock: Clock
    lines: list[str] = field(default_factory=list)
    told: list[str] = field(default_factory=list)

    def client(self, address: tuple[str, int] = LOCAL, host: str = "127.0.0.1") -> TestClient:
        return TestClient(
            make_app(self.bench), f"http://{host}", client=address, raise_server_exceptions=True
        )


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(str(tmp_path / "records.sqlite3"), bench="bench one")
    add_demo_job(opened)
    yield opened
    opened.close()


def running(store: Store, *, lan: bool = False) -> Running:
    clock = Clock()
    lines: list[str] = []
    told: list[str] = []
    hosts = {"127.0.0.1", "localhost", *(("192.0.2.1",) if lan else ())}
    bench = Bench(
        store, lan=lan, hosts=frozenset(hosts), address="http://192.0.2.1" if lan else "",
        pairing=Pairing(now=clock), now=clock, log=lines.append, tell=told.append,
    )  # fmt: skip
    return Running(bench, clock, lines, told)


@pytest.fixture
def local(store: Store) -> Running:
    return running(store)


@pytest.fixture
def lan(store: Store) -> Running:
    return running(store, lan=True)


def token_in(text: str) -> str:
    found = re.search(r'name="token" value="([0-9a-f]{64})"', text)
    assert found, "the page has no form with a token"
    return found[1]


def sequence_in(text: str) -> str:
    found = re.search(r'data-sequence="(\d+)"', text)
    assert found, "the page says no sequence number"
    return found[1]


def change(client: TestClient, stage: str, action: str, job: int = 1, **fields: str):
    """Post a form of a stage's page as a browser without JavaScript does."""
    text = client.get(f"/jobs/{job}/{stage}").text
    sent = {"token": token_in(text), "expected": sequence_in(text)}
    sent |= {name.replace("__", "."): value for name, value in fields.items()}
    return client.post(f"/jobs/{job}/{stage}/{action}", data=sent)


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
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    app = make_app(Bench(store))
    server = uvicorn.Server(uvicorn.Config(app, "127.0.0.1", port, log_level="warning", lifespan="off"))
    thread = threading.Thread(target=server.run)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join()
    store.close()
