"""`groovewright serve --lan` as other devices meet it, in a network namespace of its own.

It has a loopback device only, so that nothing leaves this machine, with addresses that are not loopback ones.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ADDRESSES = ("192.0.2.1", "192.0.2.7", "192.0.2.8", "192.0.2.9")
SETUP = 'ip link set lo up && for a in {}; do ip addr add $a/32 dev lo || exit 77; done && exec "$@"'


def test_other_devices_come_in_with_the_code_and_by_no_other_way(tmp_path: Path) -> None:
    if os.geteuid() != 0 or not shutil.which("unshare") or not shutil.which("ip"):
        pytest.skip("a network of its own takes root, unshare (util-linux) and ip (iproute2)")
    script = str(Path(__file__).with_name("lan_walk.py"))
    walk = [sys.executable, script, str(tmp_path / "records.sqlite3")]
    done = subprocess.run(
        ["unshare", "-n", "sh", "-c", SETUP.format(" ".join(ADDRESSES)), "sh", *walk],
        capture_output=True, text=True, timeout=240,
    )  # fmt: skip
    if "Operation not permitted" in done.stderr or done.returncode == 77:
        pytest.skip("this machine gives no network of its own")
    assert done.stdout.strip() == "walked", done.stdout + done.stderr
