"""What the commands share that write a paper of a job: the file by its ending, and the option for it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import click

from groovewright.cli.output import write_file
from groovewright.quantities import InputError

paper_file_option = click.option(
    "--out", type=click.Path(path_type=Path), required=True, metavar="FILE", help="A .pdf or a .html file."
)
job_file_argument = click.argument("job_file", metavar="JOB.toml", type=click.Path(path_type=Path))


def write_by_ending(out: Path, makers: Mapping[str, Callable[[], bytes]], *, force: bool) -> None:
    """Write what the ending of a file's name asks for.

    Raises
    ------
    InputError
        The ending is none of those of `makers`, or the file can't be written.
    """
    make = makers.get(out.suffix.lower())
    if make is None:
        endings = " or ".join(makers)
        raise InputError(
            f"--out {out} ends in '{out.suffix}'; it is written as {endings}, such as {out.stem}{next(iter(makers))}"
        )
    if out.exists() and not force:
        raise InputError(f"{out} exists and was left as it is; add --force to replace it, or name another")
    write_file(out, make(), force=force)
