"""What a running bench page knows: its record, whom it lets in, and where it tells the person."""

from __future__ import annotations

import ipaddress
import secrets
import socket
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from groovewright.store import Store
from groovewright.web.listen_work import Listenings
from groovewright.web.pairing import Pairing

LOCAL_HOSTS = frozenset({"localhost", "127.0.0.1", "::1"})


def silent(_line: str) -> None:
    """Tell nobody."""


@dataclass(frozen=True)
class Bench:
    """One running bench page.

    Parameters
    ----------
    lan : bool
        Devices other than this machine may come in, with a pairing code.
    hosts : frozenset of str
        Names by which the page may be called; any other is refused, so that a foreign name can't be
        pointed at this machine.
    address : str
        The page's address for another device; empty where there is none.
    secret : bytes
        Signs sessions; new at each start, so that a restart ends all of them.
    tell : function
        Prints a line at the bench, such as a new pairing code.
    log : function
        Takes a line of the access log.
    recordings : Path or None
        A folder whose recordings can be picked on the page.
    listenings
        What is being heard.
    """

    store: Store
    lan: bool = False
    hosts: frozenset[str] = LOCAL_HOSTS
    address: str = ""
    secret: bytes = field(default_factory=lambda: secrets.token_bytes(32), repr=False)
    pairing: Pairing = field(default_factory=Pairing)
    now: Callable[[], float] = time.time
    tell: Callable[[str], None] = silent
    log: Callable[[str], None] = silent
    recordings: Path | None = None
    listenings: Listenings = field(default_factory=Listenings, repr=False)


def is_loopback(address: str) -> bool:
    """Return whether an address is this machine itself."""
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def lan_address() -> str:
    """Return this machine's address on its local network; 127.0.0.1 where it has none.

    Nothing is sent: the system only says from which address it would send (RFC 5737 names the other end).
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            return str(probe.getsockname()[0])
        except OSError:
            return "127.0.0.1"
