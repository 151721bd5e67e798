"""The shell part of ./check that makes sure of programs from the operating system."""

from __future__ import annotations

import subprocess
from pathlib import Path

SCRIPT = Path(__file__).parents[2] / "tools" / "system_packages.sh"


def run(script: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["sh", "-euc", f'. "{SCRIPT}"\n{script}'], capture_output=True, text=True, timeout=20, check=False
    )


def test_nothing_is_said_where_every_program_is_there() -> None:
    done = run('system_packages_wanted="sh:dash ls:coreutils"; system_packages')
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_who_may_not_install_is_told_in_one_line_what_to_type() -> None:
    done = run('id() { echo 1000; }; system_packages_wanted="no-such-program:some-package"; system_packages')
    assert (done.returncode, done.stdout) == (0, "")
    assert done.stderr == (
        "groovewright: some tests will be skipped; to run them too: sudo apt install some-package\n"
    )


def test_root_installs_and_goes_on_when_that_fails(tmp_path: Path) -> None:
    fake = tmp_path / "apt-get"
    log = tmp_path / "log"
    start = (
        f'id() {{ echo 0; }}; PATH="{tmp_path}:$PATH"; system_packages_wanted="no-such-program:some-package"'
    )
    for exit_code, said in ((0, ""), (1, "to run them too: sudo apt install some-package")):
        fake.write_text(f'#!/bin/sh\necho "$*" >>"{log}"\nexit {exit_code}\n')
        fake.chmod(0o755)
        log.write_text("")
        done = run(f"{start}; system_packages")
        assert done.returncode == 0
        assert done.stderr.startswith("groovewright: installing for the tests: some-package\n")
        assert done.stderr.count("\n") == (2 if said else 1)
        assert said in done.stderr
        assert log.read_text().startswith("install -q -y --no-install-recommends some-package\n")
