"""Charts for the paper from what the stages know: those whose figures are there, and no others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from groovewright.electrics import show_setting
from groovewright.job import JobState, Plan
from groovewright.job.loading import loading_study
from groovewright.job.recording import last_heard
from groovewright.job.stages.listen import against_load
from groovewright.mechanics.resonance import resonance_hz
from groovewright.quantities import Reading
from groovewright.report.charts import figure_bytes, loaded_response_chart, resonance_chart
from groovewright.report.comparison import left_reading, left_values
from groovewright.report.heard_charts import crosstalk_svg, resonance_svg, response_svg


@dataclass(frozen=True)
class Chart:
    """A finished chart: an SVG file, what it shows in words, and the sentence below it."""

    svg: str
    alt: str
    caption: str


def stage_charts(state: JobState, planned: Plan) -> tuple[Chart, ...]:
    """Return the charts that the job allows, in the order of the stages."""
    made = (_resonance(planned), _loaded_response(state), *_heard(state))
    return tuple(chart for chart in made if chart is not None)


def _heard(state: JobState) -> tuple[Chart | None, ...]:
    """Return the charts of the recordings: response, crosstalk, resonance."""
    strays = {} if (left := last_heard(state)) is None else against_load(state, left)
    said = " and ".join(f"{side} by {abs(size):.1f} dB" for side, size in strays.items())
    made = (
        (
            response_svg(state),
            "Response of both channels over frequency, by the recording",
            f"From the sweeps; it departs from the computed curve of coil and load at most: {said}."
            if said
            else "From the sweeps or noise of the recording.",
        ),
        (
            crosstalk_svg(state),
            "Crosstalk of both channels over frequency, by the recording",
            "From the sweeps on one channel only; electrical crosstalk is in it.",
        ),
        (
            resonance_svg(state),
            "Resonance of arm and cartridge, sideways and up and down, by the recording",
            "The peaks are marked; the bar is what the match stage predicted.",
        ),
    )
    return tuple(None if svg is None else Chart(svg, alt, caption) for svg, alt, caption in made)


def _resonance(planned: Plan) -> Chart | None:
    left = left_values(planned)
    mass = left_reading("total_effective_mass_g", left)
    median, log_sd = (left.get(f"compliance_at_resonance_{what}") for what in ("um_per_mN", "log_sd"))
    if mass is None or not isinstance(median, float) or not isinstance(log_sd, float):
        return None
    compliance = Reading(median, median * log_sd)
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
        f"{mass.value:.1f} g and {compliance.value:.1f} µm/mN at the resonance: {hertz:.1f} Hz.",
    )


def _loaded_response(state: JobState) -> Chart | None:
    found = None if state.cartridge_in is None else loading_study(state.cartridge_in, state.phono)
    if found is None:
        return None
    setting = show_setting(found.setting)
    figure = loaded_response_chart(
        found.frequency_hz,
        found.response_db,
        label=setting,
        spread_db=(found.low_db, found.high_db),
        tolerance_db=found.tolerance_db,
    )
    return Chart(
        figure_bytes(figure, "svg").decode(),
        f"Response of the cartridge into {setting}, from its circuit, with its 95 % band",
        f"Computed from the circuit of coil, leads and load, {setting}; the cantilever is not in it.",
    )


def _axis(reading: Reading, low: float, high: float) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Return a logarithmic axis that holds this reading and the usual range."""
    return np.geomspace(min(low, 0.6 * reading.value), max(high, 1.6 * reading.value), 120)
