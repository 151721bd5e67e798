"""A bench killed (signal 9) at random moments while it writes: is every acknowledged event there, no other?

Run::

    .venv/bin/python benchmarks/store_kill.py --kills 200

Each time a new process opens the record (the first ones have to make it), begins jobs and adds events as fast
as it can, and says so after each one through a pipe. It is killed after a random time, from before the record
is made to well into the writing. Then the record is opened anew and compared with what was acknowledged. The
one event whose answer was still under way when the process died may be there or not: it must be whole, and
there may be only that one.

With `--through-page` it is `groovewright serve` that is killed, while a client sends it events over HTTP.
"""

from __future__ import annotations

import argparse
import contextlib
import http.client
import json
import os
import random
import select
import signal
import sqlite3
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import through_page
from groovewright.job import Described, Event, Looked, Moved, Undone, to_plain
from groovewright.job.records import Cartridge, Deck, Job
from groovewright.quantities import BenchError
from groovewright.store import append, new_job, open_store, read_job

EVENTS_A_JOB = 7


def event_at(mark: int, sequence: int) -> Event:
    """Return the event with a sequence number in a job that carries a mark, so that any mix-up shows."""
    kinds: list[Event] = [
        Described("job", Job(title=f"Job {mark}", owner="A. Sample")),
        Described("deck", Deck(name=f"Fernhill {mark}")),
        Looked(outer=0.1, inner=mark % 5 - 2.0),
        Moved(slide_mm=mark * 1e-5, turn_deg=float(sequence)),
        Described("cartridge_in", Cartridge(name=f"Brightwater {mark}")),
        Undone(),
        Looked(outer="square", inner=None, reading_sd_deg=0.3),
    ]
    return kinds[(sequence - 1) % len(kinds)]


def write_until_killed(place: str, first_mark: int, told: int) -> None:
    """Begin jobs and add events for ever; after each say its job, mark and sequence number."""
    store = open_store(place)
    mark = first_mark
    while True:
        job = new_job(store, [event_at(mark, 1)])
        os.write(told, b"%d %d 1\n" % (job, mark))
        for sequence in range(2, EVENTS_A_JOB + 1):
            append(store, job, event_at(mark, sequence), sequence - 1)
            os.write(told, b"%d %d %d\n" % (job, mark, sequence))
        mark += 1


def killed_after(place: str, first_mark: int, chance: random.Random) -> dict[int, tuple[int, int]]:
    """Let a process write, kill it; return mark and number of acknowledged events of each job."""
    told, tells = os.pipe()
    process = os.fork()
    if process == 0:
        os.close(told)
        with contextlib.suppress(BaseException):
            write_until_killed(place, first_mark, tells)
        os._exit(3)
    os.close(tells)
    if chance.random() < 0.9:
        select.select([told], [], [], 30.0)  # until it writes; else it is killed while it opens
    time.sleep(chance.uniform(0.0, 0.12))
    os.kill(process, signal.SIGKILL)
    _, status = os.waitpid(process, 0)
    if not os.WIFSIGNALED(status):
        raise SystemExit("the bench ended by itself before it was killed")
    with os.fdopen(told, "rb") as pipe:
        lines = [tuple(int(part) for part in line.split()) for line in pipe.read().splitlines()]
    acknowledged: dict[int, tuple[int, int]] = {}
    for job, mark, sequence in lines:
        acknowledged[job] = (mark, sequence)
    return acknowledged


def page_killed_after(place: str, first_mark: int, chance: random.Random) -> dict[int, tuple[int, int]]:
    """Let a client write through the page, kill the page; return what the page had acknowledged."""
    if not Path(place).exists():  # a job of ours, so that the page adds no demo job
        store = open_store(place)
        first = new_job(store, [event_at(first_mark, 1)])
        store.close()
        acknowledged = {first: (first_mark, 1)}
    else:
        acknowledged = {}
    server = through_page.start(place)
    writes, killed = threading.Event(), threading.Event()
    bench = threading.Thread(
        target=send_until_killed, args=(server.port, first_mark + 1, acknowledged, writes, killed)
    )
    bench.start()
    if chance.random() < 0.9:
        writes.wait(30.0)
    time.sleep(chance.uniform(0.0, 0.25))
    runs = server.runs()
    if runs:
        server.kill()
    killed.set()
    bench.join()
    if not runs:
        raise SystemExit("the page ended by itself before it was killed")
    return acknowledged


def send_until_killed(
    port: int,
    first_mark: int,
    acknowledged: dict[int, tuple[int, int]],
    writes: threading.Event,
    killed: threading.Event,
) -> None:
    """Begin jobs and send events until nobody answers any more; note what was acknowledged."""
    client = through_page.Client(port)
    while not killed.is_set():
        try:
            client.enter()
            break
        except (OSError, http.client.HTTPException):
            client.connection.close()
            time.sleep(0.02)
    else:
        return
    mark = first_mark
    with contextlib.suppress(OSError, http.client.HTTPException):
        while True:
            status, said = client.post("/api/jobs", {"events": [to_plain(event_at(mark, 1))]})
            if status != 201:
                raise SystemExit(f"the page answered {status}: {said}")
            job = int(said["number"])
            acknowledged[job] = (mark, 1)
            writes.set()
            for sequence in range(2, EVENTS_A_JOB + 1):
                body = {"event": to_plain(event_at(mark, sequence)), "expected_sequence": sequence - 1}
                status, said = client.post(f"/api/jobs/{job}/events", body)
                if status != 201:
                    raise SystemExit(f"the page answered {status}: {said}")
                acknowledged[job] = (mark, sequence)
            mark += 1


def faults_after(place: str, acknowledged: dict[int, tuple[int, int]]) -> Iterator[str]:
    """Yield what is wrong with the record after a kill; nothing where all is as it was acknowledged."""
    store = open_store(place)
    try:
        with store.reading() as connection:
            rows = connection.exec_driver_sql("SELECT number, last_sequence FROM job").all()
        kept = {int(number): int(last) for number, last in rows}
        under_way = 0
        for job, (mark, count) in acknowledged.items():
            if job not in kept:
                yield f"job {job} was acknowledged and is gone"
                continue
            read = read_job(store, job)
            under_way += len(read.events) - count
            if len(read.events) < count or kept[job] != len(read.events):
                yield f"job {job}: {count} events acknowledged, {len(read.events)} there"
            wanted = tuple(event_at(mark, place) for place in range(1, len(read.events) + 1))
            if read.log != wanted:
                yield f"job {job}: an event is not the one that was written"
        for job in kept.keys() - acknowledged.keys():
            under_way += len(read_job(store, job).events)
            acknowledged[job] = (int(read_job(store, job).header.title.split()[1]), 1)
        if under_way > 1:
            yield f"{under_way} events are there that nobody acknowledged"
    except BenchError as error:
        yield str(error)
    finally:
        store.close()
    with contextlib.closing(sqlite3.connect(place)) as raw:
        answer = raw.execute("PRAGMA integrity_check").fetchall()
    if answer != [("ok",)]:
        yield f"integrity check: {answer[:3]}"


def run(kills: int, seed: int, folder: Path, *, through: bool = False) -> dict[str, object]:
    """Kill so many times, on a new record every tenth time; return what was seen."""
    kill_one: Callable[[str, int, random.Random], dict[int, tuple[int, int]]]
    kill_one = page_killed_after if through else killed_after
    chance = random.Random(seed)
    faults: list[str] = []
    events = 0
    acknowledged: dict[int, tuple[int, int]] = {}
    place = ""
    for kill in range(kills):
        if kill % 10 == 0:
            place, acknowledged = str(folder / f"records-{kill}.sqlite3"), {}
        now = kill_one(place, 1 + kill * 1000, chance)
        events += sum(count for _, count in now.values())
        acknowledged.update(now)
        faults += [f"after kill {kill + 1}: {fault}" for fault in faults_after(place, acknowledged)]
        # from here on what was under way and got there counts like the rest
        store = open_store(place)
        acknowledged = {job: (mark, read_job(store, job).sequence) for job, (mark, _) in acknowledged.items()}
        store.close()
    return {"kills": kills, "events_acknowledged": events, "faults": faults}


def main() -> None:
    """Read the options and run; exit code 1 where anything was wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--through-page", action="store_true", help="kill `groovewright serve`")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        seen = run(options.kills, options.seed, Path(folder), through=options.through_page)
    print(json.dumps(seen, indent=2))
    sys.exit(1 if seen["faults"] else 0)


if __name__ == "__main__":
    main()
