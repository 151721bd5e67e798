"""A bench killed while it writes: what was acknowledged is there. The benchmark does this 200 times."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

KILLS = os.environ.get("GROOVEWRIGHT_KILLS", "25")
PAGE_KILLS = os.environ.get("GROOVEWRIGHT_KILLS", "12")
SCRIPT = Path(__file__).parents[2] / "benchmarks" / "store_kill.py"


def killed(*options):
    """Run the benchmark; return its exit code and what it saw."""
    done = subprocess.run([sys.executable, SCRIPT, *options], capture_output=True, text=True)
    return done.returncode, json.loads(done.stdout or "{}"), done.stderr


def test_after_every_kill_each_acknowledged_event_is_there_and_no_other():
    code, seen, said = killed("--kills", KILLS, "--seed", "7")
    assert code == 0, (seen, said)
    assert seen["kills"] == int(KILLS)
    assert seen["faults"] == []
    assert seen["events_acknowledged"] > int(KILLS)


def test_after_every_kill_of_the_page_each_event_that_it_called_saved_is_there_and_no_other():
    code, seen, said = killed("--kills", PAGE_KILLS, "--seed", "7", "--through-page")
    assert code == 0, (seen, said)
    assert seen["faults"] == []
    assert seen["events_acknowledged"] > int(PAGE_KILLS)
