"""The list of jobs, a new job, and taking a customer's data out."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from groovewright.job import Described, Event, Log, log_from_toml
from groovewright.job.records import RECORDS
from groovewright.quantities import BenchError, InputError
from groovewright.store import (
    forget_customer,
    import_text,
    list_jobs,
    new_job,
    remembered,
    search,
    stylus_due,
    suggest,
)
from groovewright.web.render import bench_of, page
from groovewright.web.requests import Filled, filled
from groovewright.web.typed import typed_values

router = APIRouter(include_in_schema=False)

NEW_FIELDS = (
    ("job", "title"), ("job", "owner"), ("deck", "name"), ("arm", "name"), ("cartridge_out", "name"),
    ("cartridge_in", "name"),
)  # fmt: skip
"""What a new job begins with."""

FROM_EARLIER = {"deck": "deck", "arm": "arm", "cartridge_out": "cartridge", "cartridge_in": "cartridge"}
SUGGESTED = 60


@router.get("/", response_class=HTMLResponse)
def all_jobs(request: Request, q: str = "", page_number: int = 1) -> Response:
    """Show the jobs, newest change first, or those that have the words asked for."""
    store = bench_of(request).store
    number = int(request.query_params.get("page", page_number) or 1) if _is_page(request) else 1
    problem = ""
    try:
        found = search(store, q, number) if q.strip() else list_jobs(store, number)
    except InputError as error:
        problem, found = str(error), list_jobs(store)
    due = stylus_due(store, date.today().isoformat(), size=5) if not q else None
    return page(request, "jobs.html", found=found, q=q, problem=problem, due=due.jobs if due else ())


def _is_page(request: Request) -> bool:
    text = request.query_params.get("page", "1")
    return text.isascii() and text.isdigit() and len(text) < 8


@router.get("/new", response_class=HTMLResponse)
def ask_new(request: Request) -> Response:
    """Ask for what a new job begins with."""
    return _new_page(request, {}, "")


def _new_page(request: Request, typed: dict[str, str], problem: str) -> HTMLResponse:
    return page(
        request, "new.html", 422 if problem else 200, typed=typed, problem=problem, names=names(request)
    )


def names(request: Request) -> dict[str, list[str]]:
    """Return the names that came before, by kind."""
    store = bench_of(request).store
    return {
        kind: [found.name for found in suggest(store, kind, limit=SUGGESTED)]
        for kind in ("customer", "deck", "arm", "cartridge")
    }


@router.post("/new")
def make_new(request: Request, form: Annotated[Filled, Depends(filled)]) -> Response:
    """Begin a job; what is known of player, arm and cartridges from earlier jobs comes with their names."""
    store = bench_of(request).store
    try:
        events: list[Event] = []
        for section in dict.fromkeys(section for section, _ in NEW_FIELDS):
            values = typed_values(section, form.of(section))
            if values:
                known = (
                    remembered(store, FROM_EARLIER[section], values["name"])
                    if section in FROM_EARLIER
                    else None
                )
                events.append(Described(section, known if known is not None else RECORDS[section](**values)))
        if not events:
            raise InputError("Fill in at least one field, such as the player's name")
        number = new_job(store, events)
    except InputError as error:
        return _new_page(request, dict(form.fields), str(error))
    return RedirectResponse(f"/jobs/{number}/intake", 303)


@router.post("/new/file")
def make_from_file(request: Request, form: Annotated[Filled, Depends(filled)]) -> Response:
    """Begin a job from a job file (TOML), or take in an export (JSON)."""
    store = bench_of(request).store
    try:
        if not form.file:
            raise InputError("Choose a file first: a job file (.toml) or an export (.json)")
        if form.file.lstrip()[:1] == b"{":
            report = import_text(store, form.file, "the file")
            taken = (*report.added, *report.extended, *report.unchanged)
            if not taken:
                raise InputError(report.refused[0][1] if report.refused else "there is no job in the export")
            return RedirectResponse(f"/jobs/{taken[0]}", 303)
        log: Log = log_from_toml(form.file, "the file")
        return RedirectResponse(f"/jobs/{new_job(store, log)}", 303)
    except BenchError as error:
        return _new_page(request, {}, str(error))


@router.get("/forget", response_class=HTMLResponse)
def ask_forget(request: Request, customer: str = "") -> Response:
    """Ask before a customer's data is taken out."""
    return page(request, "forget.html", customer=customer, problem="", done=None)


@router.post("/forget")
def forget(request: Request, form: Annotated[Filled, Depends(filled)]) -> Response:
    """Take a customer's data out of the record; it can't be undone, so the name is typed twice."""
    customer = form["customer"].strip()
    problem, done = "", None
    try:
        if form["again"].strip() != customer or not customer:
            raise InputError("Type the name a second time exactly as the first; nothing was changed")
        done = forget_customer(bench_of(request).store, customer)
    except InputError as error:
        problem = str(error)
    status = 422 if problem else 200
    return page(request, "forget.html", status, customer="" if done else customer, problem=problem, done=done)
