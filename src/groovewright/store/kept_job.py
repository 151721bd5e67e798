"""A job as it is kept, and what goes wrong with one."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.job import Event, Log
from groovewright.quantities import BenchError, InputError
from groovewright.store.header import Header


@dataclass(frozen=True)
class KeptEvent:
    """One event as it is kept: `sequence` counts from 1 in each job, `at` is when, `bench` who wrote it."""

    sequence: int
    at: str
    bench: str
    event: Event


@dataclass(frozen=True)
class KeptJob:
    """A job as it is kept.

    Parameters
    ----------
    number : int
        What people call it in this record.
    uid : str
        What it is called everywhere: 32 hexadecimal digits that no other job has.
    sequence : int
        The sequence number of its last event: what `append` expects next time.
    anonymised : str or None
        When the customer's data was taken out of it.
    """

    number: int
    uid: str
    created: str
    changed: str
    sequence: int
    anonymised: str | None
    header: Header
    events: tuple[KeptEvent, ...]

    @property
    def log(self) -> Log:
        """Return the events alone, as `groovewright.job.fold` takes them."""
        return tuple(kept.event for kept in self.events)


class NoJobError(InputError):
    """There is no job of that number in the record."""


class ConflictError(BenchError):
    """Another bench added to the job meanwhile: nothing was written; `changed` holds what it added."""

    def __init__(self, job: int, changed: tuple[KeptEvent, ...], last_sequence: int) -> None:
        self.job = job
        self.changed = changed
        self.last_sequence = last_sequence
        benches = sorted({kept.bench for kept in changed if kept.bench})
        who = " and ".join(benches) or "another bench"
        count = f"{len(changed)} step{'s' if len(changed) != 1 else ''}"
        super().__init__(
            f"job {job} has changed: {who} added {count} meanwhile; look at them and do yours again"
        )
