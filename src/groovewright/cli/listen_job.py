"""A recording and the job that it belongs to: findings go in, what the job predicts is shown beside them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import click

from groovewright.audio import Listening
from groovewright.cli.jobs_record import opened
from groovewright.cli.output import print_table, write_file
from groovewright.cli.plan import read_job_file
from groovewright.job import Log, fold
from groovewright.job.heard import Listened
from groovewright.job.heard_toml import with_step
from groovewright.job.loading import load_curve_db
from groovewright.job.recording import listened_from
from groovewright.job.stages.listen import listen
from groovewright.quantities import FloatArray, InputError
from groovewright.store import append, read_job


@dataclass(frozen=True)
class Target:
    """Where the findings go: a job file, a job of the record, both or neither."""

    job_file: Path | None
    number: int | None
    database: str | None
    as_found: bool
    heard_on: str

    def log(self) -> Log:
        """Return the events of the job; none without one."""
        if self.number is not None:
            with opened(self.database) as store:
                return read_job(store, self.number).log
        return () if self.job_file is None else read_job_file(self.job_file)


def load_curve_of(target: Target) -> tuple[FloatArray, FloatArray] | None:
    """Return frequency and level of the job's cartridge into its load; None as found, or where it isn't known."""
    if target.as_found:
        return None
    state = fold(target.log())
    return load_curve_db(state.cartridge_in, state.phono)


def target_of(
    job_file: Path | None, number: int | None, database: str | None, as_found: bool, heard_on: str | None
) -> Target:
    """Return the target, checked before the recording is heard: the job is there and can be read.

    Raises
    ------
    InputError
        No such job, a day that is none, or something about a job without one.
    """
    if job_file is None and number is None:
        if as_found or heard_on:
            raise InputError(
                "--as-found and --heard-on say something of a job: name it with --job or --number"
            )
        return Target(None, None, database, False, "")
    try:
        day = date.fromisoformat(heard_on).isoformat() if heard_on else ""
    except ValueError:
        raise InputError(f"--heard-on '{heard_on}' is no day; write year-month-day: 2026-03-14") from None
    if job_file is not None:
        read_job_file(job_file)
    target = Target(job_file, number, database, as_found, day)
    target.log()
    return target


def enter(listening: Listening, target: Target) -> tuple[dict[str, Any], list[tuple[str, str]]]:
    """Add the findings to the target; return what a program and what a person is told of it."""
    event = listened_from(listening, as_found=target.as_found, heard_on=target.heard_on)
    told: dict[str, Any] = {}
    log: Log = ()
    if target.job_file is not None:
        log = (*read_job_file(target.job_file), event)
        content = with_step(target.job_file.read_bytes(), target.job_file.name, event)
        write_file(target.job_file, content, force=True)
        told["job_file"] = str(target.job_file)
    if target.number is not None:
        with opened(target.database) as store:
            job = read_job(store, target.number)
            append(store, target.number, event, job.sequence)
            log = (*job.log, event)
        told["job_number"] = target.number
    if not log:
        return {}, []
    report = listen(fold(log))
    told |= {"stage_status": report.status, "stage_sentence": report.sentence}
    told["against_load_db"] = report.values.get("against_load_db", {})
    return told, _beside(event, report.rows)


def _beside(event: Listened, rows: tuple[tuple[str, str], ...]) -> list[tuple[str, str]]:
    if event.as_found:
        return []
    return [row for row in rows if "predicted" in row[1] or row[0].startswith("against")]


def print_entered(told: dict[str, Any], beside: list[tuple[str, str]]) -> None:
    """Print where the findings went, and what the job says beside them."""
    if not told:
        return
    click.echo("\nIn the job")
    print_table(beside)
    where = [str(told[key]) for key in ("job_file", "job_number") if key in told]
    said = f"Added to {' and to job '.join(where)}." if "job_file" in told else f"Added to job {where[0]}."
    click.echo(click.wrap_text(f"{said} Stage listen: {told['stage_sentence']}", 79, "  ", "  "))
