"""Where a command puts what it read: into a job file, into a job of the record, into both, or nowhere."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from groovewright.cli.jobs_record import database_option, opened
from groovewright.cli.output import write_file
from groovewright.cli.plan import read_job_file
from groovewright.job import JobState, Log, fold
from groovewright.job.events import Step
from groovewright.job.step_toml import with_step
from groovewright.store import append, read_job


@dataclass(frozen=True)
class IntoJob:
    """A job file, a job of the record, both or neither."""

    job_file: Path | None
    number: int | None
    database: str | None

    @property
    def nowhere(self) -> bool:
        """Return whether nothing is to be added to."""
        return self.job_file is None and self.number is None


def into_job_options(what: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Return the options that say into which job `what` goes; they make `job_file`, `number`, `database`."""

    def decorated(command: Callable[..., None]) -> Callable[..., None]:
        command = database_option(command)
        command = click.option(
            "--number", type=int, metavar="NUMBER", help=f"Add {what} to this job of the record."
        )(command)
        return click.option(
            "--job",
            "job_file",
            type=click.Path(path_type=Path),
            metavar="JOB.toml",
            help=f"Add {what} to this job file.",
        )(command)

    return decorated


def check_into(into: IntoJob) -> IntoJob:
    """Return the same, once the job is there and can be read: before any long work is begun.

    Raises
    ------
    InputError
        No such job.
    """
    if into.job_file is not None:
        read_job_file(into.job_file)
    if into.number is not None:
        _log_of_number(into)
    return into


def log_of(into: IntoJob) -> Log:
    """Return the events of the job; none without one. The record goes before a file."""
    if into.number is not None:
        return _log_of_number(into)
    return () if into.job_file is None else read_job_file(into.job_file)


def _log_of_number(into: IntoJob) -> Log:
    with opened(into.database) as store:
        return read_job(store, into.number or 0).log


def add_step(into: IntoJob, make: Callable[[JobState], Step]) -> tuple[Log, dict[str, Any]]:
    """Add the step that `make` returns for the job's state; return the log, and where it went for a program.

    Raises
    ------
    ConflictError
        Another bench wrote to the job meanwhile.
    InputError
        The job file can't be added to.
    """
    log: Log = ()
    told: dict[str, Any] = {}
    if into.job_file is not None:
        before = read_job_file(into.job_file)
        step = make(fold(before))
        write_file(into.job_file, with_step(into.job_file.read_bytes(), into.job_file.name, step), force=True)
        log = (*before, step)
        told["job_file"] = str(into.job_file)
    if into.number is not None:
        with opened(into.database) as store:
            job = read_job(store, into.number)
            step = make(fold(job.log))
            append(store, into.number, step, job.sequence)
            log = (*job.log, step)
        told["job_number"] = into.number
    return log, told


def added_words(told: dict[str, Any]) -> str:
    """Return where a step went, for a person."""
    places = [str(told["job_file"])] if "job_file" in told else []
    places += [f"job {told['job_number']}"] if "job_number" in told else []
    return f"Added to {' and to '.join(places)}."
