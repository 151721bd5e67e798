"""Pairing: a code that is shown at the bench lets another device in, once, and not by guessing."""

from __future__ import annotations

import hmac
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Without letters and digits that look alike: 0 and O, 1 and I."""

LENGTH = 8
"""Symbols of a code: 32^8, about 10^12 codes."""

TRIES, TRIES_S = 5, 60.0
"""Wrong tries that one address has within so many seconds."""

ALL_TRIES = 50
"""Wrong tries of all addresses together after which the code is replaced by a new one."""

MOST_ADDRESSES = 1000


def new_code() -> str:
    """Return a code at random."""
    return "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))


def plain_code(typed: str) -> str:
    """Return a code as it was typed, without spaces and hyphens, in capitals."""
    return "".join(letter for letter in typed.upper() if letter.isascii() and letter.isalnum())


@dataclass
class Pairing:
    """The code that is good now, and the wrong tries so far. It changes after each use."""

    now: Callable[[], float] = time.monotonic
    code: str = field(default_factory=new_code, repr=False)
    wrong: dict[str, list[float]] = field(default_factory=dict)
    wrong_in_all: int = 0
    lock: threading.Lock = field(default_factory=threading.Lock)

    def wait_s(self, address: str) -> float:
        """Return how long an address has to wait before it may try again; 0 where it may now."""
        with self.lock:
            recent = self._recent(address)
            return 0.0 if len(recent) < TRIES else max(0.0, recent[-TRIES] + TRIES_S - self.now())

    def try_code(self, address: str, typed: str) -> bool:
        """Return whether a code is right; then it is used up. To be asked only when `wait_s` is 0."""
        with self.lock:
            if hmac.compare_digest(plain_code(typed), self.code):
                self._renew()
                self.wrong.pop(address, None)
                return True
            if len(self.wrong) >= MOST_ADDRESSES:
                self.wrong.pop(next(iter(self.wrong)))
            self.wrong[address] = [*self._recent(address), self.now()]
            self.wrong_in_all += 1
            if self.wrong_in_all >= ALL_TRIES:
                self._renew()
            return False

    def _recent(self, address: str) -> list[float]:
        return [at for at in self.wrong.get(address, ()) if self.now() - at < TRIES_S]

    def _renew(self) -> None:
        self.code, self.wrong_in_all = new_code(), 0
