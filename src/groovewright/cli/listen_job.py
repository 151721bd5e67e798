"""A recording and the job that it belongs to: findings go in, what the job predicts is shown beside them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import click

from groovewright.audio import Listening
from groovewright.cli.into_job import IntoJob, add_step, added_words, check_into, log_of
from groovewright.cli.output import print_table
from groovewright.job import fold
from groovewright.job.heard import Listened
from groovewright.job.loading import load_curve_db
from groovewright.job.recording import listened_from
from groovewright.job.stages.listen import listen
from groovewright.quantities import FloatArray, InputError


@dataclass(frozen=True)
class Target:
    """Where the findings go, and what is said of the recording there."""

    into: IntoJob
    as_found: bool
    heard_on: str


def load_curve_of(target: Target) -> tuple[FloatArray, FloatArray] | None:
    """Return frequency and level of the job's cartridge into its load; None as found, or where it isn't known."""
    if target.as_found:
        return None
    state = fold(log_of(target.into))
    return load_curve_db(state.cartridge_in, state.phono)


def target_of(into: IntoJob, as_found: bool, heard_on: str | None) -> Target:
    """Return the target, checked before the recording is heard: the job is there and can be read.

    Raises
    ------
    InputError
        No such job, a day that is none, or something about a job without one.
    """
    if into.nowhere and (as_found or heard_on):
        raise InputError("--as-found and --heard-on say something of a job: name it with --job or --number")
    try:
        day = date.fromisoformat(heard_on).isoformat() if heard_on else ""
    except ValueError:
        raise InputError(f"--heard-on '{heard_on}' is no day; write year-month-day: 2026-03-14") from None
    return Target(check_into(into), as_found, day)


def enter(listening: Listening, target: Target) -> tuple[dict[str, Any], list[tuple[str, str]]]:
    """Add the findings to the target; return what a program and what a person is told of it."""
    if target.into.nowhere:
        return {}, []
    event = listened_from(listening, as_found=target.as_found, heard_on=target.heard_on)
    log, told = add_step(target.into, lambda _: event)
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
    click.echo(click.wrap_text(f"{added_words(told)} Stage listen: {told['stage_sentence']}", 79, "  ", "  "))
