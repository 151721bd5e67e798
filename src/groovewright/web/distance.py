"""Help at a distance: the owner's readings pasted in, the answer to copy and send back."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from markupsafe import Markup
from starlette.responses import HTMLResponse, Response

from groovewright.job import fold
from groovewright.quantities import BenchError
from groovewright.report.answer import answer, answer_html
from groovewright.report.at_a_distance import LARGEST_TEXT
from groovewright.report.picture import inline_svg
from groovewright.store import ConflictError, KeptJob, append_all
from groovewright.web.papers import PAPER_POLICY
from groovewright.web.render import bench_of, page
from groovewright.web.requests import Filled, filled, job_of
from groovewright.web.said import event_words

router = APIRouter(include_in_schema=False)


@router.get("/jobs/{number}/distance", response_class=HTMLResponse)
def ask(request: Request, number: int) -> Response:
    """Ask for the text that the owner sent."""
    return _page(request, job_of(bench_of(request).store, number))


def _page(request: Request, job: KeptJob, status: int = 200, **values: object) -> HTMLResponse:
    content = {
        "problem": "",
        "text": "",
        "answered": None,
        "drawing": "",
        "events": [],
        "saved": False,
        **values,
    }
    return page(request, "distance.html", status, job=job, most=LARGEST_TEXT, **content)


@router.post("/jobs/{number}/distance")
def read(request: Request, number: int, form: Annotated[Filled, Depends(filled)]) -> Response:
    """Read the text and show the answer; with `save`, write the readings into the job first."""
    store = bench_of(request).store
    job = job_of(store, number)
    text = form["text"]
    try:
        answered = answer(job.log, text)
        saved = bool(form["save"])
        if saved:
            append_all(store, number, answered.events, form.expected)
    except BenchError as error:
        status = 409 if isinstance(error, ConflictError) else 422
        return _page(request, job_of(store, number), status, problem=str(error), text=text)
    return _page(
        request,
        job_of(store, number),
        text=text,
        answered=answered,
        drawing=Markup(inline_svg(answered.drawing)),
        events=[event_words(event) for event in answered.events],
        saved=saved,
    )


@router.post("/jobs/{number}/answer.html")
def answer_file(request: Request, number: int, form: Annotated[Filled, Depends(filled)]) -> Response:
    """Return the answer as one file to send back; the job is left as it is."""
    job = job_of(bench_of(request).store, number)
    before = job.log[: form.expected] if form["expected"] else job.log
    content = answer_html(answer(before, form["text"]), fold(job.log))
    return Response(
        content,
        media_type="text/html; charset=utf-8",
        headers={
            "content-disposition": f'attachment; filename="answer-{number}.html"',
            "content-security-policy": PAPER_POLICY,
        },
    )
