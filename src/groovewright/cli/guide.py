"""`groovewright guide`: the guide for the owner at home."""

from __future__ import annotations

from pathlib import Path

import click

from groovewright.cli.job_paper import job_file_argument, paper_file_option, write_by_ending
from groovewright.cli.options import force_option
from groovewright.cli.output import json_option, print_json
from groovewright.cli.plan import read_job_file
from groovewright.cli.sheet_file import correction_of, measured_x_option, measured_y_option, paper_option
from groovewright.job import fold
from groovewright.report.guide import guide
from groovewright.report.guide_page import guide_html, guide_pdf
from groovewright.sheets import PAPERS


@click.command("guide")
@job_file_argument
@paper_file_option
@paper_option
@measured_x_option
@measured_y_option
@force_option
@json_option
def command(
    job_file: Path,
    out: Path,
    paper: str,
    measured_x_mm: float | None,
    measured_y_mm: float | None,
    force: bool,
    as_json: bool,
) -> None:
    """Write the guide for an owner at home: each step with its drawing, the sheet, what to tell the shop.

    A job file with just [arm] and [cartridge_in] is enough.

    \b
    Example:
      groovewright guide my-job.toml --out guide.html
    """
    made = guide(
        fold(read_job_file(job_file)),
        paper=PAPERS[paper],
        correction=correction_of(measured_x_mm, measured_y_mm),
    )
    makers = {
        ".html": lambda: guide_html(made, paper=PAPERS[paper]).encode(),
        ".pdf": lambda: guide_pdf(made, paper=PAPERS[paper]),
    }
    write_by_ending(out, makers, force=force)
    if as_json:
        print_json(
            {
                "file": str(out),
                "title": made.title,
                "steps": [step.title for step in made.steps],
                "has_sheet": made.sheet is not None,
                "sheet_radii_mm": made.radii_mm,
            }
        )
        return
    sheet = (
        "with the sheet to print"
        if made.sheet is not None
        else "without a sheet: nothing is squared over one here"
    )
    click.echo(click.wrap_text(f"{out}: {made.title}, {len(made.steps)} steps, {sheet}.", 79))
    if made.points:
        click.echo(
            click.wrap_text('What the owner sends back goes to: groovewright answer JOB.toml "the text".', 79)
        )
