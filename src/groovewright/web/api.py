"""The API: jobs as JSON, for programs. Its schema is at /api/openapi.json; every error has one shape."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Header, Path, Query, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel, ConfigDict, Field, WithJsonSchema

from groovewright.job import Event, JobState, fold, to_plain
from groovewright.quantities.plain import json_plain
from groovewright.report.answer import answer
from groovewright.store import KeptJob, append, list_jobs, new_job, read_since, search, suggest
from groovewright.store.listing import ListedJob
from groovewright.store.log import LARGEST_NUMBER
from groovewright.web.api_events import event_schema
from groovewright.web.faults import kept_plain
from groovewright.web.render import bench_of, session_in
from groovewright.web.requests import check_token, job_of
from groovewright.web.session import token_of
from groovewright.web.stage_page import all_reports
from groovewright.web.typed import event_from_values

MOST_EVENTS = 500


PlainEvent = Annotated[dict[str, Any], WithJsonSchema(event_schema())]


class Fault(BaseModel):
    """What went wrong, in one sentence, with a code that does not change."""

    model_config = ConfigDict(extra="allow")
    code: str
    message: str


class FaultBody(BaseModel):
    """The one shape of an error."""

    error: Fault


class NewJob(BaseModel):
    """The events that a job begins with, in their plain form."""

    model_config = ConfigDict(extra="forbid")
    events: list[PlainEvent] = Field(min_length=1, max_length=MOST_EVENTS)


class NewEvent(BaseModel):
    """One event, and the sequence number of the last one that its writer has seen."""

    model_config = ConfigDict(extra="forbid")
    event: PlainEvent
    expected_sequence: int = Field(ge=0, le=LARGEST_NUMBER)


class WhatIf(BaseModel):
    """Events that are tried out and not kept."""

    model_config = ConfigDict(extra="forbid")
    events: list[PlainEvent] = Field(max_length=MOST_EVENTS)


class OwnersText(BaseModel):
    """What an owner sent."""

    model_config = ConfigDict(extra="forbid")
    text: str = Field(max_length=4000)


FAULTS: dict[int | str, dict[str, Any]] = {
    status: {"model": FaultBody, "description": words}
    for status, words in (
        (401, "this device is not paired"),
        (403, "the token is missing, or the call comes from another page"),
        (404, "there is no such job"),
        (405, "that can't be done with this address"),
        (409, "another bench wrote meanwhile; `changed` holds what"),
        (413, "too large"),
        (421, "called by a name that is not this bench's"),
        (422, "what was given is wrong, or can't be done"),
        (503, "the record does not take it"),
    )
}

router = APIRouter(prefix="/api", tags=["jobs"], responses=FAULTS)

Number = Annotated[int, Path(ge=1, le=LARGEST_NUMBER, description="the job's number")]


async def token(
    request: Request, x_bench_token: Annotated[str, Header(description="from /api/session")] = ""
) -> None:
    """Make sure that a change carries its session's token."""
    check_token(request, x_bench_token)


Changing = Depends(token)


@router.get("/session")
def session(request: Request) -> dict[str, str]:
    """Return the token that every change of this session carries; the session itself is in the cookie."""
    return {"token": token_of(session_in(request), bench_of(request).secret)}


@router.get("/jobs")
def jobs(
    request: Request,
    q: Annotated[str, Query(max_length=200, description="words; empty: all jobs")] = "",
    page: Annotated[int, Query(ge=1, le=4_000_000)] = 1,
    size: Annotated[int, Query(ge=1, le=100)] = 20,
) -> dict[str, Any]:
    """Return a page of jobs, the newest first."""
    store = bench_of(request).store
    found = search(store, q, page, size) if q.strip() else list_jobs(store, page, size)
    return {
        "jobs": [_listed(job) for job in found.jobs],
        "page": found.page,
        "more": found.more,
        "total": found.total,
    }


@router.post("/jobs", status_code=201, dependencies=[Changing])
def begin(request: Request, body: NewJob) -> dict[str, int]:
    """Begin a job."""
    events = [event_from_values(plain) for plain in body.events]
    return {"number": new_job(bench_of(request).store, events), "sequence": len(events)}


@router.get("/jobs/{number}", response_model=dict[str, Any])
def job(request: Request, number: Number) -> JSONResponse:
    """Return a job with all its events."""
    found = job_of(bench_of(request).store, number)
    events = [kept_plain(kept) for kept in found.events]
    return JSONResponse({**_listed(found), "uid": found.uid, "events": events})


@router.get("/jobs/{number}/events", response_model=dict[str, Any])
def events_after(
    request: Request, number: Number, after: Annotated[int, Query(ge=0, le=LARGEST_NUMBER)] = 0
) -> JSONResponse:
    """Return what was added to a job after a sequence number."""
    newer = read_since(bench_of(request).store, number, after)
    return JSONResponse({"events": [kept_plain(kept) for kept in newer]})


@router.post("/jobs/{number}/events", status_code=201, response_model=dict[str, int], dependencies=[Changing])
def add_event(request: Request, number: Number, body: NewEvent) -> JSONResponse:
    """Add an event; it is on disk when this answers."""
    event = event_from_values(body.event)
    return JSONResponse(
        {"sequence": append(bench_of(request).store, number, event, body.expected_sequence)}, 201
    )


@router.get("/jobs/{number}/plan")
def plan(request: Request, number: Number) -> dict[str, Any]:
    """Return where a job stands, stage by stage, and the one next move."""
    return _plan(fold(job_of(bench_of(request).store, number).log))


@router.post("/jobs/{number}/what-if", dependencies=[Changing])
def what_if(request: Request, number: Number, body: WhatIf) -> dict[str, Any]:
    """Return where a job would stand with some more events; nothing is kept."""
    log = job_of(bench_of(request).store, number).log
    tried: tuple[Event, ...] = tuple(event_from_values(plain) for plain in body.events)
    return _plan(fold((*log, *tried)))


@router.post("/jobs/{number}/answer", dependencies=[Changing])
def answer_text(request: Request, number: Number, body: OwnersText) -> dict[str, Any]:
    """Return the answer to an owner's readings; nothing is kept."""
    answered = answer(job_of(bench_of(request).store, number).log, body.text)
    return {
        "sentence": answered.sentence,
        "then": answered.then,
        "finished": answered.finished,
        "warnings": list(answered.warnings),
        "events": [to_plain(event) for event in answered.events],
    }


@router.get("/suggest")
def suggestions(
    request: Request,
    kind: Annotated[str, Query(max_length=40, description="customer, deck, arm or cartridge")],
    text: Annotated[str, Query(max_length=200)] = "",
) -> dict[str, Any]:
    """Return names that came before."""
    found = suggest(bench_of(request).store, kind, text)
    return {"names": [vars(entry) for entry in found]}


def _listed(found: ListedJob | KeptJob) -> dict[str, Any]:
    return {
        "number": found.number,
        "created": found.created,
        "changed": found.changed,
        "sequence": found.sequence,
        "anonymised": found.anonymised,
        **vars(found.header),
    }


def _plan(state: JobState) -> dict[str, Any]:
    reports = all_reports(state)
    return {
        "next_stage": reports.following,
        "next_move": reports.next_sentence,
        "stages": [
            {
                "stage": report.stage,
                "status": report.status,
                "sentence": report.sentence,
                "rows": [list(row) for row in report.rows],
                "cautions": list(report.cautions),
                "warnings": list(report.warnings),
                "values": json_plain(report.values),
            }
            for report in reports.stages.values()
        ],
    }
