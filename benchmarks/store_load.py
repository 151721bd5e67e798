"""Twenty benches at once on fifty shared jobs: is any event lost, and how long does a bench wait?

Run::

    .venv/bin/python benchmarks/store_load.py --seconds 60

Every bench reads a job or adds an event to it, over and over, at once again (or after `--pause-ms`). Every
event carries a number of its own. An event that meets a conflict is done again after a look at what changed;
the time of a write includes that. At the end the record is read and compared with what was acknowledged.
"""

from __future__ import annotations

import argparse
import os
import random
import tempfile
import threading
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from groovewright.job import Described, Moved
from groovewright.job.records import Deck
from groovewright.store import ConflictError, Store, append, new_job, open_store, read_job
from groovewright.store.log import read_since


@dataclass
class Bench:
    """What one bench did: milliseconds of each read and write, events acknowledged, conflicts met."""

    number: int
    reads_ms: list[float] = field(default_factory=list)
    writes_ms: list[float] = field(default_factory=list)
    acknowledged: list[tuple[int, float]] = field(default_factory=list)
    conflicts: int = 0


def work(
    store: Store, bench: Bench, jobs: list[int], seconds: float, pause_ms: float, start: threading.Barrier
) -> None:
    """Read and write until the time is over."""
    chance = random.Random(bench.number)
    known = dict.fromkeys(jobs, 0)
    start.wait()
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        job = chance.choice(jobs)
        begun = time.perf_counter()
        if chance.random() < 0.5:
            known[job] = read_job(store, job).sequence
            bench.reads_ms.append((time.perf_counter() - begun) * 1e3)
        else:
            mark = bench.number * 1e6 + len(bench.acknowledged)
            known[job] = add(store, bench, job, Moved(mark, 0.0), known[job])
            bench.acknowledged.append((job, mark))
            bench.writes_ms.append((time.perf_counter() - begun) * 1e3)
        time.sleep(pause_ms * 2e-3 * chance.random())


def add(store: Store, bench: Bench, job: int, event: Moved, expected: int) -> int:
    """Add an event, looking at what changed as often as need be."""
    while True:
        try:
            return append(store, job, event, expected or read_since_start(store, job))
        except ConflictError as conflict:
            bench.conflicts += 1
            expected = conflict.last_sequence


def read_since_start(store: Store, job: int) -> int:
    """Return the last sequence number of a job that this bench has not looked at yet."""
    return read_since(store, job, 0)[-1].sequence


def lost_and_strange(store: Store, jobs: list[int], benches: list[Bench]) -> tuple[int, int]:
    """Return how many acknowledged events are not in the record, and how many are that nobody wrote."""
    kept: Counter[tuple[int, float]] = Counter()
    for number in jobs:
        job = read_job(store, number)
        if [entry.sequence for entry in job.events] != list(range(1, job.sequence + 1)):
            raise SystemExit(f"job {number}: the sequence numbers have gaps")
        kept.update((number, entry.event.slide_mm) for entry in job.events if isinstance(entry.event, Moved))
    wrote = Counter(pair for bench in benches for pair in bench.acknowledged)
    return sum((wrote - kept).values()), sum((kept - wrote).values())


def run(place: str, *, benches: int, jobs: int, seconds: float, pause_ms: float) -> None:
    """Run the load and print the table."""
    store = open_store(place)
    numbers = [new_job(store, [Described("deck", Deck(name=f"Fernhill {n}"))]) for n in range(jobs)]
    workers = [Bench(number + 1) for number in range(benches)]
    start = threading.Barrier(benches)
    with ThreadPoolExecutor(benches) as pool:
        for done in [pool.submit(work, store, bench, numbers, seconds, pause_ms, start) for bench in workers]:
            done.result()
    lost, strange = lost_and_strange(store, numbers, workers)
    print(f"{benches} benches, {jobs} jobs, {seconds:g} s, pause {pause_ms:g} ms on average")
    print(f"processors {os.cpu_count()}, load of the machine over the last minute {os.getloadavg()[0]:.1f}")
    print(f"{'':10}{'number':>10}{'median':>12}{'95 %':>12}{'99 %':>12}{'longest':>12}")
    for name, times in (
        ("reads", [ms for bench in workers for ms in bench.reads_ms]),
        ("writes", [ms for bench in workers for ms in bench.writes_ms]),
    ):
        figures = "".join(f"{value:>9.1f} ms" for value in (*np.percentile(times, [50, 95, 99]), max(times)))
        print(f"{name:10}{len(times):>10}{figures}")
    conflicts = sum(bench.conflicts for bench in workers)
    print(f"conflicts shown {conflicts}, events lost {lost}, events that nobody wrote {strange}")
    store.close()


def main() -> None:
    """Read the options and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--benches", type=int, default=20)
    parser.add_argument("--jobs", type=int, default=50)
    parser.add_argument("--pause-ms", type=float, default=0.0)
    parser.add_argument("--database", default=None, help="default: a new SQLite file")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        run(
            options.database or str(Path(folder) / "records.sqlite3"),
            benches=options.benches,
            jobs=options.jobs,
            seconds=options.seconds,
            pause_ms=options.pause_ms,
        )


if __name__ == "__main__":
    main()
