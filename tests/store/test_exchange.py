"""An export is read in exactly; what doesn't fit is refused with its reason, and nothing is overwritten."""

from __future__ import annotations

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from groovewright.job import Described, Looked, Moved
from groovewright.job.records import Deck, Job
from groovewright.quantities import BenchError, CannotBeDoneError, InputError
from groovewright.store import (
    append,
    export_text,
    forget_customer,
    go_back,
    import_catalogue,
    import_text,
    list_jobs,
    new_job,
    read_job,
    read_log,
    search,
    suggest,
)


def exported(store, jobs=None):
    return "".join(export_text(store, jobs))


@pytest.fixture
def full_store(sqlite_store, demo_log):
    number = new_job(sqlite_store, demo_log)
    append(sqlite_store, number, Looked(0.1 + 0.2, "slightly-in"), len(demo_log))
    go_back(sqlite_store, number)
    new_job(sqlite_store, [Described("job", Job('東京 \x00\n"quoted"', owner="Łucja"))])
    import_catalogue(sqlite_store, b"what,name,speeds_rpm\ndeck,Juniper S,33.333 45", "own.csv")
    return sqlite_store


def test_an_export_that_is_read_in_is_exported_the_same(full_store, place, open_record, tmp_path):
    text = exported(full_store)
    if place.startswith("/"):
        place = str(tmp_path / "other.sqlite3")
    other = open_record(place, bench="other bench")
    report = import_text(other, text.encode(), "all.json")
    assert (report.added, report.refused, report.catalogue_added) == ((1, 2, 3), (), 1)
    assert exported(other) == text
    assert read_job(other, 1) == read_job(full_store, 1)
    assert list_jobs(other) == list_jobs(full_store)
    assert suggest(other, "deck") == suggest(full_store, "deck")
    assert search(other, "oakmoss") == search(full_store, "oakmoss")
    assert new_job(other, [Described("deck", Deck("next"))]) == 4


def test_the_form_is_the_one_in_the_handbook(sqlite_store):
    new_job(sqlite_store, [Described("deck", Deck("Fernhill 3", (45.0,)))])
    append(sqlite_store, 1, Moved(-3.5, 0.1), 1)
    document = json.loads(exported(sqlite_store))
    uid = document["jobs"][0].pop("uid")
    assert len(uid) == 32
    assert document == {
        "format": "groovewright-record",
        "version": 1,
        "jobs": [
            {
                "number": 1,
                "created": "2026-03-14T09:30:01.000000Z",
                "changed": "2026-03-14T09:30:02.000000Z",
                "anonymised": None,
                "events": [
                    {
                        "sequence": 1,
                        "at": "2026-03-14T09:30:01.000000Z",
                        "bench": "front bench",
                        "version": 1,
                        "event": {
                            "kind": "described",
                            "section": "deck",
                            "record": {"name": "Fernhill 3", "speeds_rpm": [45.0]},
                        },
                    },
                    {
                        "sequence": 2,
                        "at": "2026-03-14T09:30:02.000000Z",
                        "bench": "front bench",
                        "version": 1,
                        "event": {"kind": "moved", "slide_mm": -3.5, "turn_deg": 0.1},
                    },
                ],
            }
        ],
        "catalogue": [],
    }


def test_reading_in_twice_changes_nothing(full_store):
    text = exported(full_store)
    shares = []
    report = import_text(full_store, text.encode(), "all.json", progress=shares.append)
    assert shares == pytest.approx([1 / 3, 2 / 3, 1.0])
    assert (report.added, report.unchanged, report.catalogue_added) == ((), (1, 2, 3), 0)
    assert exported(full_store) == text


def test_a_job_that_went_on_elsewhere_gets_the_events_that_it_lacks(store, tmp_path, open_record):
    new_job(store, [Described("deck", Deck("Fernhill 3"))])
    other = open_record(str(tmp_path / "other.sqlite3"), bench="other bench")
    import_text(other, exported(store).encode(), "x")
    append(other, 1, Described("deck", Deck("Juniper S")), 1)
    report = import_text(store, exported(other).encode(), "x")
    assert report.extended == (1,)
    assert read_log(store, 1)[1] == Described("deck", Deck("Juniper S"))
    assert read_job(store, 1).events[1].bench == "other bench"
    assert search(store, "juniper").jobs[0].number == 1
    assert append(store, 1, Moved(1.0, 0.0), 2) == 3
    assert import_text(store, exported(other).encode(), "x").unchanged == (1,)


def test_a_job_that_went_two_ways_is_refused_and_left_alone(sqlite_store, tmp_path, open_record):
    new_job(sqlite_store, [Described("deck", Deck("Fernhill 3"))])
    other = open_record(str(tmp_path / "other.sqlite3"))
    import_text(other, exported(sqlite_store).encode(), "x")
    append(other, 1, Moved(1.0, 0.0), 1)
    append(sqlite_store, 1, Moved(2.0, 0.0), 1)
    before = exported(sqlite_store)
    report = import_text(sqlite_store, exported(other).encode(), "x")
    assert report.refused == (
        ("job 1", "it is here as job 1 and differs from event 2 on; left as it is here"),
    )
    assert exported(sqlite_store) == before


def test_a_number_that_is_taken_is_changed_and_said_so(store, tmp_path, open_record):
    other = open_record(str(tmp_path / "other.sqlite3"))
    for one in (store, other):
        new_job(one, [Described("deck", Deck("Fernhill 3"))])
    report = import_text(store, exported(other).encode(), "x")
    assert (report.added, report.renumbered) == ((2,), {1: 2})
    assert new_job(store, [Described("deck", Deck("next"))]) == 3


def test_chosen_jobs_are_exported_in_the_order_asked_for(full_store):
    assert [job["number"] for job in json.loads(exported(full_store, [3, 1]))["jobs"]] == [3, 1]
    with pytest.raises(InputError, match="there is no job 9"):
        exported(full_store, [9])


def test_an_old_export_does_not_bring_a_customer_back(sqlite_store, demo_log):
    new_job(sqlite_store, demo_log)
    old = exported(sqlite_store)
    forget_customer(sqlite_store, "A. Sample")
    report = import_text(sqlite_store, old.encode(), "old.json")
    assert len(report.refused) == 1
    assert "Sample" not in exported(sqlite_store)


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (b"", "can't be read as JSON"),
        (b"\xff\xfe", "byte 0 is not UTF-8"),
        (b'{"format": "groovewright-record", "version": 1, "jobs": [', "is it cut off"),
        (b"[" * 100_000, "nested too deeply"),
        (b"[]", "no export of a record"),
        (b'{"format": "other", "version": 1}', "no export of a record"),
        (b'{"format": "groovewright-record", "version": "1"}', "version is '1'"),
        (b'{"format": "groovewright-record", "version": 1, "jobs": {}}', '"jobs" is not a list'),
        (b'{"format": "groovewright-record", "version": 1, "jobs": [NaN]}', "'NaN'; numbers are finite"),
        (
            b'{"format": "groovewright-record", "version": 1, "catalogue": [{"kind": "x"}]}',
            "entry of the catalogue",
        ),
    ],
)
def test_a_file_that_is_no_export_is_refused(sqlite_store, content, fault):
    with pytest.raises(InputError, match=fault):
        import_text(sqlite_store, content, "x.json")
    assert list_jobs(sqlite_store).total == 0


def test_an_export_of_a_newer_form_is_left_alone(sqlite_store):
    with pytest.raises(CannotBeDoneError, match=r"newer groovewright.*Nothing was changed"):
        import_text(sqlite_store, b'{"format": "groovewright-record", "version": 2}', "x.json")


def changed(document, path, value):
    *way, last = path
    place = document
    for step in way:
        place = place[step]
    place[last] = value
    return document


@pytest.mark.parametrize(
    ("path", "value", "fault"),
    [
        (["uid"], "short", "its uid is 'short'"),
        (["number"], 0, "its number is 0"),
        (["number"], 2**40, "its number is"),
        (["events"], [], "it has no events"),
        (["created"], "yesterday", "created is 'yesterday'; a time is written as"),
        (["created"], "2026-03-14T09:30:00", "created is"),
        (["events", 1, "sequence"], 7, "event 2 has the sequence number 7"),
        (["events", 1, "version"], 2, "event 2 was written by a newer groovewright"),
        (["events", 1, "bench"], None, "event 2 has the bench None"),
        (["events", 1, "event", "kind"], "danced", "event kind: 'danced' is not known"),
        (["events", 1, "event", "slide_mm"], "far", "event 2, slide_mm is 'far', not a number"),
        (["events", 1, "event", "slide_mm"], 1e9, "event 2, slide_mm"),
        (["events", 0, "event", "section"], "decks", "event 1 describes 'decks'"),
        (["events", 0, "event", "record"], {"name": 5}, "event 1, name is 5, not a text"),
        (["events", 0, "event", "record"], {"colour": "red"}, "can't be read"),
    ],
)
def test_a_job_that_is_not_right_is_refused_and_the_others_are_taken(
    sqlite_store, open_record, tmp_path, path, value, fault
):
    for _ in range(2):
        number = new_job(sqlite_store, [Described("deck", Deck("Fernhill 3"))])
        append(sqlite_store, number, Moved(1.0, 0.0), 1)
    document = json.loads(exported(sqlite_store))
    changed(document["jobs"][0], path, value)
    other = open_record(str(tmp_path / "other.sqlite3"))
    report = import_text(other, json.dumps(document).encode(), "x.json")
    assert report.added == (2,)
    assert fault in report.refused[0][1]
    assert list_jobs(other).total == 1


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
PATHS = st.sampled_from(
    [
        ["uid"], ["number"], ["created"], ["changed"], ["anonymised"], ["events"], ["events", 0],
        ["events", 0, "sequence"], ["events", 0, "at"], ["events", 0, "version"], ["events", 0, "event"],
        ["events", 0, "event", "kind"], ["events", 0, "event", "section"], ["events", 0, "event", "record"],
        ["events", 0, "event", "record", "title"], ["events", 1, "event", "outer"], ["events", 2, "event"],
        ["events", 2, "event", "record", "grooves"], ["events", 2, "event", "record", "grooves", "inner_mm"],
    ]
)  # fmt: skip


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(path=PATHS, value=JSON)
def test_whatever_stands_in_an_export_it_is_taken_or_refused_and_the_record_stays_readable(
    sqlite_store, demo_log, path, value
):
    described = {event.section: event for event in demo_log if isinstance(event, Described)}
    number = new_job(sqlite_store, [described["job"], Looked(0.1, 0.2), described["aim"]])
    document = json.loads(exported(sqlite_store, [number]))
    document["jobs"][0]["uid"] = f"{number:032x}"
    changed(document["jobs"][0], path, value)
    try:
        report = import_text(sqlite_store, json.dumps(document).encode(), "x.json")
    except BenchError:
        return
    for taken in report.added:
        assert (
            json.loads(exported(sqlite_store, [taken]))["jobs"][0]["events"] == document["jobs"][0]["events"]
        )
        assert read_log(sqlite_store, taken)
