"""`groovewright plan`: where a job stands, the next move, the sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from groovewright.cli.options import force_option
from groovewright.cli.output import json_option, print_json, print_table, print_why, why_option, write_file
from groovewright.cli.sheet_file import paper_option
from groovewright.job import JobState, Log, Plan, StageReport, fold, log_from_toml, plan
from groovewright.job.document import LARGEST_FILE
from groovewright.job.sheet import job_sheet
from groovewright.quantities import InputError
from groovewright.sheets import PAPERS, pdf_bytes

STATUS_MARKS = {
    "done": "done",
    "open": "to do",
    "waiting": "waits",
    "unknown": "unknown",
    "not-needed": "not needed",
}
"""How the status of a stage is written."""


@click.command("plan")
@click.argument("job_file", metavar="JOB.toml", type=click.Path(path_type=Path))
@click.option(
    "--out", "folder", type=click.Path(path_type=Path), metavar="DIR", help="Write the sheet there."
)
@paper_option
@force_option
@why_option
@json_option
def command(job_file: Path, folder: Path | None, paper: str, force: bool, why: bool, as_json: bool) -> None:
    """Show where a job stands, stage by stage, and the one next move.

    \b
    Example:
      groovewright plan my-job.toml --out papers
    """
    state = fold(read_job_file(job_file))
    sheet_file = None
    if folder is not None:
        content = sheet_bytes(state, paper)
        if content is not None:
            sheet_file = made_folder(folder) / f"{job_file.stem}-sheet.pdf"
            write_file(sheet_file, content, force=force)
    show_plan(state, plan(state), sheet_file, why=why, as_json=as_json)


def read_job_file(job_file: Path) -> Log:
    """Return the events of a job file.

    Raises
    ------
    InputError
        The file is not there, can't be read, or says something that is not allowed.
    """
    try:
        with job_file.open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except OSError as error:
        raise InputError(f"{job_file} can't be read: {error.strerror}") from None
    return log_from_toml(content, job_file.name)


def sheet_bytes(state: JobState, paper: str) -> bytes | None:
    """Return the job's sheet as PDF; None where the job needs none."""
    drawing = job_sheet(state, PAPERS[paper])
    return None if drawing is None else pdf_bytes(drawing)


def made_folder(folder: Path) -> Path:
    """Return the folder, made if it wasn't there.

    Raises
    ------
    InputError
        It can't be made, or a file stands in its place.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"folder {folder} can't be made: {error.strerror}; name one that is yours") from None
    return folder


def show_plan(state: JobState, planned: Plan, sheet_file: Path | None, *, why: bool, as_json: bool) -> None:
    """Print a plan as text or as one JSON object."""
    if as_json:
        print_json(_as_json(state, planned, sheet_file))
        return
    heading = " - ".join(part for part in (state.job.title, state.job.shop, state.job.owner) if part)
    if heading:
        click.echo(click.wrap_text(heading, 79))
    click.secho(click.wrap_text(f"Next, {planned.next_stage}: {planned.next_move}", 79), bold=True)
    for report in planned.stages:
        _print_stage(report, is_next=report.stage == planned.next_stage)
    if why:
        print_why([reason for report in planned.stages for reason in report.whys])
    if sheet_file is not None:
        click.echo(click.wrap_text(f"\nThe sheet is {sheet_file}: print it at 100 %, measure both bars.", 79))
    else:
        click.echo("\nAdd --out DIR to get the sheet to print.")


def _print_stage(report: StageReport, *, is_next: bool) -> None:
    mark = "NEXT" if is_next else STATUS_MARKS[report.status]
    click.echo(f"\n{report.stage.upper()}  ({mark})")
    if not is_next:
        click.echo(click.wrap_text(report.sentence, 79, "  ", "  "))
    for warning in report.warnings:
        click.echo(click.wrap_text(f"Check: {warning}", 79, "  ", "         "))
    for caution in report.cautions if report.status == "open" else ():
        click.echo(click.wrap_text(f"Caution: {caution}", 79, "  ", "           "))
    print_table(report.rows)


def _as_json(state: JobState, planned: Plan, sheet_file: Path | None) -> dict[str, Any]:
    return {
        "title": state.job.title,
        "next_stage": planned.next_stage,
        "next_move": planned.next_move,
        "sheet_file": None if sheet_file is None else str(sheet_file),
        "stages": [
            {
                "stage": report.stage,
                "status": report.status,
                "sentence": report.sentence,
                "warnings": report.warnings,
                "cautions": report.cautions,
                **report.values,
            }
            for report in planned.stages
        ],
    }
