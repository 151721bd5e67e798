"""How soon the command line is there: `--help` against importing NumPy, and what `./run` adds when warm.

Run it with `.venv/bin/python benchmarks/start_speed.py`. All figures are medians of starts that take turns,
so that whatever else the machine does falls on each alike.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
MOST_TIMES_NUMPY = 2.5
"""What `--help` may take, in imports of NumPy."""
MOST_ADDED_S = 2.0
"""What `./run` may add before the program starts."""

COMMANDS: dict[str, Sequence[str]] = {
    "python -c 'pass'": (sys.executable, "-c", "pass"),
    "python -c 'import numpy'": (sys.executable, "-c", "import numpy"),
    "groovewright --help": (sys.executable, "-m", "groovewright", "--help"),
    "groovewright --version": (sys.executable, "-m", "groovewright", "--version"),
    "./run --version": (str(ROOT / "run"), "--version"),
}


def seconds(command: Sequence[str]) -> float:
    """Return the time of one start."""
    start = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=ROOT, env=os.environ)
    return time.perf_counter() - start


def medians(starts: int) -> dict[str, float]:
    """Return the median time of each command; the first start of each only warms the machine's caches."""
    for command in COMMANDS.values():
        seconds(command)
    times = [[seconds(command) for command in COMMANDS.values()] for _ in range(starts)]
    return dict(zip(COMMANDS, np.median(times, axis=0).tolist(), strict=True))


def main() -> None:
    """Print the table; the exit code is 1 where a limit is missed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--starts", type=int, default=20, help="starts of each command (default 20)")
    starts = parser.parse_args().starts
    if starts < 1:
        parser.error("--starts is at least 1")
    found = medians(starts)
    numpy_s, help_s = found["python -c 'import numpy'"], found["groovewright --help"]
    added_s = found["./run --version"] - found["groovewright --version"]
    print(f"median of {starts} starts")
    for name, each_s in found.items():
        print(f"  {name:<26} {each_s * 1e3:7.0f} ms {each_s / numpy_s:7.2f} times import numpy")
    print(f"--help: {help_s / numpy_s:.2f} times import numpy, at most {MOST_TIMES_NUMPY:g} wanted")
    print(
        f"./run adds {added_s * 1e3:.0f} ms before the program starts, at most {MOST_ADDED_S * 1e3:g} wanted"
    )
    sys.exit(help_s > MOST_TIMES_NUMPY * numpy_s or added_s > MOST_ADDED_S)


if __name__ == "__main__":
    main()
