"""The page's own assets: style, script, letters. Nothing comes from outside."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from fastapi import APIRouter
from starlette.responses import FileResponse, PlainTextResponse, Response

from groovewright.sheets.lettering import FONTS
from groovewright.web.render import STATIC, scheme_css

router = APIRouter(include_in_schema=False)

FILES: dict[str, tuple[Path, str]] = {
    "bench.js": (STATIC / "bench.js", "text/javascript; charset=utf-8"),
    "photo.js": (STATIC / "photo.js", "text/javascript; charset=utf-8"),
    "photo.css": (STATIC / "photo.css", "text/css; charset=utf-8"),
    "listen.js": (STATIC / "listen.js", "text/javascript; charset=utf-8"),
    "listen.css": (STATIC / "listen.css", "text/css; charset=utf-8"),
    "mark.svg": (STATIC / "mark.svg", "image/svg+xml"),
    "regular.woff": (FONTS / "GroovewrightSans-Regular-latin.woff", "font/woff"),
    "bold.woff": (FONTS / "GroovewrightSans-Bold-latin.woff", "font/woff"),
    "regular.ttf": (FONTS / "GroovewrightSans-Regular.ttf", "font/ttf"),
    "bold.ttf": (FONTS / "GroovewrightSans-Bold.ttf", "font/ttf"),
    "wide.ttf": (FONTS.parent / "fonts_wide" / "GroovewrightWide-Regular.ttf", "font/ttf"),
}
"""Every file that is served, by the name in its address; no other can be asked for."""

KEEP = {"cache-control": "public, max-age=31536000, immutable"}
"""The address of an asset changes with its content."""


def style() -> Response:
    """Return the style: the colours of the drawings, then the page."""
    text = scheme_css() + (STATIC / "bench.css").read_text("utf-8")
    return Response(text, media_type="text/css", headers=KEEP)


def _sender(path: Path, kind: str) -> Callable[[], Response]:
    def send() -> Response:
        return FileResponse(path, media_type=kind, headers=KEEP)

    return send


for _name, (_path, _kind) in FILES.items():
    router.add_api_route(f"/static/{_name}", _sender(_path, _kind), methods=["GET"])
router.add_api_route("/static/bench.css", style, methods=["GET"])


@router.get("/favicon.ico")
def icon() -> Response:
    """Return the mark."""
    return FileResponse(STATIC / "mark.svg", media_type="image/svg+xml", headers=KEEP)


@router.get("/robots.txt")
def robots() -> Response:
    """Ask machines to stay out."""
    return PlainTextResponse("User-agent: *\nDisallow: /\n")
