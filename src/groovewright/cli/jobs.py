"""`groovewright jobs`: the record of all jobs: find, look, add, go back, hand on, back up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date, datetime
from pathlib import Path
from typing import Any

import click
from rich.cells import set_cell_size

from groovewright.cli.jobs_files import (
    back_up_command,
    catalogue_import_command,
    delete_customer_command,
    export_command,
    import_command,
    restore_command,
)
from groovewright.cli.jobs_record import database_option, opened
from groovewright.cli.output import json_option, print_json, print_table
from groovewright.cli.plan import read_job_file
from groovewright.job import JobState, fold, plan, to_plain
from groovewright.job.back import as_found_words
from groovewright.job.wear import StylusReminder, stylus_reminder
from groovewright.quantities import InputError, nearest
from groovewright.store import (
    KeptEvent,
    KeptJob,
    ListedJob,
    Page,
    go_back,
    list_jobs,
    new_job,
    read_job,
    search,
    stylus_due,
    suggest,
)


class NearestGroup(click.Group):
    """A group that names the nearest command where one is not known."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Add the nearest name to the error for an unknown command."""
        if args and not args[0].startswith("-") and args[0] not in self.commands:
            near = nearest(args[0], self.commands)
            hint = f" Did you mean '{near}'?" if near else ""
            known = ", ".join(self.commands)
            raise click.UsageError(f"There is no command 'jobs {args[0]}'.{hint} All of them: {known}.")
        return super().resolve_command(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order in which they were added."""
        return list(self.commands)


@click.group("jobs", cls=NearestGroup)
def command() -> None:
    """Keep, find and hand on the record of all jobs.

    The record is a file in your data directory; --database names another, or a PostgreSQL server.

    \b
    Example:
      groovewright jobs add my-job.toml
      groovewright jobs search sample fern
    """


page_option = click.option("--page", type=int, default=1, show_default=True, help="Which page of the list.")


@command.command("list")
@page_option
@database_option
@json_option
def list_command(page: int, database: str | None, as_json: bool) -> None:
    """List all jobs, the one that changed last first.

    \b
    Example:
      groovewright jobs list --page 2
    """
    with opened(database) as store:
        found = list_jobs(store, page)
    _print_page(found, as_json, "There are no jobs yet; 'groovewright jobs add JOB.toml' begins one.")


@command.command("search")
@click.argument("words", nargs=-1, required=True)
@page_option
@database_option
@json_option
def search_command(words: tuple[str, ...], page: int, database: str | None, as_json: bool) -> None:
    """Find jobs by the beginnings of words: customer, deck, arm, cartridges, title.

    \b
    Example:
      groovewright jobs search sample fern
    """
    with opened(database) as store:
        found = search(store, " ".join(words), page)
    _print_page(found, as_json, f"No job has words that begin with {' and '.join(words)}.")


@command.command("due")
@click.option("--by", "day", metavar="DAY", help="Year-month-day; today if nothing is given.")
@page_option
@database_option
@json_option
def due_command(day: str | None, page: int, database: str | None, as_json: bool) -> None:
    """List jobs whose stylus should be looked at by now, by estimated play time.

    The usual life of a stylus is common practice of the trade; the maker's own figure wins.

    \b
    Example:
      groovewright jobs due --by 2027-01-31
    """
    by = _day(day)
    with opened(database) as store:
        found = stylus_due(store, by.isoformat(), page)
    _print_page(found, as_json, f"No stylus is due by {by}, as far as play times were noted.")


@command.command("show")
@click.argument("number", type=int)
@click.option("--events", "with_events", is_flag=True, help="Every event with its time.")
@database_option
@json_option
def show_command(number: int, with_events: bool, database: str | None, as_json: bool) -> None:
    """Show a job: what it is about, where it stands, where the old cartridge lies.

    \b
    Example:
      groovewright jobs show 17 --events
    """
    with opened(database) as store:
        job = read_job(store, number)
    state = fold(job.log)
    reminder = _reminder(state)
    if as_json:
        print_json(_job_values(job, state, reminder))
        return
    _print_job(job, state, reminder)
    if with_events:
        click.echo()
        print_table([_event_row(kept) for kept in job.events])


@command.command("add")
@click.argument("job_file", metavar="JOB.toml", type=click.Path(path_type=Path))
@database_option
@json_option
def add_command(job_file: Path, database: str | None, as_json: bool) -> None:
    """Begin a job in the record with what a job file says.

    \b
    Example:
      groovewright jobs add my-job.toml
    """
    log = read_job_file(job_file)
    with opened(database) as store:
        number = new_job(store, log)
        place = store.place
    if as_json:
        print_json({"number": number, "events": len(log), "record": place})
        return
    click.echo(click.wrap_text(f"Job {number} is kept, with {len(log)} events: {place}", 79))


@command.command("go-back")
@click.argument("number", type=int)
@database_option
@json_option
def go_back_command(number: int, database: str | None, as_json: bool) -> None:
    """Begin a job that puts the old cartridge back as it was found.

    \b
    Example:
      groovewright jobs go-back 17
    """
    with opened(database) as store:
        new_number = go_back(store, number)
        job = read_job(store, new_number)
    if as_json:
        print_json({"number": new_number, "goes_back_from": number, **_header_values(job)})
        return
    click.echo(f"Job {new_number} begins: {job.header.title}.")
    click.echo(click.wrap_text(fold(job.log).job.notes, 79))


@command.command("names")
@click.argument("kind", metavar="customer|deck|arm|cartridge")
@click.argument("text", default="")
@database_option
@json_option
def names_command(kind: str, text: str, database: str | None, as_json: bool) -> None:
    """List names that came before, from earlier jobs and your catalogue.

    \b
    Example:
      groovewright jobs names cartridge bright
    """
    with opened(database) as store:
        found = suggest(store, kind, text, limit=20)
    if as_json:
        print_json({"kind": kind, "names": [asdict(suggestion) for suggestion in found]})
        return
    if not found:
        click.echo(f"No {kind} came before that begins like that.")
    print_table(
        [
            (
                set_cell_size(suggestion.name, min(len(suggestion.name), 44)),
                f"{suggestion.jobs} job{'s' if suggestion.jobs != 1 else ''}"
                f"{', in the catalogue' if suggestion.in_catalogue else ''}",
            )
            for suggestion in found
        ]
    )


for other in (
    export_command,
    import_command,
    back_up_command,
    restore_command,
    catalogue_import_command,
    delete_customer_command,
):
    command.add_command(other)


def _day(text: str | None) -> date:
    try:
        return date.today() if text is None else date.fromisoformat(text)
    except ValueError:
        raise InputError(f"--by {text} is not a day; write year-month-day: 2027-01-31") from None


def _reminder(state: JobState) -> StylusReminder | None:
    if state.cartridge_in is None:
        return None
    return stylus_reminder(state.cartridge_in.stylus, state.play, date.today())


COLUMNS = (("job", 6), ("changed", 10), ("customer", 18), ("deck", 18), ("cartridge", 18))
"""The columns of a list and their widths, with a space between: 79 in all."""


def _print_page(found: Page, as_json: bool, none: str) -> None:
    if as_json:
        jobs = [_header_values(job) for job in found.jobs]
        print_json({"page": found.page, "more": found.more, "total": found.total, "jobs": jobs})
        return
    if not found.jobs:
        click.echo(click.wrap_text(none if found.page == 1 else f"There is no page {found.page}.", 79))
        return
    _print_row([name for name, _ in COLUMNS])
    for job in found.jobs:
        header = job.header
        going_in = header.cartridge_in or header.cartridge_out
        _print_row([str(job.number), local(job.changed)[:10], _customer(job), header.deck, going_in])
    if found.more:
        total = f" of {-(-found.total // len(found.jobs))}" if found.total else ""
        click.echo(f"\nPage {found.page}{total}; --page {found.page + 1} shows the next.")


def _print_row(cells: Sequence[str]) -> None:
    sized = (_cut(cell, width) for cell, (_, width) in zip(cells, COLUMNS, strict=True))
    click.echo("  ".join(sized).rstrip())


def _cut(text: str, width: int) -> str:
    """Return a text in so many columns of the screen, wide letters counted as two."""
    cut = set_cell_size(text, width)
    return cut if cut.rstrip() == text or len(text) < width else set_cell_size(text, width - 1) + "…"


def _customer(job: ListedJob | KeptJob) -> str:
    return "(anonymised)" if job.anonymised and not job.header.customer else job.header.customer


def local(time: str) -> str:
    """Return a time of the record as the clock on the wall shows it, to the minute."""
    return datetime.fromisoformat(time).astimezone().strftime("%Y-%m-%d %H:%M")


def _header_values(job: ListedJob | KeptJob) -> dict[str, Any]:
    return {
        "number": job.number,
        **asdict(job.header),
        "created": job.created,
        "changed": job.changed,
        "events": job.sequence,
        "anonymised": job.anonymised,
    }


def _job_values(job: KeptJob, state: JobState, reminder: StylusReminder | None) -> dict[str, Any]:
    planned = plan(state)
    return {
        "uid": job.uid,
        **_header_values(job),
        "next_stage": planned.next_stage,
        "next_move": planned.next_move,
        "stylus_reminder": reminder.sentence if reminder else None,
        "log": [
            {"sequence": kept.sequence, "at": kept.at, "bench": kept.bench, "event": to_plain(kept.event)}
            for kept in job.events
        ],
    }


def _print_job(job: KeptJob, state: JobState, reminder: StylusReminder | None) -> None:
    header, planned = job.header, plan(state)
    click.secho(click.wrap_text(f"Job {job.number}: {header.title or 'no title'}", 79), bold=True)
    click.echo(click.wrap_text(f"Next, {planned.next_stage}: {planned.next_move}", 79) + "\n")
    settings = as_found_words(state.found, state.kept)
    rows = [
        ("customer", _customer(job)),
        ("deck", header.deck),
        ("arm", header.arm),
        ("coming out", header.cartridge_out),
        ("lies here", header.kept_at),
        ("as found", settings),
        ("going in", header.cartridge_in),
        ("stylus", reminder.sentence if reminder else ""),
        ("notes", state.job.notes),
        ("begun", local(job.created)),
        ("changed", f"{local(job.changed)}, {job.sequence} events"),
        ("anonymised", local(job.anonymised) if job.anonymised else ""),
    ]
    print_table([(name, value) for name, value in rows if value])


def _event_row(kept: KeptEvent) -> tuple[str, str]:
    plain = to_plain(kept.event)
    kind = plain.pop("kind")
    values = plain.pop("record", plain)
    about = f"{kind} {plain['section']}" if kind == "described" else str(kind)
    said = ", ".join(f"{key} {value}" for key, value in values.items() if value not in (None, "", ()))
    who = f" {kept.bench}" if kept.bench else ""
    return f"{kept.sequence:>3} {local(kept.at)}{who}", f"{about}{': ' if said else ''}{said}"
