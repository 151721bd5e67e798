"""Signed sessions without a table: the cookie says who, and its signature that this bench said so."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from dataclasses import dataclass

COOKIE = "bench"

LIFETIME_S = 12 * 3600
"""A working day; then a device pairs again."""


@dataclass(frozen=True)
class Session:
    """One browser: a name at random, when it came (seconds since 1970), and whether it was paired."""

    name: str
    made: int
    paired: bool


def new_session(now: float, *, paired: bool = False) -> Session:
    """Return a session for a browser that has none."""
    return Session(secrets.token_hex(16), int(now), paired)


def cookie_of(session: Session, secret: bytes) -> str:
    """Return the value of the cookie."""
    said = f"{session.name}.{session.made}.{int(session.paired)}"
    return f"{said}.{_signature(secret, 'session', said)}"


def session_of(cookie: str, secret: bytes, now: float) -> Session | None:
    """Return the session of a cookie; None where it is not signed by this bench or too old."""
    said, _, signature = cookie.rpartition(".")
    if not hmac.compare_digest(signature.encode(), _signature(secret, "session", said).encode()):
        return None
    name, made, paired = said.split(".")
    session = Session(name, int(made), paired == "1")
    return session if 0 <= now - session.made < LIFETIME_S else None


def token_of(session: Session, secret: bytes) -> str:
    """Return what every change has to carry, so that another site can't make one."""
    return _signature(secret, "change", session.name)


def is_token(given: str, session: Session, secret: bytes) -> bool:
    """Return whether a change carries the token of its session."""
    return hmac.compare_digest(given.encode(), token_of(session, secret).encode())


def _signature(secret: bytes, purpose: str, said: str) -> str:
    return hmac.new(secret, f"{purpose}:{said}".encode(), hashlib.sha256).hexdigest()
