"""`groovewright handover`: the paper that proves the work, for the owner."""

from __future__ import annotations

from pathlib import Path

import click

from groovewright.cli.job_paper import job_file_argument, paper_file_option, write_by_ending
from groovewright.cli.options import force_option
from groovewright.cli.output import json_option, print_json, print_table
from groovewright.cli.plan import read_job_file
from groovewright.cli.sheet_file import paper_option
from groovewright.job import fold, plan
from groovewright.report.handover import handover
from groovewright.report.handover_html import handover_html
from groovewright.report.handover_pdf import handover_pdf
from groovewright.report.stage_charts import stage_charts
from groovewright.sheets import PAPERS


@click.command("handover")
@job_file_argument
@paper_file_option
@click.option(
    "--next-check", default="", metavar="TEXT", help="When the next check is due; a year on if not given."
)
@paper_option
@force_option
@json_option
def command(job_file: Path, out: Path, next_check: str, paper: str, force: bool, as_json: bool) -> None:
    """Write the handover paper of a job: as found and as left, with uncertainty and verdict.

    A job that is not finished gets a paper that says so at its head.

    \b
    Example:
      groovewright handover my-job.toml --out handover.pdf
    """
    state = fold(read_job_file(job_file))
    planned = plan(state)
    content = handover(state, planned, next_check=next_check)
    makers = {
        ".pdf": lambda: handover_pdf(content, paper=PAPERS[paper], charts=stage_charts(state, planned)),
        ".html": lambda: handover_html(content, charts=stage_charts(state, planned)).encode(),
    }
    write_by_ending(out, makers, force=force)
    if as_json:
        print_json(
            {
                "file": str(out),
                "finished": content.finished,
                "headline": content.headline,
                "settings": [vars(row) for row in content.settings],
                "next_check": content.next_check,
                "code_text": content.code_text,
            }
        )
        return
    click.echo(click.wrap_text(f"{out}: {content.headline}. {content.sentence}", 79))
    click.echo()
    print_table([(row.name, f"found {row.found or '-'}, left {row.left or '-'}") for row in content.settings])
