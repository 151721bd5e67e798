"""The bench page as a process of its own on the loopback address, and a client that speaks its API.

For the benchmarks and tests that ask what is kept when benches work through the page.
"""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import re
import signal
import sys
from dataclasses import dataclass, field
from typing import Any, TextIO

import uvicorn  # noqa: F401 (so that a fork has it)

import groovewright.web  # noqa: F401
from groovewright.cli import main

SERVE = ("serve", "--port", "0", "--no-access-log", "--database")


@dataclass
class Server:
    """A started `groovewright serve`: the number of its process, its port, and what it prints."""

    process: int
    port: int
    says: TextIO

    def runs(self) -> bool:
        """Return whether it has not ended by itself."""
        return os.waitpid(self.process, os.WNOHANG) == (0, 0)

    def kill(self) -> None:
        """End it with signal 9, wherever it is."""
        os.kill(self.process, signal.SIGKILL)
        os.waitpid(self.process, 0)
        self.says.close()


def start(place: str) -> Server:
    """Start the page on a record; it prints its address when it is about to listen.

    It is a fork of this process, which has imported everything: a kill costs no start of a new interpreter.
    """
    told, tells = os.pipe()
    process = os.fork()
    if process == 0:
        os.close(told)
        os.dup2(tells, 1)
        os.dup2(tells, 2)
        sys.stdout = os.fdopen(1, "w", buffering=1)
        with contextlib.suppress(BaseException):
            main([*SERVE, place])
        os._exit(3)
    os.close(tells)
    says = os.fdopen(told)
    line = says.readline()
    found = re.search(r"http://[^:]+:(\d+)/", line)
    if found is None:
        raise SystemExit(f"the page did not start: {line or 'it said nothing'}")
    return Server(process, int(found[1]), says)


@dataclass
class Client:
    """One bench: a connection that is kept open, with the cookie and the token of its session."""

    port: int
    headers: dict[str, str] = field(default_factory=dict)
    connection: http.client.HTTPConnection = field(init=False)

    def __post_init__(self) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30.0)

    def enter(self) -> None:
        """Get a session; raises OSError while nobody listens."""
        self.connection.request("GET", "/api/session")
        answer = self.connection.getresponse()
        token = json.loads(answer.read())["token"]
        cookie = (answer.getheader("set-cookie") or "").partition(";")[0]
        self.headers = {"Cookie": cookie, "X-Bench-Token": token, "Content-Type": "application/json"}

    def get(self, path: str) -> tuple[int, bytes]:
        """Return the status and the body of a page or a part of the API."""
        self.connection.request("GET", path, headers=self.headers)
        answer = self.connection.getresponse()
        return answer.status, answer.read()

    def post(self, path: str, body: dict[str, Any]) -> tuple[int, dict[str, Any]]:
        """Send a change; return the status and the answer."""
        self.connection.request("POST", path, json.dumps(body), self.headers)
        answer = self.connection.getresponse()
        content: dict[str, Any] = json.loads(answer.read())
        return answer.status, content
