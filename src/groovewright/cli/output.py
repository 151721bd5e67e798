"""How every command prints: one JSON object, or text that fits 80 columns; and how it writes a file."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from groovewright.quantities import InputError, Why
from groovewright.quantities.plain import json_plain

json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON object, units in its keys."
)
why_option = click.option("--why", is_flag=True, help="Print formula, inputs and source of each number.")


def print_json(values: Mapping[str, Any]) -> None:
    """Print one JSON object; what isn't finite becomes null."""
    click.echo(json_text(values))


def json_text(values: Mapping[str, Any]) -> str:
    """Return one JSON object as text; what isn't finite becomes null."""
    return json.dumps(json_plain(values), ensure_ascii=False, indent=2, allow_nan=False)


def print_table(rows: Sequence[tuple[str, str]], indent: int = 2) -> None:
    """Print names and values in two columns, wrapped to 80 columns."""
    width = max((len(name) for name, _ in rows), default=0)
    for name, value in rows:
        lead = " " * indent + f"{name:<{width}}  "
        click.echo(click.wrap_text(lead + value, 79, "", " " * len(lead), preserve_paragraphs=False))


def print_why(whys: Sequence[Why]) -> None:
    """Print where each number comes from."""
    click.echo("\nWhy")
    for why in whys:
        click.echo(click.wrap_text(f"{why.number} = {why.formula}", 79, "  ", "    "))
        if why.inputs:
            inputs = ", ".join(f"{symbol} = {value}" for symbol, value in why.inputs.items())
            click.echo(click.wrap_text(f"with {inputs}", 79, "    ", "    "))
        click.echo(click.wrap_text(f"source: {why.source}", 79, "    ", "    "))


def write_file(path: Path, content: bytes, *, force: bool) -> None:
    """Write a file whole or not at all; an existing one only with `force`.

    Raises
    ------
    InputError
        The file exists, or the folder doesn't or can't be written to.
    """
    with whole_file(path, force=force) as part:
        part.write_bytes(content)


def check_free(path: Path, *, force: bool) -> None:
    """See that a file may be written here, before long work is done for it.

    Raises
    ------
    InputError
        The file exists and `force` is not set, or it is a folder or a device.
    """
    if path.exists() and not path.is_file():
        raise InputError(f"{path} is not a file and was left as it is; name a file")
    if path.exists() and not force:
        raise InputError(f"{path} exists and was left as it is; add --force to replace it, or name another")


@contextmanager
def whole_file(path: Path, *, force: bool) -> Iterator[Path]:
    """Give a file beside `path` to be written, which takes its place if nothing goes wrong.

    Raises
    ------
    InputError
        As of `write_file`.
    """
    try:
        check_free(path, force=force)
        part = path.with_name(f"{path.name}.{os.getpid()}.part")
        part.open("xb").close()
        try:
            yield part
            part.replace(path)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
    except OSError as error:
        raise InputError(
            f"{path} can't be written: {error.strerror}; name a folder that exists and is yours"
        ) from None
