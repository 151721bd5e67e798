"""`groovewright answer`: from the text that an owner sent to the answer that goes back."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import click

from groovewright.cli.job_paper import job_file_argument, write_by_ending
from groovewright.cli.options import force_option
from groovewright.cli.output import json_option, print_json
from groovewright.cli.plan import read_job_file
from groovewright.job import Looked, fold, to_plain
from groovewright.report.answer import answer, answer_html, step_lines
from groovewright.report.picture import svg_file


@click.command("answer")
@job_file_argument
@click.argument("text")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The answer with its drawing: .html or .svg.",
)
@force_option
@json_option
def command(job_file: Path, text: str, out: Path | None, force: bool, as_json: bool) -> None:
    """Answer an owner's readings: one sentence, a drawing, and the lines to add to the job file.

    TEXT is what the guide composed, or plain words; '-' reads it from the standard input. The job file is
    left as it is.

    \b
    Example:
      groovewright answer my-job.toml \\
          "Moved as told: yes. Outer point: square. Inner point: out 0.4 degrees."
    """
    log = read_job_file(job_file)
    said = sys.stdin.read(LARGEST_INPUT) if text == "-" else text
    answered = answer(log, said)
    state = fold(log)
    if out is not None:
        makers: dict[str, Callable[[], bytes]] = {
            ".html": lambda: answer_html(answered, state).encode(),
            ".svg": lambda: svg_file(answered.drawing).encode(),
        }
        write_by_ending(out, makers, force=force)
    if as_json:
        look = next(event for event in answered.events if isinstance(event, Looked))
        print_json(
            {
                "outer": look.outer,
                "inner": look.inner,
                "events": [to_plain(event) for event in answered.events],
                "sentence": answered.sentence,
                "then": answered.then,
                "finished": answered.finished,
                "warnings": answered.warnings,
                "file": None if out is None else str(out),
            }
        )
        return
    for warning in answered.warnings:
        click.echo(click.wrap_text(f"Check: {warning}", 79))
    click.echo(click.wrap_text(f"{answered.sentence} {answered.then}", 79))
    click.echo("\nTo add to the job file:\n")
    click.echo(step_lines(answered.events))


LARGEST_INPUT = 100_000
"""Characters that are read from the standard input; longer ones are refused as readings anyway."""
