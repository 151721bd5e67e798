"""Changes to a job: each is one event, and the page says saved only once the record has it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from groovewright.job import Event, Redone, Undone, fold
from groovewright.job.events import STEP_KINDS, Checked, Unchecked
from groovewright.job.records import RECORDS
from groovewright.quantities import BenchError, CannotBeDoneError, InputError
from groovewright.store import ConflictError, KeptJob, append, go_back
from groovewright.web.faults import NotThereError, status_of
from groovewright.web.render import bench_of
from groovewright.web.requests import Filled, filled, job_of
from groovewright.web.said import to_redo, to_undo
from groovewright.web.stage_page import stage_names
from groovewright.web.stages import stage_response
from groovewright.web.typed import described, step_of

router = APIRouter(include_in_schema=False)

Form = Annotated[Filled, Depends(filled)]


@router.post("/jobs/{number}/{stage}/describe/{section}")
def describe(request: Request, number: int, stage: str, section: str, form: Form) -> Response:
    """Describe a section anew; where nothing differs, nothing is written."""
    if section not in RECORDS:
        raise NotThereError(f"There is no section '{section[:40]}'.")

    def event(job: KeptJob) -> Event | None:
        state = fold(job.log)
        made = described(state, section, form.of(section))
        return None if made.record == getattr(state, section) else made

    return change_job(request, number, stage, form, event)


@router.post("/jobs/{number}/{stage}/step/{kind}")
def step(request: Request, number: int, stage: str, kind: str, form: Form) -> Response:
    """Write a step down."""
    if kind not in STEP_KINDS:
        raise NotThereError(f"There is no step '{kind[:40]}'.")
    return change_job(request, number, stage, form, lambda _job: step_of(kind, form.of(kind)))


@router.post("/jobs/{number}/{stage}/tick")
def tick(request: Request, number: int, stage: str, form: Form) -> Response:
    """Tick a point of the mounting list, once."""

    def event(job: KeptJob) -> Event | None:
        made = step_of("checked", {"what": form["what"]})
        return None if isinstance(made, Checked) and made.what in fold(job.log).checks else made

    return change_job(request, number, stage, form, event)


@router.post("/jobs/{number}/{stage}/untick")
def untick(request: Request, number: int, stage: str, form: Form) -> Response:
    """Take the tick of a point of the mounting list away, if it has one."""

    def event(job: KeptJob) -> Event | None:
        made = step_of("unchecked", {"what": form["what"]})
        return made if isinstance(made, Unchecked) and made.what in fold(job.log).checks else None

    return change_job(request, number, stage, form, event)


@router.post("/jobs/{number}/{stage}/undo")
def undo(request: Request, number: int, stage: str, form: Form) -> Response:
    """Take the last step back."""

    def event(job: KeptJob) -> Event:
        if to_undo(job.log) is None:
            raise InputError("Nothing is left to undo")
        return Undone()

    return change_job(request, number, stage, form, event)


@router.post("/jobs/{number}/{stage}/redo")
def redo(request: Request, number: int, stage: str, form: Form) -> Response:
    """Bring back what was undone."""

    def event(job: KeptJob) -> Event:
        if to_redo(job.log) is None:
            raise InputError("Nothing is left to redo")
        return Redone()

    return change_job(request, number, stage, form, event)


@router.post("/jobs/{number}/back", dependencies=[Depends(filled)])
def back(request: Request, number: int) -> Response:
    """Begin the job that puts back what came off."""
    job_of(bench_of(request).store, number)
    made = go_back(bench_of(request).store, number)
    return RedirectResponse(f"/jobs/{made}/intake", 303)


def change_job(
    request: Request, number: int, stage: str, form: Filled, make: Callable[[KeptJob], Event | None]
) -> Response:
    """Append the event that a form asks for, or show the page of the stage again with what was wrong."""
    store = bench_of(request).store
    job = job_of(store, number)
    if stage not in stage_names():
        raise NotThereError(f"There is no stage '{stage[:40]}'.")
    try:
        event = make(job)
        if event is not None:
            append(store, number, event, form.expected)
    except ConflictError as error:
        now = job_of(store, number)
        return stage_response(request, now, stage, typed=form.fields, conflict=error, status=409)
    except (InputError, CannotBeDoneError) as error:
        return _again(request, job, stage, form, error)
    return RedirectResponse(f"/jobs/{number}/{stage}", 303)


def _again(request: Request, job: KeptJob, stage: str, form: Filled, error: BenchError) -> Response:
    status, _ = status_of(error)
    text = str(error)
    return stage_response(
        request,
        job,
        stage,
        typed=form.fields,
        problem=f"Not saved: {text}.".replace("..", "."),
        status=status,
    )
