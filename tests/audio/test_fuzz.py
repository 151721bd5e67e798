"""Files cut off, with bits turned, headers that lie, stretches torn out: in a process of its own, since a crash of
the decoder would take the tests with it. Seeds are fixed; benchmarks/listen_fuzz.py runs as many as asked for.
"""

import subprocess
import sys
from pathlib import Path

SCRIPT = Path(__file__).parents[2] / "benchmarks" / "listen_fuzz.py"


def test_no_damage_crashes_the_reader_or_breaks_its_promises():
    done = subprocess.run(
        [sys.executable, "-W", "error", str(SCRIPT), "1000", "7"], capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stderr[-3000:]
    counts = {
        words: int(count) for count, words in (line.split(maxsplit=1) for line in done.stdout.splitlines())
    }
    assert counts["refused"] + counts["read to its end"] + counts["read up to the damage, and told"] == 1000
    assert min(counts.values()) >= 20
