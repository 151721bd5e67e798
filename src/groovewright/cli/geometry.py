"""`groovewright geometry`: where the nulls belong on an arm, and how well it can track."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import click

from groovewright.cli.options import (
    NumberListType,
    chosen_alignment,
    criterion_option,
    force_option,
    grooves_option,
    nulls_option,
    pivot_option,
)
from groovewright.cli.output import json_option, print_json, print_table, print_why, why_option, write_file
from groovewright.geometry import (
    CRITERION_NAMES,
    PIVOT_TO_SPINDLE,
    Alignment,
    alignment_for_mounting,
    distortion_summary,
)
from groovewright.geometry.alignment import EFFECTIVE_LENGTH, OFFSET_ANGLE
from groovewright.geometry.constrained import best_length_for_offset, best_offset_for_length, cost_for
from groovewright.geometry.optimum import least_squares_for_records
from groovewright.geometry.sensitivity import costs_of_errors
from groovewright.geometry.why import alignment_whys
from groovewright.quantities import SPEEDS_RPM, GrooveRange, InputError


@click.command("geometry")
@pivot_option
@criterion_option
@nulls_option
@click.option("--offset-angle", "offset_angle_deg", type=float, metavar="DEG",
              help="The offset angle, where the arm fixes it.")  # fmt: skip
@click.option("--effective-length", "effective_length_mm", type=float, metavar="MM",
              help="The effective length, where the arm fixes it.")  # fmt: skip
@click.option("--records-end", "records_end_mm", type=NumberListType(), metavar="MM,MM,...",
              help="Where the music of your own records ends: least squares for those.")  # fmt: skip
@grooves_option
@click.option("--speed", type=click.Choice(tuple(SPEEDS_RPM)), default="33", show_default=True, help="rpm.")
@click.option("--velocity", "velocity_cm_per_s", type=float, default=10.0, show_default=True, metavar="CM/S",
              help="Peak recorded velocity for the distortion.")  # fmt: skip
@click.option("--plot", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Write a chart of tracking error and distortion: .svg, .png or .pdf.")  # fmt: skip
@force_option
@why_option
@json_option
def command(
    pivot_to_spindle_mm: float,
    criterion: str,
    nulls: tuple[float, float] | None,
    offset_angle_deg: float | None,
    effective_length_mm: float | None,
    records_end_mm: list[float] | None,
    grooves: GrooveRange,
    speed: str,
    velocity_cm_per_s: float,
    plot: Path | None,
    force: bool,
    why: bool,
    as_json: bool,
) -> None:
    """Show nulls, overhang, offset angle and distortion for an arm.

    What the arm fixes can be given: an offset angle, an effective length, or both (then this is what it has).
    An offset angle of 0 is a straight underhung arm.

    \b
    Examples:
      groovewright geometry --pivot-to-spindle 222 --plot error.svg
      groovewright geometry --pivot-to-spindle 222 --offset-angle 0
    """
    basis, alignment = _alignment(
        pivot_to_spindle_mm, criterion, grooves, nulls, offset_angle_deg, effective_length_mm, records_end_mm
    )
    settings = {"velocity_cm_per_s": velocity_cm_per_s, "speed_rpm": SPEEDS_RPM[speed]}
    summary = distortion_summary(alignment, grooves, **settings)
    if plot is not None:
        from groovewright.report.charts import figure_bytes
        from groovewright.report.tracking_chart import tracking_chart

        title = f"Tracking error, {CRITERION_NAMES.get(basis, basis)}"
        chart = tracking_chart(alignment, grooves, title=title, **settings)
        write_file(plot, figure_bytes(chart, plot.suffix.lstrip(".").lower()), force=force)
    if as_json:
        print_json(_as_json(basis, alignment, grooves, summary, settings))
        return
    _print_text(basis, alignment, grooves, summary, settings)
    if why:
        print_why(alignment_whys(alignment, basis, grooves))


def _alignment(
    pivot_to_spindle_mm: float,
    criterion: str,
    grooves: GrooveRange,
    nulls: tuple[float, float] | None,
    offset_angle_deg: float | None,
    effective_length_mm: float | None,
    records_end_mm: list[float] | None,
) -> tuple[str, Alignment]:
    """Return what the alignment rests on (a key of `CRITERION_SOURCES`) and the alignment."""
    fixed = offset_angle_deg is not None or effective_length_mm is not None
    if sum((nulls is not None, records_end_mm is not None, fixed)) > 1:
        raise InputError(
            "--nulls, --records-end and what the arm fixes exclude one another; give one of them"
        )
    PIVOT_TO_SPINDLE.check(pivot_to_spindle_mm)
    cost = cost_for(criterion)
    length, offset = effective_length_mm, offset_angle_deg
    if length is not None:
        EFFECTIVE_LENGTH.check(length)
    if offset is not None:
        OFFSET_ANGLE.check(offset)
    if length is not None and offset is not None:
        return "as mounted", alignment_for_mounting(pivot_to_spindle_mm, length, offset)
    if offset is not None:
        best = float(best_length_for_offset(pivot_to_spindle_mm, offset, grooves, cost))
        return "fixed offset angle", alignment_for_mounting(pivot_to_spindle_mm, best, offset)
    if length is not None:
        best = float(best_offset_for_length(pivot_to_spindle_mm, length, grooves, cost))
        return "fixed effective length", alignment_for_mounting(pivot_to_spindle_mm, length, best)
    if records_end_mm is not None:
        own_length, own_offset = least_squares_for_records(
            pivot_to_spindle_mm, records_end_mm, grooves.outer_mm
        )
        return "own records", alignment_for_mounting(
            pivot_to_spindle_mm, float(own_length), float(own_offset)
        )
    basis = criterion if nulls is None else "given nulls"
    return basis, chosen_alignment(pivot_to_spindle_mm, criterion, grooves, nulls)


def _as_json(
    basis: str,
    alignment: Alignment,
    grooves: GrooveRange,
    summary: tuple[float, float, float],
    settings: dict[str, float],
) -> dict[str, Any]:
    worst_deg, worst_percent, rms_percent = summary
    return {
        "criterion": basis,
        "pivot_to_spindle_mm": alignment.pivot_to_spindle_mm,
        "groove_inner_mm": grooves.inner_mm,
        "groove_outer_mm": grooves.outer_mm,
        "null_inner_mm": alignment.null_inner_mm,
        "null_outer_mm": alignment.null_outer_mm,
        "effective_length_mm": alignment.effective_length_mm,
        "overhang_mm": alignment.overhang_mm,
        "offset_angle_deg": alignment.offset_angle_deg,
        "linear_offset_mm": alignment.linear_offset_mm,
        "max_tracking_error_deg": worst_deg,
        "max_distortion_percent": worst_percent,
        "rms_distortion_percent": rms_percent,
        **settings,
        "costs_of_errors": [vars(cost) for cost in costs_of_errors(alignment, grooves, **settings)],
    }


def _print_text(
    basis: str,
    alignment: Alignment,
    grooves: GrooveRange,
    summary: tuple[float, float, float],
    settings: dict[str, float],
) -> None:
    worst_deg, worst_percent, rms_percent = summary
    nulls = [null for null in (alignment.null_inner_mm, alignment.null_outer_mm) if math.isfinite(null)]
    square = " and ".join(f"{null:.2f}" for null in nulls)
    click.echo(
        f"Overhang {alignment.overhang_mm:.2f} mm and offset angle {alignment.offset_angle_deg:.2f} deg: "
        + (f"square at {square} mm.\n" if nulls else "square nowhere.\n")
    )
    print_table(
        [
            ("criterion", basis),
            ("grooves", f"{grooves.inner_mm:g} to {grooves.outer_mm:g} mm ({grooves.source})"),
            ("pivot to spindle", f"{alignment.pivot_to_spindle_mm:.2f} mm"),
            ("effective length", f"{alignment.effective_length_mm:.3f} mm"),
            ("overhang", f"{alignment.overhang_mm:.3f} mm"),
            ("offset angle", f"{alignment.offset_angle_deg:.3f} deg"),
            ("linear offset", f"{alignment.linear_offset_mm:.3f} mm"),
            ("null radii", " and ".join(f"{null:.3f}" for null in nulls) + " mm" if nulls else "none"),
            ("largest tracking error", f"{worst_deg:.3f} deg"),
            ("distortion", f"{worst_percent:.3f} % at most, {rms_percent:.3f} % rms (second harmonic,"
             f" {settings['velocity_cm_per_s']:g} cm/s peak, {settings['speed_rpm']:.4g} rpm)"),
        ]
    )  # fmt: skip
    click.echo("\nWhat an error costs                              error at most   distortion, rms")
    for cost in costs_of_errors(alignment, grooves, **settings):
        click.echo(
            f"  {cost.what:<44}  {cost.max_tracking_error_deg:8.2f} deg"
            f"  {cost.max_distortion_percent:6.2f} %  {cost.rms_distortion_percent:.2f} %"
        )
