"""Several benches' writes in one transaction, so that they wait for the disk once and not one by one.

A thread of the record's own takes all writes that wait. One that is refused takes nothing of the others with
it, as it is refused before it has written anything. Nobody is answered before all is on disk.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Any, TypeVar

from sqlalchemy import Connection

from groovewright.quantities import BenchError, CannotBeDoneError

Result = TypeVar("Result")

MOST_AT_ONCE = 64
"""Writes that share a transaction."""


@dataclass(eq=False)
class Waiting:
    """One bench's write: what to do, and where its answer goes."""

    work: Callable[[Connection], Any]
    answer: Future[Any] = field(default_factory=Future)


@dataclass(eq=False)
class Writer:
    """The queue of a record and the thread that serves it, which begins with the first write."""

    transaction: Callable[[], Any]
    waiting: queue.SimpleQueue[Waiting | None] = field(default_factory=queue.SimpleQueue)
    guard: threading.Lock = field(default_factory=threading.Lock)
    thread: threading.Thread | None = None

    def write(self, work: Callable[[Connection], Result]) -> Result:
        """Do some work in a transaction that is on disk when this returns; what it raises, is raised."""
        one = Waiting(work)
        with self.guard:
            if self.thread is None:
                self.thread = threading.Thread(target=self._serve, name="record writer", daemon=True)
                self.thread.start()
            self.waiting.put(one)
        result: Result = one.answer.result()
        return result

    def close(self) -> None:
        """Let the thread finish what waits, and end it."""
        with self.guard:
            thread, self.thread = self.thread, None
            if thread is not None:
                self.waiting.put(None)
        if thread is not None:
            thread.join()

    def _serve(self) -> None:
        going_on = True
        while going_on:
            group, going_on = self._next()
            if group:
                _write_group(self.transaction, group)

    def _next(self) -> tuple[list[Waiting], bool]:
        """Return the writes that wait, at least one, and whether there will be more."""
        group: list[Waiting] = []
        while len(group) < MOST_AT_ONCE:
            try:
                one = self.waiting.get(block=not group)
            except queue.Empty:
                break
            if one is None:
                return group, False
            group.append(one)
        return group, True


def _write_group(transaction: Callable[[], Any], group: list[Waiting]) -> None:
    """Write for all in one transaction; answer when it is on disk, or has failed."""
    answers: list[tuple[Any, BenchError | None]] = []
    try:
        with transaction() as connection:
            answers = [_write_one(connection, one) for one in group]
    except BaseException as error:  # whatever it was: every bench that waits must hear of it
        for one in group:
            one.answer.set_exception(_for_each(error))
        return
    for one, (result, refusal) in zip(group, answers, strict=True):
        if refusal is None:
            one.answer.set_result(result)
        else:
            one.answer.set_exception(refusal)


def _write_one(connection: Connection, one: Waiting) -> tuple[Any, BenchError | None]:
    before = _rows_written(connection)
    try:
        return one.work(connection), None
    except BenchError as refusal:
        if _rows_written(connection) != before:
            raise RuntimeError(
                "a write was refused after it had begun; all of it was taken back"
            ) from refusal
        return None, refusal


def _rows_written(connection: Connection) -> int:
    """Return how many rows a connection to SQLite has written since it was opened."""
    raw: Any = connection.connection.driver_connection
    return int(raw.total_changes)


def _for_each(error: BaseException) -> BaseException:
    """Return an error of its own for one of several benches."""
    if isinstance(error, CannotBeDoneError):
        mine: BaseException = CannotBeDoneError(str(error))
    else:
        mine = RuntimeError(f"writing to the record failed: {error!r}")
    mine.__cause__ = error.__cause__ or error  # what the database said, for those who ask whether it did
    return mine
