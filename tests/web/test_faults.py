"""What the page says when the record does not take it: a full disk, a read-only file, a newer version."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from bench_under_test import change, running
from sqlalchemy import event

from groovewright.store import Store, opening, read_log


def test_a_full_disk_is_said_keeps_what_was_typed_and_loses_nothing(store: Store) -> None:
    local = running(store)
    limit = {"pages": 0}

    @event.listens_for(store.engine, "begin")
    def bound(connection) -> None:  # SQLite's own limit stands for the disk: the same error, by the same way
        raw = connection.connection.driver_connection
        pages = limit["pages"] or 2_000_000_000
        raw.execute(f"PRAGMA max_page_count = {pages}")

    client = local.client()
    with store.reading() as connection:
        limit["pages"] = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
    saved = list(read_log(store, 1))
    for attempt in range(60):
        note = f"{attempt} " + "ä" * 490
        answer = change(client, "intake", "describe/found", found__notes=note)
        if answer.status_code != 200:
            break
        saved = list(read_log(store, 1))
    assert answer.status_code == 503
    assert "Not saved" in answer.text
    assert "disk is full" in answer.text
    assert note in answer.text, "what was typed stands in the form"
    assert "Saved, step" not in answer.text
    assert list(read_log(store, 1)) == saved
    assert client.get("/jobs/1/square").status_code == 200
    limit["pages"] = 0  # room was made
    assert change(client, "intake", "describe/found", found__notes=note).status_code == 200
    assert len(read_log(store, 1)) == len(saved) + 1


def test_a_record_that_is_read_only_is_shown_and_every_change_refused(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert store.file is not None
    monkeypatch.setattr(opening, "_writable", lambda _file: False)  # root may write to every file
    shelf = opening.open_store(str(store.file))
    try:
        client = running(shelf).client()
        before = read_log(shelf, 1)
        assert client.get("/").status_code == client.get("/jobs/1/weigh").status_code == 200
        answer = change(client, "weigh", "step/weighed", weighed__force_gf="1.77")
        assert answer.status_code in (422, 503)
        assert "Not saved" in answer.text
        assert "read-only" in answer.text
        assert 'value="1.77"' in answer.text
        assert read_log(shelf, 1) == before
    finally:
        shelf.close()


def test_a_record_of_a_newer_version_is_left_alone_and_the_page_does_not_open(tmp_path: Path) -> None:
    file = tmp_path / "newer.sqlite3"
    opening.open_store(str(file)).close()
    with sqlite3.connect(file) as raw:
        raw.execute("UPDATE record_version SET version_num = '9999'")
    raw.close()
    before = file.read_bytes()
    done = subprocess.run(
        [sys.executable, "-m", "groovewright", "serve", "--port", "0", "--database", str(file)],
        capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert done.returncode != 0
    assert "newer" in done.stderr
    assert "Traceback" not in done.stderr
    assert file.read_bytes() == before
