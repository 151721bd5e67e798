"""`groovewright serve`, and what ./run does without a terminal."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

RUN = Path(__file__).parents[2] / "run"


def test_an_address_that_is_open_to_others_needs_lan(run):
    code, _, said = run("serve", "--host", "0.0.0.0")
    assert code == 2
    assert "add --lan" in said


def test_a_folder_of_recordings_has_to_be_one(run, here):
    code, _, said = run("serve", "--recordings", "nowhere", "--database", "records.sqlite3")
    assert code == 2
    assert "--recordings nowhere is not a folder" in said
    assert not list(here.iterdir())


def test_a_port_that_is_taken_is_named(run, here):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        code, _, said = run("serve", "--port", str(port), "--database", "records.sqlite3")
    assert code == 1
    assert f"port {port}" in said
    assert not list(here.iterdir()), "nothing is made before it can be served"


def test_it_starts_with_the_demo_job_and_logs_as_told(tmp_path):
    for options, logged in (((), True), (("--no-access-log",), False)):
        process = subprocess.Popen(
            [sys.executable, "-u", "-m", "groovewright", "serve", "--port", "0",
             "--database", str(tmp_path / "r.sqlite3"), *options],
            stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert process.stdout is not None
        address = re.search(r"http://127\.0\.0\.1:\d+/", process.stdout.readline())
        assert address
        for _ in range(100):
            try:
                page = urllib.request.urlopen(address[0], timeout=10).read().decode()
                break
            except OSError:
                time.sleep(0.1)
        process.send_signal(signal.SIGINT)
        said = process.communicate(timeout=20)[0]
        assert "New cartridge for the Fernhill 3" in page
        assert page.count("<li><a href") == 1, "the demo job is put there once"
        assert ("GET / 200" in said) == logged


def test_without_a_terminal_run_prints_the_plan_and_how_to_start_the_page(tmp_path):
    done = subprocess.run(
        [RUN], cwd=tmp_path, capture_output=True, text=True, timeout=120, check=False,
        env={**os.environ, "LC_ALL": "C.UTF-8"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "Next, square" in done.stdout
    assert done.stdout.rstrip().endswith("./run serve")
