"""`groovewright demo`: the main job on the bundled demo."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import click

from groovewright.cli.output import json_option, why_option, write_file
from groovewright.cli.plan import made_folder, sheet_bytes, show_plan
from groovewright.job import fold, log_from_toml, plan

DEMO_JOB = "fernhill.toml"
DEMO_PHOTOS = ("fernhill-left.jpg", "fernhill-right.jpg", "fernhill-mirror.jpg")


@click.command("demo")
@click.option("--out", "folder", type=click.Path(path_type=Path), default="groovewright-demo", show_default=True,
              metavar="DIR", help="Where the sheet, the job file and three photos go.")  # fmt: skip
@why_option
@json_option
def command(folder: Path, why: bool, as_json: bool) -> None:
    """Run the main job on an invented player: the plan, the next move, the sheet.

    Three photographs are written beside them, for trying `groovewright photo`.

    Nothing that is there already is replaced: a sheet that differs gets the next free name.

    \b
    Example:
      groovewright demo --out papers
    """
    content = resources.files("groovewright.demo").joinpath(DEMO_JOB).read_bytes()
    state = fold(log_from_toml(content, DEMO_JOB))
    made_folder(folder)
    _keep(folder / DEMO_JOB, content)
    for name in DEMO_PHOTOS:
        _keep(folder / name, resources.files("groovewright.demo").joinpath(name).read_bytes())
    sheet_file = _keep(folder / "fernhill-sheet.pdf", sheet_bytes(state, "a4") or b"")
    show_plan(state, plan(state), sheet_file, why=why, as_json=as_json)
    if not as_json:
        click.echo(f"Photographs over it, to be read:\n  groovewright photo {folder / DEMO_PHOTOS[0]}")


def _keep(wanted: Path, content: bytes) -> Path:
    """Write a file beside whatever is there, unless the same content stands there already."""
    path, number = wanted, 1
    while path.exists():
        if path.is_file() and path.read_bytes() == content:
            return path
        number += 1
        path = wanted.with_stem(f"{wanted.stem}-{number}")
    write_file(path, content, force=False)
    return path
