"""The gate in front of every request: who calls, by which name, from which page, and how much.

What comes back carries the policy that lets a browser load nothing but the page's own assets.
"""

from __future__ import annotations

import json
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from groovewright.web.bench import Bench, is_loopback
from groovewright.web.session import COOKIE, LIFETIME_S, Session, cookie_of, new_session, session_of
from groovewright.web.upload_kinds import largest_upload

LARGEST_BODY = 300_000
LARGEST_UPLOAD = 2_000_000
UPLOADS = ("/new/file",)
"""Where a file may be handed in, and so a larger body."""

OPEN_PATHS = ("/pair", "/static/")
"""What a device sees before it is paired."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "media-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""Content Security Policy (W3C CSP Level 3): nothing from outside, no script or style in the page's text."""

HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(self), microphone=(self), geolocation=(), payment=(), usb=()",
    "cache-control": "no-store",
}
SAFE = ("GET", "HEAD", "OPTIONS")


class Guard:
    """ASGI middleware around the whole bench page."""

    def __init__(self, app: ASGIApp, bench: Bench) -> None:
        self.app = app
        self.bench = bench

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        session, is_new = self._session(scope)
        scope.setdefault("state", {})["session"] = session
        out = _Answer(self.bench, scope, send, session if is_new else None)
        refusal = self._refusal(scope, headers, session)
        if refusal is not None:
            await _refuse(scope, out.send, *refusal)
            return
        limit = _largest(scope["path"])
        await self.app(scope, _limited(receive, limit), out.send)

    def _session(self, scope: Scope) -> tuple[Session, bool]:
        cookie = Request(scope).cookies.get(COOKIE, "")
        known = session_of(cookie, self.bench.secret, self.bench.now()) if cookie else None
        return (known, False) if known else (new_session(self.bench.now()), True)

    def _refusal(self, scope: Scope, headers: Headers, session: Session) -> tuple[int, str, str] | None:
        if not self._host_is_known(headers.get("host", "")):
            text = (
                "This address does not belong to the bench page. Open it by the address shown at the bench."
            )
            return 421, "unknown-host", text
        length = headers.get("content-length", "0")
        limit = _largest(scope["path"])
        if not length.isdigit() or int(length) > limit:
            return 413, "too-large", _too_large(limit)
        if scope["method"] not in SAFE and not from_own_page(headers):
            return (
                403,
                "foreign-page",
                "This change came from another page than the bench page: nothing was changed.",
            )
        if not self._may_come_in(scope, session):
            return 401, "not-paired", "Pair this device first: the code is shown at the bench."
        return None

    def _may_come_in(self, scope: Scope, session: Session) -> bool:
        client = scope.get("client")
        if not self.bench.lan or session.paired or (client and is_loopback(client[0])):
            return True
        path = str(scope["path"])
        return path == OPEN_PATHS[0] or path.startswith(OPEN_PATHS[1])

    def _host_is_known(self, host: str) -> bool:
        try:
            name = urlsplit(f"//{host}").hostname
        except ValueError:
            return False
        return bool(name) and name in self.bench.hosts


def _largest(path: str) -> int:
    """Return what a request to this address may weigh."""
    return largest_upload(path) or (LARGEST_UPLOAD if path in UPLOADS else LARGEST_BODY)


def from_own_page(headers: Headers) -> bool:
    """Return whether a change comes from this page or from a program that is no browser.

    The Origin header (RFC 6454) has to name the host that was called; where there is none, Sec-Fetch-Site
    (W3C Fetch Metadata) has to say same-origin or be missing too.
    """
    origin = headers.get("origin")
    if origin is not None:
        parts = urlsplit(origin)
        return parts.scheme in ("http", "https") and parts.netloc == headers.get("host", "")
    return headers.get("sec-fetch-site", "same-origin") == "same-origin"


def _too_large(limit: int) -> str:
    return f"That is too large: allowed are {limit:,} bytes. Nothing was changed."


def _limited(receive: Receive, limit: int) -> Receive:
    size = 0

    async def counted() -> Message:
        nonlocal size
        message = await receive()
        size += len(message.get("body", b""))
        if size > limit:
            raise HTTPException(413, _too_large(limit))  # ends as every error of the app does
        return message

    return counted


class _Answer:
    """Adds the headers and the cookie to what is sent, and a line to the access log."""

    def __init__(self, bench: Bench, scope: Scope, send: Send, session: Session | None) -> None:
        self.bench, self.scope, self.send_on, self.session = bench, scope, send, session

    async def send(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            state = self.scope["state"]
            session = state.get("new_session") or self.session
            if session is not None:
                headers.append("set-cookie", cookie_header(session, self.bench.secret))
            client = self.scope.get("client") or ("-", 0)
            # the path without its query: what people search for and try out is nobody else's business
            self.bench.log(f"{client[0]} {self.scope['method']} {self.scope['path']} {message['status']}")
        await self.send_on(message)


def cookie_header(session: Session, secret: bytes) -> str:
    """Return the Set-Cookie line: no script reads it, no other site sends it."""
    return f"{COOKIE}={cookie_of(session, secret)}; Path=/; Max-Age={LIFETIME_S}; HttpOnly; SameSite=Strict"


async def _refuse(scope: Scope, send: Send, status: int, code: str, text: str) -> None:
    path = str(scope["path"])
    headers = [(b"connection", b"close")]
    if path.startswith("/api"):
        body = json.dumps({"error": {"code": code, "message": text}}).encode()
        headers.append((b"content-type", b"application/json"))
    elif code == "not-paired" and scope["method"] in SAFE:
        status, body = 303, b""
        headers.append((b"location", b"/pair"))
    else:
        body = text.encode()
        headers.append((b"content-type", b"text/plain; charset=utf-8"))
    headers.append((b"content-length", str(len(body)).encode()))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
