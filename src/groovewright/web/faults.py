"""How every failure ends: one page for people, one shape of JSON for programs."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from sqlalchemy.exc import SQLAlchemyError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from groovewright.job import to_plain
from groovewright.quantities import BenchError, CannotBeDoneError
from groovewright.store import ConflictError, KeptEvent, NoJobError
from groovewright.web.render import message_page


class NotThereError(BenchError):
    """What was asked for is not in the record."""


class NotAllowedError(BenchError):
    """The change does not carry its session's token."""


def status_of(error: BenchError) -> tuple[int, str]:
    """Return the status of HTTP and the code of an error."""
    if isinstance(error, ConflictError):
        return 409, "conflict"
    if isinstance(error, NotThereError | NoJobError):
        return 404, "not-there"
    if isinstance(error, NotAllowedError):
        return 403, "not-allowed"
    if isinstance(error, CannotBeDoneError):
        return (503, "record") if isinstance(error.__cause__, SQLAlchemyError) else (422, "cannot-be-done")
    return 422, "input"


def kept_plain(kept: KeptEvent) -> dict[str, Any]:
    """Return a kept event as JSON."""
    return {"sequence": kept.sequence, "at": kept.at, "bench": kept.bench, "event": to_plain(kept.event)}


def error_body(code: str, message: str, **more: Any) -> dict[str, Any]:
    """Return the one shape in which the API reports an error."""
    return {"error": {"code": code, "message": message, **more}}


def _answer(request: Request, status: int, code: str, message: str, **more: Any) -> Response:
    if request.url.path.startswith("/api"):
        return JSONResponse(error_body(code, message, **more), status)
    phrase = TITLES.get(code) or HTTPStatus(status).phrase
    return message_page(request, status, phrase, message)


TITLES = {
    "input": "That can't be taken",
    "cannot-be-done": "That can't be done",
    "conflict": "The job has changed",
    "not-there": "Not there",
    "not-allowed": "Load the page again",
    "record": "The record does not take it",
}


def add_faults(app: FastAPI) -> None:
    """Make every error of the app end in the one way."""

    @app.exception_handler(BenchError)
    async def bench_error(request: Request, error: BenchError) -> Response:
        status, code = status_of(error)
        more: dict[str, Any] = {}
        if isinstance(error, ConflictError):
            more = {
                "changed": [kept_plain(kept) for kept in error.changed],
                "last_sequence": error.last_sequence,
            }
        return _answer(request, status, code, str(error), **more)

    @app.exception_handler(RequestValidationError)
    async def unreadable(request: Request, error: RequestValidationError) -> Response:
        first = error.errors()[0]
        where = ", ".join(str(part) for part in first["loc"])
        return _answer(request, 422, "input", f"{where}: {first['msg']}")

    @app.exception_handler(HTTPException)
    async def http_error(request: Request, error: HTTPException) -> Response:
        codes = {404: "not-there", 413: "too-large"}
        words = "There is no such page." if error.status_code == 404 else str(error.detail)
        answer = _answer(request, error.status_code, codes.get(error.status_code, "request"), words)
        for name, value in (error.headers or {}).items():
            answer.headers[name] = value
        return answer
