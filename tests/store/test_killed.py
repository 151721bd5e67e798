"""A bench killed while it writes: what was acknowledged is there. The benchmark does this 200 times."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

KILLS = os.environ.get("GROOVEWRIGHT_KILLS", "25")
SCRIPT = Path(__file__).parents[2] / "benchmarks" / "store_kill.py"


def test_after_every_kill_each_acknowledged_event_is_there_and_no_other():
    done = subprocess.run(
        [sys.executable, SCRIPT, "--kills", KILLS, "--seed", "7"], capture_output=True, text=True
    )
    seen = json.loads(done.stdout or "{}")
    assert done.returncode == 0, (seen, done.stderr)
    assert seen["kills"] == int(KILLS)
    assert seen["faults"] == []
    assert seen["events_acknowledged"] > int(KILLS)
