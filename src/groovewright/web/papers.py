"""The papers of a job to take away: sheet, handover paper, guide, export; and the check of the print's scale."""

from __future__ import annotations

import re
from collections.abc import Callable

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, Response

from groovewright.job import JobState, fold, plan
from groovewright.job.sheet import job_sheet
from groovewright.quantities import CannotBeDoneError, InputError, unknown_word
from groovewright.report.guide import guide
from groovewright.report.guide_page import guide_html, guide_pdf
from groovewright.report.handover import handover
from groovewright.report.handover_html import handover_html
from groovewright.report.handover_pdf import handover_pdf
from groovewright.report.stage_charts import stage_charts
from groovewright.sheets import PAPERS, Drawing, Paper, PrintCorrection, pdf_bytes, svg_text
from groovewright.store import export_text
from groovewright.web.render import bench_of, page
from groovewright.web.requests import job_of
from groovewright.web.typed import typed_number

router = APIRouter(include_in_schema=False)

PAPER_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; sandbox; "
    "frame-ancestors 'self'"
)
"""A paper that a browser opens shows itself, and can do nothing on the bench page."""


def wanted_paper(request: Request) -> Paper:
    """Return the paper that the query names; A4 where it names none."""
    word = request.query_params.get("paper", "a4") or "a4"
    if word not in PAPERS:
        raise unknown_word("paper", word, PAPERS)
    return PAPERS[word]


def wanted_correction(request: Request) -> PrintCorrection:
    """Return the correction for what both bars measured; an axis that is not given is taken as true."""
    texts = [request.query_params.get(name, "").strip() for name in ("measured_x_mm", "measured_y_mm")]
    labels = ("The bar across", "The bar along")
    values = [
        typed_number(text[:40], "mm", label) if text else 100.0
        for text, label in zip(texts, labels, strict=True)
    ]
    return PrintCorrection(*values)


def _state(request: Request, number: int) -> JobState:
    return fold(job_of(bench_of(request).store, number).log)


def _sheet(request: Request, number: int) -> Drawing:
    made = job_sheet(_state(request, number), wanted_paper(request), wanted_correction(request))
    if made is None:
        raise CannotBeDoneError(
            "this job needs no sheet: nothing is squared over one here, or the arm's pivot-to-spindle distance is "
            "not known yet"
        )
    return made


def _file(content: bytes, kind: str, name: str, *, inline: bool = False) -> Response:
    way = "inline" if inline else "attachment"
    return Response(
        content,
        media_type=kind,
        headers={
            "content-disposition": f'{way}; filename="{name}"',
            "content-security-policy": PAPER_POLICY if kind != "application/pdf" else PDF_POLICY,
        },
    )


PDF_POLICY = "default-src 'none'; object-src 'self'; plugin-types application/pdf; style-src 'unsafe-inline'"


@router.get("/jobs/{number}/sheet", response_class=HTMLResponse)
def sheet_page(request: Request, number: int) -> Response:
    """Show the way to a true sheet: print, measure both bars, print again where it was off."""
    job = job_of(bench_of(request).store, number)
    problem, off = "", None
    query = request.query_params
    given = {name: query.get(name, "")[:40] for name in ("measured_x_mm", "measured_y_mm")}
    paper = query.get("paper", "a4") if query.get("paper", "a4") in PAPERS else "a4"
    try:
        correction = wanted_correction(request)
        if all(given.values()):
            off = [correction.measured_x_mm - 100.0, correction.measured_y_mm - 100.0]
        job_sheet(fold(job.log), PAPERS[paper], correction)
    except (InputError, CannotBeDoneError) as error:
        problem, off = str(error), None
    made = None if problem else job_sheet(fold(job.log), PAPERS[paper])
    true_enough = off is not None and max(abs(value) for value in off) <= TRUE_ENOUGH_MM
    return page(
        request, "sheet.html", job=job, problem=problem, off=off, true_enough=true_enough, given=given, paper=paper,
        papers=[(word, one.name) for word, one in PAPERS.items()], there=made is not None,
    )  # fmt: skip


TRUE_ENOUGH_MM = 0.2
"""How far a 100 mm bar may be off: as well as a ruler can be read, and 0.02 degrees of yaw at most."""


@router.get("/jobs/{number}/sheet.pdf")
def sheet_pdf(request: Request, number: int) -> Response:
    """Return the sheet as PDF."""
    return _file(pdf_bytes(_sheet(request, number)), "application/pdf", f"sheet-{number}.pdf", inline=True)


@router.get("/jobs/{number}/sheet.svg")
def sheet_svg(request: Request, number: int) -> Response:
    """Return the sheet as SVG."""
    content = svg_text(_sheet(request, number)).encode()
    return _file(content, "image/svg+xml", f"sheet-{number}.svg", inline=True)


def _handover_pdf(state: JobState, paper: Paper) -> bytes:
    planned = plan(state)
    return handover_pdf(handover(state, planned), paper=paper, charts=stage_charts(state, planned))


def _handover_html(state: JobState, _paper: Paper) -> bytes:
    planned = plan(state)
    return handover_html(handover(state, planned), charts=stage_charts(state, planned)).encode()


PAPERS_OF_A_JOB: dict[str, tuple[str, Callable[[JobState, Paper], bytes]]] = {
    "handover.pdf": ("application/pdf", _handover_pdf),
    "handover.html": ("text/html; charset=utf-8", _handover_html),
    "guide.pdf": ("application/pdf", lambda state, paper: guide_pdf(guide(state, paper=paper), paper=paper)),
    "guide.html": (
        "text/html; charset=utf-8",
        lambda state, paper: guide_html(guide(state, paper=paper), paper=paper).encode(),
    ),
}
"""Each paper by the name in its address: its type, and what makes it."""


def _paper_route(name: str) -> Callable[[Request, int], Response]:
    kind, make = PAPERS_OF_A_JOB[name]

    def send(request: Request, number: int) -> Response:
        content = make(_state(request, number), wanted_paper(request))
        stem, _, ending = name.partition(".")
        return _file(content, kind, f"{stem}-{number}.{ending}", inline=ending == "pdf")

    return send


for _name in PAPERS_OF_A_JOB:
    router.add_api_route("/jobs/{number}/" + _name, _paper_route(_name), methods=["GET"])


@router.get("/jobs/{number}/export.json")
def export(request: Request, number: int) -> Response:
    """Return the job as an export that any groovewright reads in again."""
    job = job_of(bench_of(request).store, number)
    content = "".join(export_text(bench_of(request).store, [number])).encode()
    name = re.sub(r"[^a-z0-9]+", "-", job.header.title.lower())[:40].strip("-") or "job"
    return _file(content, "application/json", f"{name}-{number}.json")
