"""Logs that were read lately, so that a job is read on from where it was left and not from its beginning.

Nothing is believed without the record: each time its row says how far the job is, and the last event that was
read before has to stand in the record as it was. Where it doesn't (restored from a backup, a customer taken out
by another program), the job is read anew from its first event.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Generic, TypeVar

Entry = TypeVar("Entry")

MOST_EVENTS = 50_000
"""Events that are held in memory for all jobs together: some 50 MB at the most usual size."""


@dataclass(frozen=True)
class ReadBefore(Generic[Entry]):
    """What was read of a job: its events, what names this job and its state, and the last row as it stood."""

    uid: str
    anonymised: str | None
    events: tuple[Entry, ...]
    last_row: Mapping[str, object]


@dataclass(eq=False)
class Recent(Generic[Entry]):
    """The logs read last, the oldest given up first."""

    logs: OrderedDict[int, ReadBefore[Entry]] = field(default_factory=OrderedDict)
    guard: threading.Lock = field(default_factory=threading.Lock)
    held: int = 0

    def of(self, job: int, uid: str, anonymised: str | None) -> ReadBefore[Entry] | None:
        """Return what was read of a job, if it is still the same job with the same customer's data."""
        with self.guard:
            before = self.logs.get(job)
            if before is None or (before.uid, before.anonymised) != (uid, anonymised):
                return None
            self.logs.move_to_end(job)
            return before

    def keep(self, job: int, read: ReadBefore[Entry]) -> None:
        """Hold what was read of a job, unless more was read of it meanwhile."""
        with self.guard:
            before = self.logs.get(job)
            same = before is not None and (before.uid, before.anonymised) == (read.uid, read.anonymised)
            if before is not None:
                if same and len(before.events) > len(read.events):
                    return
                self.held -= len(before.events)
            self.logs[job] = read
            self.logs.move_to_end(job)
            self.held += len(read.events)
            while self.held > MOST_EVENTS:
                _, oldest = self.logs.popitem(last=False)
                self.held -= len(oldest.events)

    def clear(self) -> None:
        """Hold nothing."""
        with self.guard:
            self.logs.clear()
            self.held = 0
