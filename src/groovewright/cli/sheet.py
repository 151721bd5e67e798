"""`groovewright sheet`: a true-scale sheet to print for one arm."""

from __future__ import annotations

from pathlib import Path

import click

from groovewright.cli.options import (
    chosen_alignment,
    criterion_option,
    force_option,
    grooves_option,
    nulls_option,
    pivot_option,
)
from groovewright.cli.output import json_option, print_json, print_table
from groovewright.cli.sheet_file import (
    correction_of,
    measured_x_option,
    measured_y_option,
    out_option,
    paper_option,
    sheet_writer,
)
from groovewright.geometry import CRITERION_NAMES
from groovewright.quantities import GrooveRange
from groovewright.sheets import PAPERS, SheetLabel, arc_sheet, two_point_sheet

_KINDS = {"two-point": two_point_sheet, "arc": arc_sheet}


@click.command("sheet")
@pivot_option
@criterion_option
@nulls_option
@grooves_option
@click.option("--kind", type=click.Choice(tuple(_KINDS)), default="two-point", show_default=True,
              help="Two grids that are turned under the stylus, or the stylus arc of this arm.")  # fmt: skip
@paper_option
@measured_x_option
@measured_y_option
@click.option("--arm", default="", metavar="TEXT", help="The arm's name, written on the sheet.")
@click.option("--for", "for_whom", default="", metavar="TEXT", help="Whose player it is for.")
@out_option
@force_option
@json_option
def command(
    pivot_to_spindle_mm: float,
    criterion: str,
    nulls: tuple[float, float] | None,
    grooves: GrooveRange,
    kind: str,
    paper: str,
    measured_x_mm: float | None,
    measured_y_mm: float | None,
    arm: str,
    for_whom: str,
    out: Path,
    force: bool,
    as_json: bool,
) -> None:
    """Draw a true-scale sheet to print: a grid at each null, or the stylus arc.

    Print it at 100 %, measure its two bars, and give what they measure with --measured-x and --measured-y
    if they aren't 100 mm.

    \b
    Example:
      groovewright sheet --pivot-to-spindle 222 --kind two-point --out sheet.pdf
    """
    write = sheet_writer(out, force=force)
    alignment = chosen_alignment(pivot_to_spindle_mm, criterion, grooves, nulls)
    drawing = _KINDS[kind](
        alignment=alignment,
        label=SheetLabel(
            arm=arm or f"arm of {pivot_to_spindle_mm:g} mm pivot to spindle",
            criterion="given nulls" if nulls else CRITERION_NAMES[criterion],
            grooves="" if nulls else f"grooves {grooves.inner_mm:g} to {grooves.outer_mm:g} mm",
            for_whom=for_whom,
        ),
        paper=PAPERS[paper],
        correction=correction_of(measured_x_mm, measured_y_mm),
    )
    write(drawing)
    if as_json:
        print_json({"file": str(out), "criterion": "given nulls" if nulls else criterion,
                    **drawing.facts})  # fmt: skip
        return
    click.echo(f"{out}: {kind} sheet on {PAPERS[paper].name}. Print it at 100 %, then measure both bars.\n")
    print_table(
        [
            ("nulls", f"{alignment.null_inner_mm:.3f} and {alignment.null_outer_mm:.3f} mm"),
            ("effective length", f"{alignment.effective_length_mm:.3f} mm"),
            ("overhang", f"{alignment.overhang_mm:.3f} mm"),
            ("offset angle", f"{alignment.offset_angle_deg:.3f} deg"),
        ]
    )
    click.echo("\nAmplifier off, stylus guard on, before the sheet goes on the platter.")
