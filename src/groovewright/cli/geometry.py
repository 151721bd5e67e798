"""`groovewright geometry`: where the nulls belong on an arm, and how well it can track."""

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
from groovewright.cli.output import json_option, print_json, print_table, print_why, why_option, write_file
from groovewright.geometry import CRITERION_NAMES, distortion_summary
from groovewright.geometry.sensitivity import costs_of_errors
from groovewright.geometry.why import alignment_whys
from groovewright.quantities import SPEEDS_RPM, GrooveRange


@click.command("geometry")
@pivot_option
@criterion_option
@nulls_option
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
    grooves: GrooveRange,
    speed: str,
    velocity_cm_per_s: float,
    plot: Path | None,
    force: bool,
    why: bool,
    as_json: bool,
) -> None:
    """Show nulls, overhang, offset angle and distortion for an arm.

    \b
    Example:
      groovewright geometry --pivot-to-spindle 222 --criterion lofgren-a --plot error.svg
    """
    alignment = chosen_alignment(pivot_to_spindle_mm, criterion, grooves, nulls)
    criterion = "given nulls" if nulls else criterion
    settings = {"velocity_cm_per_s": velocity_cm_per_s, "speed_rpm": SPEEDS_RPM[speed]}
    worst_deg, worst_percent, rms_percent = distortion_summary(alignment, grooves, **settings)
    costs = costs_of_errors(alignment, grooves, **settings)
    if plot is not None:
        from groovewright.report.charts import figure_bytes
        from groovewright.report.tracking_chart import tracking_chart

        chart = tracking_chart(
            alignment,
            grooves,
            title=f"Tracking error, {CRITERION_NAMES.get(criterion, criterion)}",
            **settings,
        )
        write_file(plot, figure_bytes(chart, plot.suffix.lstrip(".").lower()), force=force)
    if as_json:
        print_json(
            {
                "criterion": criterion,
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
                "costs_of_errors": [vars(cost) for cost in costs],
            }
        )
        return
    click.echo(
        f"Overhang {alignment.overhang_mm:.2f} mm and offset angle {alignment.offset_angle_deg:.2f} deg: "
        f"square at {alignment.null_inner_mm:.2f} and {alignment.null_outer_mm:.2f} mm.\n"
    )
    print_table(
        [
            ("criterion", criterion),
            ("grooves", f"{grooves.inner_mm:g} to {grooves.outer_mm:g} mm ({grooves.source})"),
            ("pivot to spindle", f"{alignment.pivot_to_spindle_mm:.2f} mm"),
            ("effective length", f"{alignment.effective_length_mm:.3f} mm"),
            ("overhang", f"{alignment.overhang_mm:.3f} mm"),
            ("offset angle", f"{alignment.offset_angle_deg:.3f} deg"),
            ("linear offset", f"{alignment.linear_offset_mm:.3f} mm"),
            ("null radii", f"{alignment.null_inner_mm:.3f} and {alignment.null_outer_mm:.3f} mm"),
            ("largest tracking error", f"{worst_deg:.3f} deg"),
            ("distortion", f"{worst_percent:.3f} % at most, {rms_percent:.3f} % rms (second harmonic,"
             f" {velocity_cm_per_s:g} cm/s peak, {SPEEDS_RPM[speed]:.4g} rpm)"),
        ]
    )  # fmt: skip
    click.echo("\nWhat an error costs                              error at most   distortion, rms")
    for cost in costs:
        click.echo(
            f"  {cost.what:<44}  {cost.max_tracking_error_deg:8.2f} deg"
            f"  {cost.max_distortion_percent:6.2f} %  {cost.rms_distortion_percent:.2f} %"
        )
    if why:
        print_why(alignment_whys(alignment, criterion, grooves))
