"""A bench page under test, with a clock and ears; forms sent as a browser without JavaScript sends them."""

from __future__ import annotations

import re
import socket
import threading
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

import uvicorn

from groovewright.store import Store
from groovewright.web import Bench, make_app
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


@contextmanager
def served(bench: Bench) -> Iterator[str]:
    """Serve a bench page for a browser; gives its address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    config = uvicorn.Config(make_app(bench), "127.0.0.1", port, log_level="warning", lifespan="off")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join()
