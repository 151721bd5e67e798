"""Templates to responses: every value is escaped, every page carries its session's token."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

from groovewright.report.picture import DARK, LIGHT
from groovewright.web.bench import Bench
from groovewright.web.session import Session, token_of

STATIC = Path(__file__).parent / "static"


@lru_cache(maxsize=1)
def environment() -> Environment:
    """Return the templates of the page."""
    made = Environment(
        loader=PackageLoader("groovewright.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["version"] = asset_version()
    made.globals["paper_light"], made.globals["paper_dark"] = LIGHT["paper"], DARK["paper"]
    return made


@lru_cache(maxsize=1)
def asset_version() -> str:
    """Return a mark that changes with the page's assets, so that browsers may keep them."""
    digest = hashlib.sha256(scheme_css().encode())
    for path in sorted(STATIC.iterdir()):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:10]


def scheme_css() -> str:
    """Return the colours of both schemes, those of the papers and drawings."""
    light, dark = (
        ";".join(f"--{name}:{value}" for name, value in scheme.items()) for scheme in (LIGHT, DARK)
    )
    return (
        f":root{{color-scheme:light dark;{light}}}\n"
        f"@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}\n"
    )


def bench_of(request: Request) -> Bench:
    """Return the bench that serves a request."""
    bench: Bench = request.app.state.bench
    return bench


def session_in(request: Request) -> Session:
    """Return the session of a request; the gate made sure of it."""
    session: Session = request.state.session
    return session


def page(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """Return a page."""
    bench = bench_of(request)
    content = (
        environment()
        .get_template(template)
        .render({"token": token_of(session_in(request), bench.secret), "lan": bench.lan, **values})
    )
    return HTMLResponse(content, status)


def message_page(
    request: Request, status: int, title: str, text: str, links: Mapping[str, str] | None = None
) -> HTMLResponse:
    """Return a page that says one thing and where to go from there."""
    return page(
        request, "message.html", status, title=title, text=text, links=dict(links or {"/": "All jobs"})
    )
