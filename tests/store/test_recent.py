"""A log that was read before is read on, and never believed where the record says otherwise."""

from __future__ import annotations

import pytest
from sqlalchemy import event

from groovewright.job import Described, Looked, Moved
from groovewright.job.records import Deck, Job
from groovewright.store import append, back_up, forget_customer, new_job, read_job, read_log, restore
from groovewright.store import recent as recent_logs


@pytest.fixture
def front(place, open_record):
    return open_record(place, bench="front bench")


@pytest.fixture
def back(place, open_record):
    return open_record(place, bench="back bench")


def fetched(store, job):
    """Return the events of a job, and how many rows of them the database was asked for."""
    asked = []

    def count(_connection, _cursor, statement, parameters, *_more):
        if "FROM event" in statement:
            asked.append(parameters)

    event.listen(store.engine, "before_cursor_execute", count)
    try:
        log = read_log(store, job)
    finally:
        event.remove(store.engine, "before_cursor_execute", count)
    after = [given["after"] if isinstance(given, dict) else given[1] for given in asked]
    return log, after


def test_only_what_is_new_is_read_again(front, back):
    number = new_job(front, [Described("deck", Deck("Fernhill 3"))])
    for place in range(1, 9):
        append(front, number, Moved(float(place), 0.0), place)
    assert fetched(front, number)[1] == [0]
    append(back, number, Looked("square", "in"), 9)
    log, after = fetched(front, number)
    assert after == [8]  # the last that was read before, to compare, and what came since
    assert log == (
        Described("deck", Deck("Fernhill 3")),
        *(Moved(float(place), 0.0) for place in range(1, 9)),
        Looked("square", "in"),
    )
    assert read_job(front, number) == read_job(back, number)


def test_what_another_program_took_out_is_not_shown_from_memory(front, back):
    number = new_job(front, [Described("job", Job(owner="A. Sample")), Moved(1.0, 0.0)])
    assert read_log(front, number)[0] == Described("job", Job(owner="A. Sample"))
    forget_customer(back, "A. Sample")
    assert read_log(front, number) == (Described("job", Job()), Moved(1.0, 0.0))


def test_a_restored_record_is_read_as_it_is_now(sqlite_place, open_record, tmp_path):
    front, back = (open_record(sqlite_place) for _ in range(2))
    number = new_job(front, [Described("deck", Deck("Fernhill 3"))])
    back_up(front, tmp_path / "backup.sqlite3")
    for place in (1, 2):
        append(front, number, Moved(float(place), 0.0), place)
    assert len(read_log(front, number)) == 3
    restore(back, tmp_path / "backup.sqlite3", force=True)
    for place in (1, 2, 3):  # other events now stand where those stood that `front` has read
        append(back, number, Moved(10.0 * place, 0.0), place)
    assert read_log(front, number) == (
        Described("deck", Deck("Fernhill 3")),
        *(Moved(10.0 * place, 0.0) for place in (1, 2, 3)),
    )


def test_memory_is_bounded_and_gives_up_the_oldest_job_first(sqlite_store, monkeypatch):
    monkeypatch.setattr(recent_logs, "MOST_EVENTS", 7)
    numbers = [new_job(sqlite_store, [Moved(float(n), 0.0)] * 3) for n in range(4)]
    for number in (*numbers, numbers[2], numbers[0]):
        assert len(read_log(sqlite_store, number)) == 3
    assert list(sqlite_store.recent.logs) == [numbers[2], numbers[0]]
    assert sqlite_store.recent.held == 6
