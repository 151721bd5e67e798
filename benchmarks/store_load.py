"""Twenty benches at once on fifty shared jobs: is any event lost, and how long does a bench wait?

Run::

    .venv/bin/python benchmarks/store_load.py --seconds 60

Every bench reads a job or adds an event to it, over and over, at once again (or after `--pause-ms`). Every
event carries a number of its own. An event that meets a conflict is done again after a look at what changed;
the time of a write includes that. At the end the record is read and compared with what was acknowledged.

With `--through-page` the benches are clients in two processes of their own, and the record is kept by
`groovewright serve` in another: they read the job or ask what is new, as an open page does, and send events.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import tempfile
import threading
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

import through_page
from groovewright.job import Described, Moved, to_plain
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


def marked(bench: Bench) -> float:
    """Return a slide in mm that no other event carries."""
    return (bench.number * 1e6 + len(bench.acknowledged)) * 1e-7


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
            mark = marked(bench)
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


def work_through_page(port: int, number: int, jobs: list[int], seconds: float, pause_ms: float) -> Bench:
    """Read and write over HTTP until the time is over."""
    chance, bench = random.Random(number), Bench(number)
    client = through_page.Client(port)
    client.enter()
    known = dict.fromkeys(jobs, 1)
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        job = chance.choice(jobs)
        begun = time.perf_counter()
        if chance.random() < 0.5:
            asked = (
                f"/api/jobs/{job}" if chance.random() < 0.5 else f"/jobs/{job}/sequence?after={known[job]}"
            )
            known[job] = json.loads(client.get(asked)[1])["sequence"]
            bench.reads_ms.append((time.perf_counter() - begun) * 1e3)
        else:
            mark = marked(bench)
            known[job] = send(client, bench, job, mark, known[job])
            bench.acknowledged.append((job, mark))
            bench.writes_ms.append((time.perf_counter() - begun) * 1e3)
        time.sleep(pause_ms * 2e-3 * chance.random())
    return bench


def send(client: through_page.Client, bench: Bench, job: int, mark: float, expected: int) -> int:
    """Send an event, looking at what changed as often as need be."""
    event = to_plain(Moved(mark, 0.0))
    while True:
        status, said = client.post(f"/api/jobs/{job}/events", {"event": event, "expected_sequence": expected})
        if status == 201:
            return int(said["sequence"])
        if status != 409:
            raise SystemExit(f"the page answered {status}: {said}")
        bench.conflicts += 1
        expected = int(said["error"]["last_sequence"])


def several(port: int, numbers: list[int], jobs: list[int], seconds: float, pause_ms: float) -> list[Bench]:
    """Be several benches in one process."""
    with ThreadPoolExecutor(len(numbers)) as pool:
        tasks = [pool.submit(work_through_page, port, n, jobs, seconds, pause_ms) for n in numbers]
        return [task.result() for task in tasks]


def through_the_page(
    place: str, jobs: list[int], *, benches: int, seconds: float, pause_ms: float
) -> list[Bench]:
    """Start the page on a record and let the benches work from two other processes."""
    server = through_page.start(place)
    try:
        wait_for(server)
        numbers = list(range(1, benches + 1))
        with ProcessPoolExecutor(2) as pool:
            tasks = [
                pool.submit(several, server.port, half, jobs, seconds, pause_ms)
                for half in (numbers[::2], numbers[1::2])
            ]
            return [bench for task in tasks for bench in task.result()]
    finally:
        server.kill()


def wait_for(server: through_page.Server) -> None:
    """Wait until the page answers."""
    for _ in range(200):
        try:
            through_page.Client(server.port).enter()
            return
        except OSError:
            time.sleep(0.05)
    raise SystemExit("the page did not answer")


def in_this_process(
    store: Store, jobs: list[int], *, benches: int, seconds: float, pause_ms: float
) -> list[Bench]:
    """Let the benches work on the record itself, each a thread."""
    workers = [Bench(number + 1) for number in range(benches)]
    start = threading.Barrier(benches)
    with ThreadPoolExecutor(benches) as pool:
        for done in [pool.submit(work, store, bench, jobs, seconds, pause_ms, start) for bench in workers]:
            done.result()
    return workers


def run(
    place: str, *, benches: int, jobs: int, seconds: float, pause_ms: float, through: bool = False
) -> None:
    """Run the load and print the table."""
    store = open_store(place)
    numbers = [new_job(store, [Described("deck", Deck(name=f"Fernhill {n}"))]) for n in range(jobs)]
    if through:
        workers = through_the_page(place, numbers, benches=benches, seconds=seconds, pause_ms=pause_ms)
    else:
        workers = in_this_process(store, numbers, benches=benches, seconds=seconds, pause_ms=pause_ms)
    lost, strange = lost_and_strange(store, numbers, workers)
    way = "through the page" if through else "on the record itself"
    print(f"{benches} benches {way}, {jobs} jobs, {seconds:g} s, pause {pause_ms:g} ms on average")
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
    parser.add_argument("--through-page", action="store_true", help="over HTTP, against `groovewright serve`")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        run(
            options.database or str(Path(folder) / "records.sqlite3"),
            benches=options.benches,
            jobs=options.jobs,
            seconds=options.seconds,
            pause_ms=options.pause_ms,
            through=options.through_page,
        )


if __name__ == "__main__":
    main()
