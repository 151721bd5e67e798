"""What the commands share that write a sheet: paper, correction, and the file by its ending."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click

from groovewright.cli.output import write_file
from groovewright.quantities import InputError
from groovewright.sheets import PAPERS, Drawing, PrintCorrection, pdf_bytes, svg_text

paper_option = click.option(
    "--paper", type=click.Choice(tuple(PAPERS)), default="a4", show_default=True, help="Paper size."
)
measured_x_option = click.option(
    "--measured-x", "measured_x_mm", type=float, metavar="MM",
    help="What the printed bar across measured; it should be 100.",
)  # fmt: skip
measured_y_option = click.option(
    "--measured-y", "measured_y_mm", type=float, metavar="MM",
    help="What the printed bar down the paper measured; it should be 100.",
)  # fmt: skip
out_option = click.option(
    "--out", type=click.Path(path_type=Path), required=True, metavar="FILE", help="A .pdf or a .svg file."
)

_FORMATS: dict[str, Callable[[Drawing], bytes]] = {
    ".pdf": pdf_bytes,
    ".svg": lambda drawing: svg_text(drawing).encode(),
}


def correction_of(measured_x_mm: float | None, measured_y_mm: float | None) -> PrintCorrection:
    """Return the correction for what was measured; an axis that wasn't is taken as true."""
    return PrintCorrection(
        100.0 if measured_x_mm is None else measured_x_mm, 100.0 if measured_y_mm is None else measured_y_mm
    )


def sheet_writer(out: Path, *, force: bool) -> Callable[[Drawing], None]:
    """Return what writes a drawing to `out`, in the format of its ending.

    Raises
    ------
    InputError
        The ending is neither .pdf nor .svg. The writer itself raises as `write_file` does.
    """
    render = _FORMATS.get(out.suffix.lower())
    if render is None:
        raise InputError(
            f"--out {out} ends in '{out.suffix}'; a sheet is written as .pdf or .svg, such as {out.stem}.pdf"
        )

    def write(drawing: Drawing) -> None:
        write_file(out, render(drawing), force=force)

    return write
