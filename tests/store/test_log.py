"""Jobs are kept as they were written, and two benches never write over each other."""

from __future__ import annotations

import threading
from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from groovewright.job import Described, Looked, Moved, Redone, Undone, fold
from groovewright.job.kept import Kept
from groovewright.job.records import Aim, Arm, Cartridge, Deck, Found, Job, Phono
from groovewright.job.wear import Play
from groovewright.quantities import GrooveRange, InputError
from groovewright.store import (
    ConflictError,
    append,
    append_all,
    go_back,
    new_job,
    read_job,
    read_log,
    read_since,
)

TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
EVENTS = st.one_of(
    st.builds(Moved, NUMBERS, NUMBERS),
    st.builds(Looked, st.none() | NUMBERS | TEXTS, st.none() | NUMBERS | TEXTS, st.none() | NUMBERS),
    st.just(Undone()),
    st.just(Redone()),
    st.builds(Described, st.just("job"), st.builds(Job, TEXTS, TEXTS, TEXTS, TEXTS, TEXTS)),
    st.builds(Described, st.just("deck"), st.builds(Deck, TEXTS, st.tuples(NUMBERS, NUMBERS))),
    st.builds(Described, st.just("arm"), st.builds(Arm, TEXTS, pivot_to_spindle_mm=st.none() | NUMBERS)),
    st.builds(Described, st.just("cartridge_in"), st.builds(Cartridge, TEXTS, mass_g=st.none() | NUMBERS)),
)


def test_a_log_is_read_as_it_was_written(store, demo_log):
    number = new_job(store, demo_log)
    assert read_log(store, number) == demo_log
    assert fold(read_log(store, number)) == fold(demo_log)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(events=st.lists(EVENTS, min_size=1, max_size=6))
def test_any_events_are_read_as_they_were_written_one_by_one(sqlite_store, events):
    number = new_job(sqlite_store, events[:1])
    for place, event in enumerate(events[1:], 1):
        assert append(sqlite_store, number, event, place) == place + 1
    assert read_log(sqlite_store, number) == tuple(events)


def test_every_section_survives_the_record(store):
    log = (
        Described("aim", Aim(grooves=GrooveRange(60.0, 140.0, "measured"), null_inner_mm=66.0)),
        Described("kept", Kept(place="drawer 3", stylus_hours=300.0)),
        Described("phono", Phono(47_000.0, offered_pF=(100.0, 220.0))),
        Described("found", Found(force_gf=1.8, antiskating="1.5 on the dial")),
        Described("play", Play(hours_per_week=7.5, since="2026-03-14")),
        Described("deck", Deck("Fernhill 3", (100 / 3, 45.0))),
    )
    assert read_log(store, new_job(store, log)) == log


def test_jobs_are_numbered_and_know_who_wrote_when(store):
    first, second = (new_job(store, [Described("deck", Deck(name))]) for name in ("Fernhill 3", "Juniper S"))
    append(store, first, Moved(1.0, 0.0), 1)
    job = read_job(store, first)
    assert (first, second) == (1, 2)
    assert [(kept.sequence, kept.at, kept.bench) for kept in job.events] == [
        (1, "2026-03-14T09:30:01.000000Z", "front bench"),
        (2, "2026-03-14T09:30:03.000000Z", "front bench"),
    ]
    assert (job.created, job.changed) == (job.events[0].at, job.events[1].at)


def test_the_second_bench_is_shown_what_the_first_one_added(place, open_record):
    front, back = (open_record(place, bench=f"{name} bench") for name in ("front", "back"))
    number = new_job(front, [Described("deck", Deck("Fernhill 3"))])
    seen = read_job(back, number).sequence
    append(front, number, Looked(0.2, -1.1), seen)
    append(front, number, Moved(-3.0, -1.0), seen + 1)
    with pytest.raises(ConflictError, match="front bench added 2 steps meanwhile") as conflict:
        append(back, number, Moved(5.0, 5.0), seen)
    assert [kept.event for kept in conflict.value.changed] == [Looked(0.2, -1.1), Moved(-3.0, -1.0)]
    assert conflict.value.last_sequence == seen + 2
    assert read_log(front, number)[1:] == (Looked(0.2, -1.1), Moved(-3.0, -1.0))
    assert append(back, number, Moved(5.0, 5.0), conflict.value.last_sequence) == seen + 3


def test_a_bench_can_ask_only_for_what_it_has_not_seen(store):
    number = new_job(store, [Described("deck", Deck("Fernhill 3"))])
    append(store, number, Moved(1.0, 0.0), 1)
    assert [kept.event for kept in read_since(store, number, 1)] == [Moved(1.0, 0.0)]
    assert read_since(store, number, 2) == ()


def test_many_benches_at_once_lose_nothing(place, open_record):
    benches, jobs, each = 8, 3, 12
    stores = [open_record(place, bench=f"bench {number}") for number in range(2)]
    numbers = [new_job(stores[0], [Described("deck", Deck(f"Fernhill {n}"))]) for n in range(jobs)]
    failures = []

    def work(bench):
        store = stores[bench % 2]  # two records opened apart, as by two programs
        try:
            for step in range(each):
                job, expected = numbers[step % jobs], 1
                while True:
                    try:
                        append(store, job, Moved(float(bench), float(step)), expected)
                        break
                    except ConflictError as conflict:
                        expected = conflict.last_sequence
        except BaseException as error:
            failures.append(error)

    threads = [threading.Thread(target=work, args=(bench,)) for bench in range(benches)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    found = Counter(event for number in numbers for event in read_log(stores[0], number)[1:])
    assert found == Counter(Moved(float(b), float(s)) for b in range(benches) for s in range(each))
    for number in numbers:
        job = read_job(stores[1], number)
        assert [kept.sequence for kept in job.events] == list(range(1, job.sequence + 1))


def test_several_events_are_added_all_or_none(store):
    number = new_job(store, [Described("deck", Deck("Fernhill 3"))])
    assert append_all(store, number, (Moved(1.0, 0.0), Looked(0.2, 0.1)), 1) == 3
    with pytest.raises(ConflictError):
        append_all(store, number, (Moved(2.0, 0.0), Looked("in", "out")), 2)
    with pytest.raises(InputError, match="not a number"):
        append_all(store, number, (Moved(3.0, 0.0), Looked(float("nan"), 0.0)), 3)
    named = (Described("arm", Arm("Fernhill F9")), Described("deck", Deck("Alder Twelve")))
    assert append_all(store, number, named, 3) == 5
    assert read_log(store, number)[1:] == (Moved(1.0, 0.0), Looked(0.2, 0.1), *named)
    assert (read_job(store, number).header.arm, read_job(store, number).header.deck) == (
        "Fernhill F9",
        "Alder Twelve",
    )
    assert len({kept.at for kept in read_job(store, number).events[1:3]}) == 1


def test_a_write_that_is_refused_takes_nothing_of_the_others_with_it(sqlite_store):
    number = new_job(sqlite_store, [Described("deck", Deck("Fernhill 3"))])
    start = threading.Barrier(6)
    outcomes = []

    def work(bench):
        start.wait()
        try:
            append(sqlite_store, number if bench % 2 else 999, Moved(float(bench), 0.0), 1)
            outcomes.append("written")
        except (ConflictError, InputError) as error:
            outcomes.append(type(error).__name__)

    threads = [threading.Thread(target=work, args=(bench,)) for bench in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert Counter(outcomes) == {"written": 1, "ConflictError": 2, "NoJobError": 3}
    assert len(read_log(sqlite_store, number)) == 2


@pytest.mark.parametrize("number", [0, -1, 99, 2**31, 2**70])
def test_a_job_that_is_not_there_is_said_so(store, number):
    for question in (read_job, read_log, lambda s, n: append(s, n, Undone(), 1)):
        with pytest.raises(InputError, match=f"there is no job {number}"):
            question(store, number)


def test_expecting_more_events_than_there_are_is_an_error_and_writes_nothing(store):
    number = new_job(store, [Described("deck", Deck("Fernhill 3"))])
    with pytest.raises(InputError, match="has 1 events only, fewer than the 5"):
        append(store, number, Undone(), 5)
    assert read_job(store, number).sequence == 1


def test_a_job_begins_with_something(store):
    with pytest.raises(InputError, match="at least one event"):
        new_job(store, [])


@pytest.mark.parametrize(
    ("event", "fault"),
    [
        (Moved(float("nan"), 0.0), "not a number"),
        (Moved(0.0, float("inf")), "infinite"),
        (Described("job", Job(title="\ud800")), "half a character"),
        (Described("job", Job(notes="x" * 300_000)), "300,.* bytes; allowed are 256,000"),
    ],
)
def test_what_can_not_be_kept_exactly_is_refused(store, event, fault):
    with pytest.raises(InputError, match=fault):
        new_job(store, [event])


def test_texts_of_any_script_and_odd_signs_are_kept(store):
    texts = "Łódź", "Αθήνα", "Москва", "東京", "a\x00b\tc\nd", "''\";--", "🎵"
    log = tuple(Described("job", Job(title=text, owner=text)) for text in texts)
    number = new_job(store, log)
    assert read_log(store, number) == log
    assert read_job(store, number).header.title == "🎵"


def test_going_back_is_a_new_job_and_leaves_the_old_one_alone(store):
    log = (
        Described("job", Job("New cartridge", owner="A. Sample")),
        Described("cartridge_out", Cartridge("Oakmoss P1")),
        Described("cartridge_in", Cartridge("Brightwater 5")),
        Described("found", Found(force_gf=1.8)),
        Described("kept", Kept("drawer 3")),
    )
    old = new_job(store, log)
    new = read_job(store, go_back(store, old))
    assert read_log(store, old) == log
    assert (new.header.cartridge_out, new.header.cartridge_in) == ("Brightwater 5", "Oakmoss P1")
    assert new.header.title == "Back to Oakmoss P1"
    state = fold(new.log)
    assert state.cartridge_in.force_target_gf == 1.8
    assert "drawer 3" in state.job.notes
