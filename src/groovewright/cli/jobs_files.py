"""The commands of `groovewright jobs` that read and write files, and the one that takes a customer out."""

from __future__ import annotations

from pathlib import Path

import click

from groovewright.cli.jobs_record import database_option, opened
from groovewright.cli.options import force_option
from groovewright.cli.output import json_option, print_json, print_table, write_file
from groovewright.cli.progress import shown_progress
from groovewright.quantities import InputError
from groovewright.store import (
    back_up,
    export_text,
    forget_customer,
    import_catalogue,
    import_text,
    restore,
)
from groovewright.store.catalogue import LARGEST_CATALOGUE
from groovewright.store.export_reading import LARGEST_EXPORT

file_argument = click.argument("file", type=click.Path(path_type=Path))


@click.command("export")
@click.argument("numbers", metavar="[NUMBER]...", type=int, nargs=-1)
@click.option(
    "--out", type=click.Path(path_type=Path), metavar="FILE", help="A .json file; else it is printed."
)
@force_option
@database_option
@json_option
def export_command(
    numbers: tuple[int, ...], out: Path | None, force: bool, database: str | None, as_json: bool
) -> None:
    """Write jobs, or the whole record, as JSON that 'import' reads exactly.

    The file holds customers' names: keep it as you keep the record.

    \b
    Example:
      groovewright jobs export 17 18 --out two-jobs.json
    """
    with opened(database) as store:
        parts = export_text(store, list(dict.fromkeys(numbers)) or None)
        if out is None:
            for part in parts:
                click.echo(part, nl=False)
            return
        content = "".join(parts).encode()
    write_file(out, content, force=force)
    if as_json:
        print_json({"file": str(out), "bytes": len(content)})
        return
    said = f"{out}: {len(content):,} bytes; it holds customers' names, keep it as you keep the record."
    click.echo(click.wrap_text(said, 79))


@click.command("import")
@file_argument
@database_option
@json_option
def import_command(file: Path, database: str | None, as_json: bool) -> None:
    """Take jobs from an export into the record. Nothing that is there is overwritten.

    \b
    Example:
      groovewright jobs import two-jobs.json
    """
    content = _read(file, LARGEST_EXPORT)
    with opened(database) as store, shown_progress(file.name, quiet=as_json) as (tell, _):
        report = import_text(store, content, file.name, progress=tell)
    if as_json:
        print_json(
            {
                "added": report.added,
                "extended": report.extended,
                "unchanged": report.unchanged,
                "renumbered": report.renumbered,
                "refused": [{"job": job, "why": why} for job, why in report.refused],
                "catalogue_added": report.catalogue_added,
            }
        )
    else:
        rows = [
            ("added", f"{len(report.added)} jobs"),
            ("extended", f"{len(report.extended)} jobs were here with fewer events"),
            ("unchanged", f"{len(report.unchanged)} jobs were here already"),
            ("catalogue", f"{report.catalogue_added} entries added"),
            *((f"job {old}", f"is job {new} here, its number was taken") for old, new in report.renumbered.items()),
            *((job, f"not taken: {why}") for job, why in report.refused),
        ]  # fmt: skip
        print_table(rows)
    if report.refused and not (report.added or report.extended or report.unchanged):
        raise InputError(f"{file.name}: none of its jobs was taken")


@click.command("backup")
@file_argument
@force_option
@database_option
@json_option
def back_up_command(file: Path, force: bool, database: str | None, as_json: bool) -> None:
    """Copy the record to a file, checked, while benches go on working.

    \b
    Example:
      groovewright jobs backup /media/stick/records-2026-03.sqlite3
    """
    with opened(database) as store:
        jobs = back_up(store, file, force=force)
    if as_json:
        print_json({"file": str(file), "jobs": jobs})
        return
    click.echo(click.wrap_text(f"{file}: {jobs} jobs, checked. Keep it away from this machine.", 79))


@click.command("restore")
@file_argument
@force_option
@database_option
@json_option
def restore_command(file: Path, force: bool, database: str | None, as_json: bool) -> None:
    """Put a backup in place of the record, after a check. Stop the bench page first.

    What is in the record is backed up beside it before it is replaced (--force).

    \b
    Example:
      groovewright jobs restore /media/stick/records-2026-03.sqlite3
    """
    with opened(database) as store:
        jobs, aside = restore(store, file, force=force)
    with opened(database):  # a backup from an older version is brought up to date
        pass
    if as_json:
        print_json({"jobs": jobs, "before_restore": None if aside is None else str(aside)})
        return
    kept = f" What was there before is kept as {aside}." if aside else ""
    click.echo(click.wrap_text(f"The record holds {jobs} jobs now.{kept}", 79))


@click.command("catalogue-import")
@file_argument
@database_option
@json_option
def catalogue_import_command(file: Path, database: str | None, as_json: bool) -> None:
    """Take your own list of decks, arms and cartridges from a CSV file.

    Its first line names the columns: what (deck, arm or cartridge), name, and keys of a job file.

    \b
    Example:
      groovewright jobs catalogue-import my-cartridges.csv
    """
    content = _read(file, LARGEST_CATALOGUE)
    with opened(database) as store:
        report = import_catalogue(store, content, file.name)
    taken = report.added + report.replaced + report.unchanged
    if as_json:
        print_json(
            {
                "added": report.added,
                "replaced": report.replaced,
                "unchanged": report.unchanged,
                "refused": [vars(refused) for refused in report.refused],
            }
        )
    else:
        click.echo(
            f"{file.name}: {report.added} added, {report.replaced} replaced, {report.unchanged} unchanged, "
            f"{len(report.refused)} refused."
        )
        print_table([(f"line {refused.line}", f"{refused.name or 'no name'}: {refused.why}"
                      ) for refused in report.refused])  # fmt: skip
    if report.refused and not taken:
        raise InputError(f"{file.name}: none of its lines was taken")


@click.command("delete-customer")
@click.argument("name")
@click.option("--yes", is_flag=True, help="Do it. It can't be undone.")
@database_option
@json_option
def delete_customer_command(name: str, yes: bool, database: str | None, as_json: bool) -> None:
    """Take a customer's data out of every job; the measurements stay.

    \b
    Example:
      groovewright jobs delete-customer "A. Sample" --yes
    """
    if not yes:
        raise InputError(f"taking the data of '{name}' out can't be undone; add --yes to do it")
    with opened(database) as store:
        gone = forget_customer(store, name)
    if as_json:
        print_json({"jobs": gone.jobs, "events_changed": gone.events, "overwritten": gone.scrubbed})
        return
    count = f"{len(gone.jobs)} job{'s' if len(gone.jobs) != 1 else ''}"
    click.echo(f"Taken out of {count}; the measurements stay, without a name.")
    for advice in (
        "" if gone.scrubbed else "A bench has the record open: close it, so that old traces are overwritten.",
        "Backups and exports from before still hold the data: delete them, and take a new backup.",
        "" if database is None or "://" not in database else "Ask who runs the server about its own backups.",
    ):
        if advice:
            click.echo(click.wrap_text(advice, 79))


def _read(file: Path, most: int) -> bytes:
    try:
        with file.open("rb") as opened_file:
            return opened_file.read(most + 1)
    except OSError as error:
        raise InputError(f"{file} can't be read: {error.strerror}") from None
