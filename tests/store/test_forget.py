"""Taking a customer out: no trace of the person is left, and every measurement stays."""

from __future__ import annotations

import subprocess

import pytest

from groovewright.job import Described, Looked, Moved, Undone, fold
from groovewright.job.heard import Curve, Finding, Listened
from groovewright.job.kept import Kept
from groovewright.job.records import Arm, Cartridge, Deck, Found, Job
from groovewright.quantities import InputError
from groovewright.store import (
    append,
    export_text,
    forget_customer,
    list_jobs,
    new_job,
    read_job,
    read_log,
    search,
    suggest,
)

LOG = (
    Described(
        "job",
        Job(
            "Zephyrine's player", "Lantern Lane Audio Workshop", "Zephyrine Quill", "2026", "lives next door"
        ),
    ),
    Described("deck", Deck("Quill's Fernhill")),
    Described("arm", Arm("Fernhill F9", pivot_to_spindle_mm=222.0)),
    Described("cartridge_in", Cartridge("Brightwater 5", "moving-magnet", "fine line", mass_g=6.5)),
    Described("found", Found(1.8, notes="she asks for a call")),
    Described("kept", Kept("drawer 3, box ZEPHYRINE")),
    Looked(0.2, "out"),
    Moved(-3.0, -1.5),
)
OTHER = (Described("job", Job("New stylus", owner="A. Sample")), Described("deck", Deck("Juniper S")))


@pytest.fixture
def two_jobs(store):
    new_job(store, LOG)
    new_job(store, OTHER)
    return store


def test_the_person_is_gone_and_the_measurements_stay(two_jobs):
    gone = forget_customer(two_jobs, "zephyrine QUILL")
    assert (gone.jobs, gone.events, gone.scrubbed) == ((1,), 4, True)
    text = "".join(export_text(two_jobs)).casefold()
    assert not any(trace in text for trace in ("zephyrine", "quill", "next door", "a call"))
    assert read_log(two_jobs, 1) == (
        Described("job", Job("", "Lantern Lane Audio Workshop", "", "2026", "")),
        Described("deck", Deck("")),
        *LOG[2:4],
        Described("found", Found(1.8)),
        Described("kept", Kept("")),
        *LOG[6:],
    )
    assert fold(read_log(two_jobs, 1)).squaring == LOG[6:]
    assert read_log(two_jobs, 2) == OTHER


def test_lists_searches_and_suggestions_forget_the_person(two_jobs):
    forget_customer(two_jobs, "Zephyrine Quill")
    assert [job.number for job in search(two_jobs, "brightwater").jobs] == [1]
    for word in ("zephyrine", "quill"):
        assert search(two_jobs, word).jobs == ()
    assert [s.name for s in suggest(two_jobs, "customer")] == ["A. Sample"]
    assert [s.name for s in suggest(two_jobs, "deck")] == ["Juniper S"]
    listed = {job.number: job for job in list_jobs(two_jobs).jobs}
    assert listed[1].anonymised is not None
    assert listed[2].anonymised is None


def test_what_was_said_and_taken_back_is_gone_too(store):
    number = new_job(store, LOG[:2])
    append(store, number, Described("job", Job(owner="B. Other")), 2)
    append(store, number, Undone(), 3)
    forget_customer(store, "B. Other")
    assert "Other" not in "".join(export_text(store))


def test_no_trace_is_left_in_the_files(sqlite_store, tmp_path):
    for _ in range(40):
        new_job(sqlite_store, LOG)
    new_job(sqlite_store, OTHER)
    forget_customer(sqlite_store, "Zephyrine Quill")
    sqlite_store.close()
    content = b"".join(path.read_bytes() for path in tmp_path.glob("records.sqlite3*")).lower()
    assert b"juniper" in content
    assert b"zephyrine" not in content
    assert b"quill" not in content


def test_no_trace_is_left_in_the_tables_of_a_server(postgresql_place, postgresql_server, open_record):
    store = open_record(postgresql_place)
    new_job(store, LOG)
    new_job(store, OTHER)
    forget_customer(store, "Zephyrine Quill")
    with store.engine.connect() as connection:
        connection.execution_options(isolation_level="AUTOCOMMIT").exec_driver_sql("CHECKPOINT")
        base = connection.exec_driver_sql(
            "SELECT oid FROM pg_database WHERE datname = current_database()"
        ).scalar()
    files = subprocess.run(
        ["grep", "-ril", "zephyrine", postgresql_server / "data" / "base" / str(base)],
        capture_output=True,
        text=True,
    )
    assert files.stdout == ""


def test_a_job_without_a_name_can_be_gone_on_with(two_jobs):
    before = read_job(two_jobs, 1).sequence
    forget_customer(two_jobs, "Zephyrine Quill")
    assert append(two_jobs, 1, Moved(0.5, 0.0), before) == before + 1


@pytest.mark.parametrize("name", ["Nobody Known", "", " ", "Zephyrine"])
def test_a_name_that_no_job_has_changes_nothing(two_jobs, name):
    before = "".join(export_text(two_jobs))
    with pytest.raises(InputError, match="customer"):
        forget_customer(two_jobs, name)
    assert "".join(export_text(two_jobs)) == before


def test_words_from_a_list_stay_whatever_the_customer_is_called(sqlite_store):
    log = (
        Described("job", Job(owner="Square Elliptical")),
        Described("cartridge_in", Cartridge("Oakmoss P1", "moving-magnet")),
        Looked("square", 0.1),
    )
    number = new_job(sqlite_store, log)
    forget_customer(sqlite_store, "Square Elliptical")
    assert read_log(sqlite_store, number)[1:] == log[1:]


def test_a_recording_keeps_its_numbers_and_loses_names(two_jobs):
    heard = Listened(
        "quill.wav",
        band_list='name = "Zephyrine tones"',
        findings=(Finding("balance_db", 0.3, 0.01, ("Quill left", "right"), "from Quill left"),),
        warnings=("Quill left was cut short",),
        curves=(Curve("turn", "Quill left", "left", (("turn_deg", (0.0,)), ("percent", (0.1,)))),),
    )
    append(two_jobs, 1, heard, len(LOG))
    forget_customer(two_jobs, "Zephyrine Quill")
    text = "".join(export_text(two_jobs)).casefold()
    assert "zephyrine" not in text
    assert "quill" not in text
    left = read_log(two_jobs, 1)[-1]
    assert (left.finding("balance_db").value, left.finding("balance_db").sd) == (0.3, 0.01)
    assert left.curves[0].kind == "turn"
    assert left.curves[0].get("percent") == (0.1,)
