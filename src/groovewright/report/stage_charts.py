"""Charts for the paper from what the stages know: those whose figures are there, and no others."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from groovewright.job import Plan
from groovewright.mechanics.resonance import resonance_hz
from groovewright.quantities import Reading
from groovewright.report.charts import figure_bytes, resonance_chart
from groovewright.report.comparison import left_reading


@dataclass(frozen=True)
class Chart:
    """A finished chart: an SVG file, what it shows in words, and the sentence below it."""

    svg: str
    alt: str
    caption: str


def stage_charts(planned: Plan) -> tuple[Chart, ...]:
    """Return the charts that the values of the stages allow."""
    left: dict[str, Any] = {}
    for report in planned.stages:
        left.update(report.values)
    made = (draw(left) for draw in CHARTS)
    return tuple(chart for chart in made if chart is not None)


def _resonance(left: Mapping[str, Any]) -> Chart | None:
    mass = left_reading("total_effective_mass_g", left)
    compliance = left_reading("compliance_um_per_mN", left)
    if mass is None or compliance is None or min(mass.value, compliance.value) <= 0.0:
        return None
    masses, compliances = _axis(mass, 4.0, 40.0), _axis(compliance, 4.0, 50.0)
    figure = resonance_chart(
        masses,
        compliances,
        resonance_hz(masses[None, :], compliances[:, None]),
        job_mass_g=mass,
        job_compliance_um_per_mN=compliance,
    )
    hertz = float(resonance_hz(mass.value, compliance.value))
    return Chart(
        figure_bytes(figure, "svg").decode(),
        f"Resonance of arm and cartridge over total effective mass and compliance; this job at {hertz:.1f} Hz",
        f"{mass.value:.1f} g and {compliance.value:.1f} µm/mN: {hertz:.1f} Hz, undamped.",
    )


def _axis(reading: Reading, low: float, high: float) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Return a logarithmic axis that holds this reading and the usual range."""
    return np.geomspace(min(low, 0.6 * reading.value), max(high, 1.6 * reading.value), 120)


CHARTS: tuple[Callable[[Mapping[str, Any]], Chart | None], ...] = (_resonance,)
"""Each takes the stages' values and returns a chart, or None where they do not hold what it needs."""
