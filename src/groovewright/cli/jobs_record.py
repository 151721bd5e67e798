"""What the commands of `groovewright jobs` share: which record, opened and closed."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from contextlib import contextmanager

import click

from groovewright.store import Store, open_store

database_option = click.option(
    "--database", envvar="GROOVEWRIGHT_DATABASE", metavar="PLACE",
    help="The record: a file, or postgresql://user@host/name. Your own if nothing is given.",
)  # fmt: skip


@contextmanager
def opened(database: str | None) -> Iterator[Store]:
    """Open the record, written to under this machine's name, and close it in the end."""
    store = open_store(database, bench=socket.gethostname()[:100])
    try:
        yield store
    finally:
        store.close()
