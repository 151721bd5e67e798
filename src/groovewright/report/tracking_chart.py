"""Tracking error and distortion over the record, in one chart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from groovewright.geometry import Alignment, second_harmonic_percent, yaw_deg
from groovewright.quantities import GrooveRange
from groovewright.report.charts import INK, SHADE, SIGNAL, blank_chart

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def tracking_chart(
    alignment: Alignment,
    grooves: GrooveRange,
    *,
    velocity_cm_per_s: float,
    speed_rpm: float,
    title: str = "Tracking error over the record",
) -> Figure:
    """Draw yaw in degrees (left) and second harmonic in percent (right) against groove radius.

    The modulated grooves are shaded; the nulls are marked and labelled on the zero line.
    """
    radii = np.linspace(grooves.inner_mm - 4.0, grooves.outer_mm + 4.0, 601)
    error = yaw_deg(
        alignment.pivot_to_spindle_mm, alignment.effective_length_mm, alignment.offset_angle_deg, radii
    )
    percent = second_harmonic_percent(error, radii, velocity_cm_per_s=velocity_cm_per_s, speed_rpm=speed_rpm)
    figure, axes = blank_chart(
        title,
        "Groove radius in mm",
        "Yaw in degrees, + is front in",
        subtitle=f"shaded: modulated grooves, {grooves.inner_mm:g} to {grooves.outer_mm:g} mm",
    )
    axes.axvspan(grooves.inner_mm, grooves.outer_mm, color=SHADE, alpha=0.7, linewidth=0, zorder=0)
    axes.axhline(0.0, color=INK, linewidth=1.0)
    axes.plot(radii, error, color=SIGNAL, linewidth=3.0, label="yaw (left scale)", zorder=4)
    # where the curve leaves room: below the line, between the two nulls
    for null, aside, side in ((alignment.null_inner_mm, 9, "left"), (alignment.null_outer_mm, -9, "right")):
        if np.isfinite(null):
            axes.plot([null], [0.0], marker="o", markersize=8, color=INK, zorder=5)
            axes.annotate(
                f"{null:.1f} mm", (null, 0.0), (aside, -20), textcoords="offset points", ha=side, fontsize=13
            )
    reach = 1.15 * float(np.nanmax(np.abs(error)))
    axes.set_ylim(-reach, reach)
    axes.set_xlim(float(radii[0]), float(radii[-1]))
    right = axes.twinx()
    right.plot(radii, percent, color=INK, linewidth=1.6, dashes=(5, 2), label="distortion (right scale)")
    # zero of both scales on one line
    highest = 1.15 * float(np.nanmax(percent))
    right.set_ylim(-highest, highest)
    right.set_yticks([tick for tick in right.get_yticks() if 0.0 <= tick <= highest])
    right.set_ylabel(f"Second harmonic in %, {velocity_cm_per_s:g} cm/s peak", labelpad=8, fontsize=13)
    right.tick_params(length=5, width=1.0, labelsize=12.5)
    right.spines["top"].set_visible(False)
    lines = [*axes.get_lines()[1:2], *right.get_lines()[:1]]
    axes.legend(
        lines,
        [str(line.get_label()) for line in lines],
        loc="lower center",
        frameon=False,
        ncols=2,
        fontsize=13,
        handlelength=3.0,
    )
    return figure
