"""The answer to readings from a distance: the events that they are, one sentence, one drawing."""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.geometry import Alignment
from groovewright.job import Event, JobState, Log, Looked, Moved, StageReport, fold, plan
from groovewright.job.aim import aimed_alignment
from groovewright.job.step_toml import step_toml
from groovewright.mechanics.mounts import FIXED_HEADSHELLS
from groovewright.quantities import CannotBeDoneError, InputError
from groovewright.report.at_a_distance import DistantReadings, readings_from_text
from groovewright.report.page import page
from groovewright.report.ways import move_view
from groovewright.report.words import with_minus
from groovewright.sheets.drawing import Drawing

LOOK_AGAIN = "Stylus guard on while you move it; then send us the new text."
LOOK_ONLY = "Leave it as it stands, and send us the new text."
FINISHED = "There is nothing more to move."


@dataclass(frozen=True)
class Answer:
    """What comes back: the events to add to the job, and what to send to the owner."""

    events: tuple[Event, ...]
    sentence: str
    then: str
    finished: bool
    warnings: tuple[str, ...]
    drawing: Drawing


def sheet_radii_mm(aim: Alignment) -> tuple[int, int] | None:
    """Return the whole millimetres that name a sheet, outer and inner; None for one that has one null."""
    if not (math.isfinite(aim.null_outer_mm) and math.isfinite(aim.null_inner_mm)):
        return None
    return round(aim.null_outer_mm), round(aim.null_inner_mm)


def answer(log: Log, text: str) -> Answer:
    """Return the answer to a pasted text; the job itself is left as it is.

    Raises
    ------
    InputError
        The text is unclear, or does not belong to this job's sheet.
    CannotBeDoneError
        The job has nothing to square over a sheet.
    """
    state = fold(log)
    readings = readings_from_text(text)
    aim = _aim(state)
    _check_points(readings, aim)
    events = (*_move_before(log, state, readings), Looked(readings.outer, readings.inner))
    report = _square(fold((*log, *events)))
    slide, turn = (float(report.values.get(key, 0.0)) for key in ("slide_mm", "turn_deg"))
    verdict = report.values.get("verdict", "stop" if report.status == "done" else "adjust")
    finished = report.status == "done"
    moving = verdict == "adjust"
    return Answer(
        events,
        with_minus(report.sentence),
        FINISHED if finished else LOOK_AGAIN if moving else LOOK_ONLY,
        finished,
        tuple(with_minus(warning) for warning in report.warnings),
        move_view(slide_mm=slide if moving else 0.0, turn_deg=turn if moving else 0.0),
    )


def _aim(state: JobState) -> Alignment | None:
    """Return what is aimed at; None for an arm that travels along a line, which has two points without it."""
    if state.arm is not None and state.arm.kind == "parallel":
        return None
    aim = aimed_alignment(state.arm, state.aim) if state.arm is not None else None
    if aim is None or (state.arm is not None and state.arm.headshell in FIXED_HEADSHELLS):
        raise CannotBeDoneError(
            "this job has nothing to square over a sheet: it needs an arm with slots and its pivot-to-spindle "
            "distance; readings can't be answered without"
        )
    return aim


def _check_points(readings: DistantReadings, aim: Alignment | None) -> None:
    """Refuse readings from another sheet, and one point where two are needed."""
    wanted = None if aim is None else sheet_radii_mm(aim)
    given = readings.sheet_radii_mm
    if (
        given is not None
        and wanted is not None
        and any(abs(a - b) > 1 for a, b in zip(given, wanted, strict=True))
    ):
        raise InputError(
            f"the readings are from a sheet with points at {given[0]} and {given[1]} mm; this job's sheet has them "
            f"at {wanted[0]} and {wanted[1]} mm: send the owner this job's guide"
        )
    both = aim is None or wanted is not None
    said = {"outer": readings.outer, "inner": readings.inner} if both else {"outer": readings.outer}
    for name, reading in said.items():
        if reading is None:
            raise InputError(
                f"the {name} point is missing; this job needs {'both points' if both else 'it'}: ask for it"
            )


def _move_before(log: Log, state: JobState, readings: DistantReadings) -> tuple[Event, ...]:
    """Return what was done since the last look, as the text says it."""
    if not state.squaring or isinstance(state.squaring[-1], Moved):
        return ()
    if readings.moved_as_told is None:
        raise InputError(
            "the job has looks already, and the text does not say whether it was moved since; add 'Moved as told: "
            "yes.' or 'Moved as told: no.'"
        )
    if not readings.moved_as_told:
        return (Moved(0.0, 0.0),)
    report = _square(fold(log))
    if report.values.get("verdict", "adjust") != "adjust":
        return (Moved(0.0, 0.0),)
    slide, turn = (round(float(report.values.get(key, 0.0)), 1) for key in ("slide_mm", "turn_deg"))
    return (Moved(slide, turn),)


def _square(state: JobState) -> StageReport:
    return next(report for report in plan(state).stages if report.stage == "square")


def step_lines(events: tuple[Event, ...]) -> str:
    """Return events as the lines to add to a job file."""
    return "\n".join(step_toml(event) for event in events if isinstance(event, Moved | Looked))


def answer_html(answered: Answer, state: JobState) -> str:
    """Return the answer as one self-contained HTML file to send back."""
    words = {
        "title": "The next move" if not answered.finished else "Done",
        "shop": state.job.shop,
        "job": state.job.title,
        "sentence": answered.sentence,
        "then": answered.then,
    }
    letters = "".join(str(word) for word in words.values())
    return page("answer.html", words, {"move": answered.drawing}, letters=letters)
