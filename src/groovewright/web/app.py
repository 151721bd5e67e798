"""The ASGI app: its pages, its API, its assets, and the gate in front of all of them."""

from __future__ import annotations

from fastapi import FastAPI
from starlette.middleware.gzip import GZipMiddleware
from starlette.types import ASGIApp

from groovewright import __version__
from groovewright.web import (
    api,
    assets,
    changes,
    devices,
    distance,
    jobs,
    listen_files,
    papers,
    photo_page,
    stages,
)
from groovewright.web.bench import Bench
from groovewright.web.faults import add_faults
from groovewright.web.guard import Guard

SMALLEST_COMPRESSED = 800


def make_app(bench: Bench) -> ASGIApp:
    """Return the bench page as an ASGI app."""
    app = inner_app(bench)
    return Guard(GZipMiddleware(app, minimum_size=SMALLEST_COMPRESSED, compresslevel=5), bench)


def inner_app(bench: Bench) -> FastAPI:
    """Return the app without the gate: its routes and its OpenAPI schema."""
    app = FastAPI(
        title="groovewright bench page",
        version=__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        redirect_slashes=False,
    )
    app.state.bench = bench
    add_faults(app)
    for part in (api, assets, jobs, papers, distance, listen_files, photo_page, stages, changes, devices):
        app.include_router(part.router)
    return app
