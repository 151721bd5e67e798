"""A backup is whole and checked or not there; a restore replaces everything or nothing, and never by surprise."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing

import pytest

from groovewright.job import Described, Moved
from groovewright.job.records import Deck
from groovewright.quantities import CannotBeDoneError, InputError
from groovewright.store import append, back_up, export_text, list_jobs, new_job, read_log, restore
from groovewright.store.tables import VERSION_TABLE


def filled(store, jobs=3):
    for number in range(jobs):
        new_job(store, [Described("deck", Deck(f"Fernhill {number}"))])
    return "".join(export_text(store))


def test_a_backup_holds_everything_in_one_file(sqlite_store, tmp_path, open_record):
    text = filled(sqlite_store)
    target = tmp_path / "backup.sqlite3"
    assert back_up(sqlite_store, target) == 3
    assert sorted(path.name for path in tmp_path.glob("backup*")) == ["backup.sqlite3"]
    assert target.stat().st_mode & 0o077 == 0
    assert "".join(export_text(open_record(str(target)))) == text


def test_a_backup_while_benches_write_is_one_moment_of_the_record(sqlite_store, tmp_path, open_record):
    filled(sqlite_store, 1)
    going_on, failures = threading.Event(), []

    def work():
        try:
            for step in range(1, 400):
                append(sqlite_store, 1, Moved(float(step), 0.0), step)
                if going_on.is_set():
                    return
        except BaseException as error:
            failures.append(error)

    bench = threading.Thread(target=work)
    bench.start()
    for number in range(5):
        back_up(sqlite_store, tmp_path / f"backup-{number}.sqlite3")
    going_on.set()
    bench.join()
    assert failures == []
    whole = read_log(sqlite_store, 1)
    lengths = []
    for number in range(5):
        log = read_log(open_record(str(tmp_path / f"backup-{number}.sqlite3")), 1)
        assert log == whole[: len(log)]
        lengths.append(len(log))
    assert lengths == sorted(lengths)


def test_a_backup_replaces_a_file_only_when_told_to(sqlite_store, sqlite_place, tmp_path):
    filled(sqlite_store)
    target = tmp_path / "letter.txt"
    target.write_text("Dear customer")
    with pytest.raises(InputError, match="exists and was left as it is; add --force"):
        back_up(sqlite_store, target)
    assert target.read_text() == "Dear customer"
    assert back_up(sqlite_store, target, force=True) == 3
    from pathlib import Path

    with pytest.raises(InputError, match="is the record itself"):
        back_up(sqlite_store, Path(sqlite_place), force=True)
    with pytest.raises(InputError, match="can't be written: No such file"):
        back_up(sqlite_store, tmp_path / "nowhere" / "backup.sqlite3")


def test_a_restore_brings_back_exactly_what_was_backed_up(sqlite_store, tmp_path, open_record):
    text = filled(sqlite_store)
    back_up(sqlite_store, tmp_path / "backup.sqlite3")
    other = open_record(str(tmp_path / "other.sqlite3"))
    assert restore(other, tmp_path / "backup.sqlite3") == (3, None)
    assert "".join(export_text(other)) == text
    assert append(other, 1, Moved(1.0, 0.0), 1) == 2


def test_a_restore_over_jobs_needs_to_be_told_and_keeps_them(sqlite_store, tmp_path, open_record):
    filled(sqlite_store, 1)
    back_up(sqlite_store, tmp_path / "backup.sqlite3")
    filled(sqlite_store, 2)
    with pytest.raises(InputError, match="holds 3 jobs and was left as it is; add --force"):
        restore(sqlite_store, tmp_path / "backup.sqlite3")
    assert list_jobs(sqlite_store).total == 3
    jobs, aside = restore(sqlite_store, tmp_path / "backup.sqlite3", force=True)
    assert (jobs, list_jobs(sqlite_store).total) == (1, 1)
    assert list_jobs(open_record(str(aside))).total == 3


def damaged(file):
    content = bytearray(file.read_bytes())
    for start in range(4096, len(content), 4096):
        content[start : start + 200] = b"\xaa" * 200
    file.write_bytes(content)


def newer(file):
    with closing(sqlite3.connect(file)) as raw:
        raw.execute(f"UPDATE {VERSION_TABLE} SET version_num = '9999'")
        raw.commit()


def orphaned(file):
    with closing(sqlite3.connect(file)) as raw:
        raw.execute("UPDATE event SET job_number = 77 WHERE job_number = 1")
        raw.commit()


@pytest.mark.parametrize(
    ("harm", "error", "fault"),
    [
        (damaged, CannotBeDoneError, "damaged|malformed"),
        (newer, CannotBeDoneError, "newer groovewright"),
        (orphaned, CannotBeDoneError, "a row of event without its job"),
        (lambda file: file.write_bytes(file.read_bytes()[:5000]), CannotBeDoneError, "damaged|malformed"),
        (lambda file: file.write_text("a letter " * 100), CannotBeDoneError, "not a database"),
        (lambda file: file.write_bytes(b""), InputError, "no record of groovewright"),
        (lambda file: file.unlink(), InputError, "is not there"),
    ],
)
def test_a_backup_that_is_not_right_is_not_put_in_place(sqlite_store, tmp_path, harm, error, fault):
    text = filled(sqlite_store)
    backup = tmp_path / "backup.sqlite3"
    back_up(sqlite_store, backup)
    harm(backup)
    with pytest.raises(error, match=fault):
        restore(sqlite_store, backup, force=True)
    assert "".join(export_text(sqlite_store)) == text


def test_a_server_has_its_own_tools(postgresql_place, open_record, tmp_path):
    store = open_record(postgresql_place)
    for ask in (lambda: back_up(store, tmp_path / "x"), lambda: restore(store, tmp_path / "x")):
        with pytest.raises(CannotBeDoneError, match="pg_dump"):
            ask()
