"""One page for each stage of a job."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from markupsafe import Markup
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from groovewright.job import fold
from groovewright.store import ConflictError, KeptJob, read_since
from groovewright.web.faults import NotThereError
from groovewright.web.jobs import names
from groovewright.web.listen_page import listen_entry
from groovewright.web.render import bench_of, page
from groovewright.web.requests import job_of
from groovewright.web.said import event_words, to_redo, to_undo
from groovewright.web.stage_page import (
    HANDOVER,
    MARKS,
    TITLES,
    all_reports,
    handover_report,
    section_forms,
    stage_names,
    stage_view,
    step_forms,
    ticks,
    trial_fields,
    view_of_log,
)
from groovewright.web.what_if import TRIED, trial

router = APIRouter(include_in_schema=False)


@router.get("/jobs/{number}")
def open_job(request: Request, number: int) -> Response:
    """Go to the stage that is next."""
    job = job_of(bench_of(request).store, number)
    return RedirectResponse(f"/jobs/{number}/{all_reports(fold(job.log)).following}", 303)


@router.get("/jobs/{number}/sequence")
def last_sequence(request: Request, number: int, after: int = 0) -> Response:
    """Return how far the job is, and who wrote after a sequence number: what an open page asks for."""
    store = bench_of(request).store
    job = job_of(store, number)
    newer = read_since(store, number, max(0, min(after, job.sequence)))
    words = [f"{event_words(kept.event)} ({clock(kept.at)})" for kept in newer[-3:]]
    return JSONResponse({"sequence": job.sequence, "newer": words})


@router.get("/jobs/{number}/history", response_class=HTMLResponse)
def history(request: Request, number: int) -> Response:
    """Show every event of a job."""
    job = job_of(bench_of(request).store, number)
    rows = [(kept.sequence, clock(kept.at), kept.bench, event_words(kept.event)) for kept in job.events]
    return page(request, "history.html", job=job, rows=rows[::-1])


def clock(at: str) -> str:
    """Return day and time of an event, to the minute."""
    return f"{at[:10]} {at[11:16]} UTC"


@router.get("/jobs/{number}/{stage}", response_class=HTMLResponse)
def show_stage(request: Request, number: int, stage: str) -> Response:
    """Show a stage; with `whatif` in the query, what would be."""
    job = job_of(bench_of(request).store, number)
    return stage_response(request, job, stage, trying="whatif" in request.query_params)


@router.get("/jobs/{number}/{stage}/live", response_class=HTMLResponse)
def show_live(request: Request, number: int, stage: str) -> Response:
    """Show only what lives on a stage's page, with the values of the query; nothing is kept."""
    job = job_of(bench_of(request).store, number)
    _known(stage)
    tried = trial(job.log, request.query_params.multi_items())
    _, view = view_of_log(tried.log, stage)
    return page(
        request,
        "live.html",
        view=view,
        trying=True,
        problem=tried.problem,
        marks=MARKS,
        is_next=True,
        live=True,
    )


def _known(stage: str) -> None:
    if stage not in stage_names():
        raise NotThereError(f"There is no stage '{stage[:40]}'; there are {', '.join(stage_names())}.")


def stage_response(
    request: Request,
    job: KeptJob,
    stage: str,
    *,
    trying: bool = False,
    problem: str = "",
    typed: Mapping[str, str] | None = None,
    errors: Mapping[str, str] | None = None,
    conflict: ConflictError | None = None,
    status: int = 200,
) -> HTMLResponse:
    """Return the page of a stage; what could not be saved stands in its fields again."""
    _known(stage)
    can_try = stage in TRIED
    tried = trial(job.log, request.query_params.multi_items() if trying and can_try else ())
    state = fold(tried.log)
    reports = all_reports(state)
    report = handover_report(state, reports) if stage == HANDOVER else reports.stages[stage]
    place = stage_names().index(stage)
    content: dict[str, Any] = {
        "job": job,
        "stage": stage,
        "view": stage_view(state, report),
        "reports": reports,
        "nav": [(name, TITLES.get(name, name), *_mark(name, reports)) for name in stage_names()],
        "previous": stage_names()[place - 1] if place else "",
        "next": stage_names()[place + 1] if place + 1 < len(stage_names()) else "",
        "titles": TITLES,
        "sections": [] if trying else section_forms(stage, state, typed or {}, errors or {}),
        "steps": [] if trying else step_forms(stage, report, typed or {}, errors or {}),
        "ticks": ticks(state) if stage == "mount" and report.status != "not-needed" else None,
        "trial": trial_fields(TRIED[stage], fold(job.log), tried.tried, report) if trying and can_try else (),
        "trying": trying and can_try,
        "can_try": can_try,
        "problem": problem or tried.problem,
        "conflict": conflict,
        "changed": []
        if conflict is None
        else [(kept.bench, clock(kept.at), event_words(kept.event)) for kept in conflict.changed],
        "undo": _words(to_undo(job.log)),
        "redo": _words(to_redo(job.log)),
        "saved_at": clock(job.changed),
        "names": names(request) if stage == "intake" else {},
        "marks": MARKS,
        "is_next": reports.following == stage,
        "live": False,
        "state": state,
        "listening": listen_entry(request, job, state) if stage == "listen" else None,
        "Markup": Markup,
    }
    return page(request, "stage.html", status, **content)


def _mark(name: str, reports: Any) -> tuple[str, str]:
    if name == HANDOVER:
        return MARKS["done" if reports.following == HANDOVER else "waiting"]
    return MARKS[reports.stages[name].status]


def _words(event: Any) -> str:
    return "" if event is None else event_words(event)
