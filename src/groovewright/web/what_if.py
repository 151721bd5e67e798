"""What if: the job with values that are tried out. Nothing of it is kept."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from groovewright.job import Event, Log, fold
from groovewright.job.events import WeightTurned
from groovewright.quantities import BenchError
from groovewright.web.fields import SECTION_FIELDS, STEP_FIELDS
from groovewright.web.typed import described, step_of

TRIED: dict[str, tuple[tuple[str, str], ...]] = {
    "match": (
        ("arm", "effective_mass_g"),
        ("cartridge_in", "mass_g"),
        ("cartridge_in", "compliance_um_per_mN"),
        ("cartridge_in", "inductance_mH"),
        ("phono", "load_ohm"),
        ("phono", "load_pF"),
        ("phono", "cable_pF"),
    ),
    "weigh": (("weighed", "force_gf"),),
    "square": (
        ("moved", "slide_mm"),
        ("moved", "turn_deg"),
        ("arm", "pivot_to_spindle_mm"),
        ("aim", "criterion"),
        ("aim", "grooves"),
    ),
    "level": (
        ("weighed", "force_gf"),
        ("rake", "rake_deg"),
        ("crosstalk", "left_to_right_db"),
        ("crosstalk", "right_to_left_db"),
    ),
}
"""What can be tried out at each stage: section or step, and key."""


@dataclass(frozen=True)
class Trial:
    """A log with what is tried added to it, and the sentence about what could not be tried."""

    log: Log
    tried: Mapping[tuple[str, str], str]
    problem: str = ""


def trial(
    log: Log, given: Iterable[tuple[str, str]], start: Mapping[tuple[str, str], str] | None = None
) -> Trial:
    """Return the job with the fields `section.key` or `step.key` that are filled; other names are passed over.

    `start` holds what the fields stood at as the job is: a field that still says so was not tried.
    """
    tried = {
        (group, key): text
        for name, text in given
        for group, dot, key in (name.partition("."),)
        if dot
        and text.strip()
        and text.strip() != (start or {}).get((group, key))
        and key in {**SECTION_FIELDS, **STEP_FIELDS}.get(group, {})
    }
    problems = []
    for group in dict.fromkeys(group for group, _ in tried):
        values = {key: text for (of, key), text in tried.items() if of == group}
        try:
            log = (*log, *_events(log, group, values))
        except BenchError as error:
            problems.append(str(error))
    return Trial(log, tried, " ".join(problems))


def _events(log: Log, group: str, values: Mapping[str, str]) -> tuple[Event, ...]:
    if group in SECTION_FIELDS:
        return (described(fold(log), group, values),)
    if group == "moved":
        values = {"slide_mm": "0", "turn_deg": "0", **values}
    step = step_of(group, values)
    # readings of the force are averaged; one that is tried stands alone
    return (WeightTurned(0.0), step) if group == "weighed" else (step,)
