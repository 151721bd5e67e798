"""`groovewright stroboscope`: a disc to check a platter's speed by a flashing lamp."""

from __future__ import annotations

from pathlib import Path

import click

from groovewright.cli.options import force_option
from groovewright.cli.output import json_option, print_json, print_table
from groovewright.cli.sheet_file import (
    correction_of,
    measured_x_option,
    measured_y_option,
    out_option,
    paper_option,
    sheet_writer,
)
from groovewright.quantities import InputError
from groovewright.sheets import PAPERS, flashes_for_mains, stroboscope_rings, stroboscope_sheet


@click.command("stroboscope")
@click.option(
    "--mains-hz", type=click.Choice(("50", "60")), help="Mains of the lamp; 50 if nothing is given."
)
@click.option("--flash-hz", type=float, metavar="HZ", help="Flashes in a second of any other lamp.")
@paper_option
@measured_x_option
@measured_y_option
@out_option
@force_option
@json_option
def command(
    mains_hz: str | None,
    flash_hz: float | None,
    paper: str,
    measured_x_mm: float | None,
    measured_y_mm: float | None,
    out: Path,
    force: bool,
    as_json: bool,
) -> None:
    """Draw a stroboscope disc for 33 1/3, 45 and 78.26 rpm to print.

    A mains lamp flashes twice in each cycle; many LED lamps don't. Flashing light can trouble people with
    photosensitive epilepsy.

    \b
    Example:
      groovewright stroboscope --mains-hz 50 --out stroboscope.pdf
    """
    if mains_hz is not None and flash_hz is not None:
        raise InputError(
            f"--mains-hz {mains_hz} and --flash-hz {flash_hz:g} are both given; name the mains or the flashes"
        )
    flashes = flash_hz if flash_hz is not None else flashes_for_mains(float(mains_hz or 50))
    write = sheet_writer(out, force=force)
    drawing = stroboscope_sheet(
        flash_hz=flashes, paper=PAPERS[paper], correction=correction_of(measured_x_mm, measured_y_mm)
    )
    rings = stroboscope_rings(flashes)
    write(drawing)
    if as_json:
        table = [
            {
                "wanted_rpm": ring.wanted_rpm,
                "bars": ring.bars,
                "exact_rpm": ring.exact_rpm,
                "off_percent": ring.off_percent,
            }
            for ring in rings
        ]
        print_json({"file": str(out), **drawing.facts, "rings": table})
        return
    click.echo(f"{out}: stroboscope on {PAPERS[paper].name} for {flashes:g} flashes in a second.\n")
    print_table(
        [
            (f"{ring.wanted_rpm:.4g} rpm", f"{ring.bars} bars, still at {ring.exact_rpm:.3f} rpm "
             f"({ring.off_percent:+.2f} %)")
            for ring in rings
        ]
    )  # fmt: skip
    click.echo(
        "\nA flashing lamp can trouble people with photosensitive epilepsy. Use a lamp as\n"
        "it is sold; don't open a lamp or a player on the mains."
    )
