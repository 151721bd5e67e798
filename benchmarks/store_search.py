"""A hundred thousand jobs in the record: how long do a search, a page of the list and a suggestion take?

Run::

    .venv/bin/python benchmarks/store_search.py --jobs 100000

The jobs are invented: 30,000 customers, 400 decks, 300 arms and 500 cartridges, some far more common than others.
Their rows are those of every job, written many in one transaction. Each question is asked `--rounds` times;
the table shows the median and the longest.
"""

from __future__ import annotations

import argparse
import os
import random
import tempfile
import time
import uuid
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path

import numpy as np
from sqlalchemy import Table, insert

from groovewright.job import Described
from groovewright.job.records import Arm, Cartridge, Deck, Job
from groovewright.store import Page, Store, list_jobs, open_store, remembered, search, suggest
from groovewright.store.header import Header, header_names, header_of, header_words
from groovewright.store.plain import EVENT_VERSION, body_of
from groovewright.store.tables import event as event_table
from groovewright.store.tables import job as job_table
from groovewright.store.tables import job_word, seen

FIRST = (
    "Ada",
    "Bruno",
    "Clara",
    "Dmitri",
    "Edith",
    "Farid",
    "Greta",
    "Hugo",
    "Ines",
    "Jonas",
    "Łucja",
    "Mei",
)
WOODS = (
    "Fernhill",
    "Alder",
    "Juniper",
    "Oakmoss",
    "Brightwater",
    "Willow",
    "Hazel",
    "Rowan",
    "Larch",
    "Sorrel",
)
AT_ONCE = 2000


def common(chance: random.Random, many: int) -> int:
    """Return a number below `many`, small ones far more often."""
    return int(many * chance.random() ** 3)


def invented(chance: random.Random, number: int) -> tuple[Described, ...]:
    """Return the events of one invented job."""
    customer, deck, arm = common(chance, 30_000), common(chance, 400), common(chance, 300)
    out, going_in = common(chance, 500), common(chance, 500)
    return (
        Described(
            "job", Job(f"Job of day {number // 40}", owner=f"{FIRST[customer % 12]} Sample{customer:05d}")
        ),
        Described("deck", Deck(f"{WOODS[deck % 10]} {deck}")),
        Described("arm", Arm(f"{WOODS[arm % 10]} F{arm}", pivot_to_spindle_mm=222.0)),
        Described("cartridge_out", Cartridge(f"{WOODS[out % 10]} P{out}")),
        Described("cartridge_in", Cartridge(f"{WOODS[going_in % 10]} P{going_in}", stylus="elliptical")),
    )


def fill(store: Store, jobs: int) -> None:
    """Write so many invented jobs: the rows that `new_job` writes, many at once."""
    chance = random.Random(1)
    names: dict[tuple[str, str], list[object]] = {}
    for start in range(0, jobs, AT_ONCE):
        rows: dict[Table, list[dict[str, object]]] = {job_table: [], event_table: [], job_word: []}
        for number in range(start + 1, min(start + AT_ONCE, jobs) + 1):
            log, now = invented(chance, number), store.time()
            header = header_of(log)
            rows[job_table].append(job_row(number, now, len(log), header))
            rows[event_table] += [event_row(number, place, now, event) for place, event in enumerate(log, 1)]
            rows[job_word] += [{"word": word, "job_number": number} for word in sorted(header_words(header))]
            for key, name in header_names(header).items():
                entry = names.setdefault(key, [name, 0, 0])
                entry[1:] = [int(str(entry[1])) + 1, number]
        with store.writing() as connection:
            for table, values in rows.items():
                connection.execute(insert(table), values)
    with store.writing() as connection:
        seen_rows = [
            {"kind": kind, "folded": folded, "name": name, "jobs": count, "last_job": last}
            for (kind, folded), (name, count, last) in names.items()
        ]
        connection.execute(insert(seen), seen_rows)


def job_row(number: int, now: str, count: int, header: Header) -> dict[str, object]:
    """Return the row of a job."""
    return {
        "number": number,
        "uid": uuid.uuid4().hex,
        "created": now,
        "changed": now,
        "last_sequence": count,
        **asdict(header),
    }


def event_row(number: int, place: int, now: str, event: Described) -> dict[str, object]:
    """Return the row of an event."""
    return {
        "job_number": number,
        "sequence": place,
        "at": now,
        "bench": "",
        "version": EVENT_VERSION,
        "body": body_of(event),
    }


def questions(store: Store, jobs: int) -> dict[str, Callable[[], object]]:
    """Return what is asked, from the usual to the worst."""
    last_page = max(1, jobs // 20)

    def found(text: str, page: int = 1) -> Callable[[], Page]:
        return lambda: search(store, text, page)

    return {
        "list, first page": lambda: list_jobs(store, 1),
        "list, last page": lambda: list_jobs(store, last_page),
        "one customer: sample00042": found("sample00042"),
        "one cartridge: p17": found("p17"),
        "one deck: 'fernhill 120'": found("fernhill 120"),
        "two names: 'clara brightwater'": found("clara brightwater"),
        "three names: 'clara alder p33'": found("clara alder p33"),
        "in every job: sample": found("sample"),
        "the same, page 200": found("sample", 200),
        "one letter: f": found("f"),
        "two letters apart: 'a b'": found("a b"),
        "common, never together: 'ada bruno'": found("ada bruno"),
        "no such word": found("quince"),
        "suggest a deck: fern": lambda: suggest(store, "deck", "fern"),
        "suggest a customer: sam": lambda: suggest(store, "customer", "sam"),
        "suggest a customer: sample12": lambda: suggest(store, "customer", "sample12"),
        "what was an arm: Alder F1": lambda: remembered(store, "arm", "Alder F1"),
    }


def run(place: str, jobs: int, rounds: int) -> None:
    """Fill the record and print the table."""
    store = open_store(place)
    begun = time.perf_counter()
    fill(store, jobs)
    if store.file is not None:
        size = f", {store.file.stat().st_size / 1e6:.0f} MB"
    else:
        size = ""
        with store.engine.connect() as connection:
            connection.execution_options(isolation_level="AUTOCOMMIT").exec_driver_sql("ANALYZE")
    print(f"{jobs:,} jobs written in {time.perf_counter() - begun:.0f} s{size}")
    print(f"processors {os.cpu_count()}, load of the machine over the last minute {os.getloadavg()[0]:.1f}")
    print(f"{'':42}{'median':>12}{'longest':>12}")
    for name, ask in questions(store, jobs).items():
        times = []
        for _ in range(rounds):
            begun = time.perf_counter()
            ask()
            times.append((time.perf_counter() - begun) * 1e3)
        print(f"{name:42}{np.median(times):>9.1f} ms{max(times):>9.1f} ms")
    store.close()


def main() -> None:
    """Read the options and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=100_000)
    parser.add_argument("--rounds", type=int, default=15)
    parser.add_argument("--database", default=None, help="default: a new SQLite file")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        run(options.database or str(Path(folder) / "records.sqlite3"), options.jobs, options.rounds)


if __name__ == "__main__":
    main()
