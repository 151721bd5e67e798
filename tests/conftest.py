"""What holds for every test: no test may touch the person's own record; and a PostgreSQL server for those that ask."""

import os
import pwd
import shutil
import subprocess
import tempfile
from pathlib import Path

import platformdirs
import psycopg
import pytest


@pytest.fixture(autouse=True)
def own_data_folder(tmp_path, monkeypatch):
    """Keep the user's data directory inside the test's own folder."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setattr(platformdirs, "user_data_path", lambda *_, **__: tmp_path / "data" / "groovewright")


INSTALL = "to test with PostgreSQL too: sudo apt install postgresql"


def server_programs():
    """Return the folder of PostgreSQL's server programs, or None."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    on_path = shutil.which("initdb")
    return found[-1].parent if found else Path(on_path).parent if on_path else None


def server_user():
    """Return who runs the server, as arguments for subprocess: initdb refuses root."""
    if os.geteuid() != 0:
        return {}
    try:
        entry = pwd.getpwnam("postgres")
    except KeyError:
        pytest.skip(f"there is no user 'postgres' to run the server; {INSTALL}")
    return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}


@pytest.fixture(scope="session")
def postgresql_server():
    """Start a throw-away server that listens on a socket in its own folder only; yield the folder."""
    programs = server_programs()
    if programs is None:
        pytest.skip(f"PostgreSQL's server is not installed; {INSTALL}")
    who = server_user()
    folder = Path(tempfile.mkdtemp(prefix="gw-pg-"))
    try:
        if who:
            os.chown(folder, who["user"], who["group"])
        data = str(folder / "data")
        quiet = {"check": True, "capture_output": True, "cwd": folder, **who}
        subprocess.run(
            [programs / "initdb", "-D", data, "-U", "bench", "-A", "trust", "--no-sync", "-E", "UTF8"],
            **quiet,
        )
        options = f"-k {folder} -c listen_addresses='' -c fsync=off -c max_connections=60"
        log = str(folder / "log")
        subprocess.run(
            [programs / "pg_ctl", "-D", data, "-w", "-l", log, "-o", options, "start"], timeout=60, **quiet
        )
        yield folder
        subprocess.run(
            [programs / "pg_ctl", "-D", data, "-w", "-m", "immediate", "stop"], timeout=60, **quiet
        )
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def postgresql_place(postgresql_server, request):
    """Return the URL of a new, empty database."""
    name = f"record_{os.getpid()}_{abs(hash(request.node.nodeid))}"
    with psycopg.connect(
        host=str(postgresql_server), user="bench", dbname="postgres", autocommit=True
    ) as raw:
        raw.execute(f"CREATE DATABASE {name}")
    return f"postgresql://bench@/{name}?host={postgresql_server}"
