"""How well squaring ends, by hand and by tool: whole simulated benches, judged by the hidden truth.

Run it with `.venv/bin/python benchmarks/squaring_table.py`; `--benches 2000` for the figures in
docs/squaring.md. Every bench starts within 5 mm and 4 degrees of the true optimum, on an arm whose
pivot-to-spindle distance was measured with a standard uncertainty of 0.5 mm. By hand and by tool play the
same benches: the same hidden errors, each with its own misreadings and slips.

The row 'photo' errs as rendered photographs of the flag did (`groovewright.simulate.bench.photo_errors`).
"""

from __future__ import annotations

import argparse
import multiprocessing
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from itertools import repeat

import numpy as np

from groovewright.geometry import align
from groovewright.geometry.headshell import Headshell
from groovewright.quantities import FloatArray
from groovewright.simulate.bench import (
    Game,
    by_eye,
    by_photo,
    photo_errors,
    play_by_hand,
    play_many,
    play_with_tool,
)
from groovewright.squaring import Goal, Hand, Look, Move, Steps, Workpiece, YawReading, advise

PIVOT_TO_SPINDLE_MM = 222.0
SEED = 20_250
CHUNK = 50
"""Benches that a process plays at a time."""


@dataclass(frozen=True)
class Row:
    """One line of the table: how finely it is read, how well hands move, and what is near enough."""

    name: str
    reading_sd_deg: float
    slide_sd_mm: float
    turn_sd_deg: float
    tolerance_deg: float
    photo: bool = False

    def goal(self) -> Goal:
        """Return the row as the estimator takes it."""
        return Goal(self.tolerance_deg, self.reading_sd_deg, Hand(self.slide_sd_mm, self.turn_sd_deg))


ROWS = (
    Row("noise-free", 0.0, 0.0, 0.0, 0.25),
    Row("very fine", 0.05, 0.05, 0.05, 0.1),
    Row("fine", 0.1, 0.1, 0.1, 0.25),
    Row("photo", 0.1, 0.1, 0.1, 0.25, photo=True),
    Row("lens", 0.15, 0.15, 0.2, 0.3),
    Row("lens, wider", 0.2, 0.15, 0.2, 0.5),
    Row("eye", 0.3, 0.15, 0.2, 0.5),
    Row("eye, wider", 0.3, 0.15, 0.2, 1.0),
    Row("poor eye", 0.5, 0.3, 0.3, 1.0),
)


def play_chunk(row: Row, chunk: int, count: int) -> tuple[list[Game], list[Game]]:
    """Return one chunk of games by tool and by hand, on the same benches."""
    aim, goal, seed = align("lofgren-a", PIVOT_TO_SPINDLE_MM), row.goal(), SEED + chunk
    read = by_photo(photo_errors()) if row.photo else by_eye
    return (
        play_many(partial(play_with_tool, read=read), aim, goal, count=count, seed=seed),
        play_many(play_by_hand, aim, goal, count=count, seed=seed),
    )


def play_row(row: Row, benches: int, pool: ProcessPoolExecutor) -> tuple[list[Game], list[Game]]:
    """Return all games of a row by tool and by hand."""
    counts = [CHUNK] * (benches // CHUNK) + ([benches % CHUNK] if benches % CHUNK else [])
    played = list(pool.map(play_chunk, repeat(row), range(len(counts)), counts))
    return [game for tool, _ in played for game in tool], [game for _, hand in played for game in hand]


def high(values: list[int] | list[float], share: float) -> float:
    """Return the quantile that at least this share does not exceed."""
    return float(np.quantile(values, share, method="higher"))


def common(games: list[Game], row: Row) -> str:
    """Return the columns that hand and tool share."""
    moves, looks = [game.moves for game in games], [game.looks for game in games]
    within = np.mean([game.error_deg <= row.tolerance_deg for game in games])
    spans = (f"{high(counts, 0.5):3.0f} {high(counts, 0.95):3.0f}" for counts in (moves, looks))
    worst = high([game.error_deg for game in games], 0.95)
    # digits enough to tell a noise-free error from nothing
    return "   ".join(spans) + f"   {within:6.1%}   {worst:{'6.4f' if worst < 0.01 else '6.2f'}}"


def stated(games: list[Game]) -> str:
    """Return what the tool stated against what was so: of the states called 87 to 93 % sure, and intervals."""
    called: FloatArray = np.array([call for game in games for call in game.called])
    near = np.abs(called[:, 0] - 0.9) <= 0.03
    # less than some fifty states can't tell 87 from 93 %
    share = f"{called[near, 1].mean():6.1%}" if near.sum() >= 50 else "     -"
    covered = np.mean([held for game in games for held in game.covered])
    return f"   {share} ({near.sum():5d})   {covered:6.1%}   {sum(not game.stopped for game in games):4d}"


def milliseconds_per_update(row: Row) -> float:
    """Return the median processor time of one advice: one to six looks, up to five moves between them."""
    rng = np.random.default_rng(SEED)
    goal, work = row.goal(), Workpiece(align("lofgren-a", PIVOT_TO_SPINDLE_MM), Headshell())
    times = []
    for _ in range(8):
        steps: Steps = ()
        for _ in range(6):
            yaws = rng.normal(0.0, max(1.0, row.reading_sd_deg), 2)
            steps = (*steps, Look(*(YawReading(yaw, yaw, row.reading_sd_deg) for yaw in yaws)))
            start = time.process_time()
            advice = advise(work, steps, goal)
            times.append(time.process_time() - start)
            steps = (*steps, Move(advice.slide_mm, advice.turn_deg, goal.hand))
    return 1e3 * float(np.median(times))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--benches", type=int, default=300, help="benches in each row (default 300)")
    parser.add_argument("--workers", type=int, default=2, help="processes (default 2)")
    options = parser.parse_args()
    if options.benches < 1 or options.workers < 1:
        parser.error("--benches and --workers are at least 1")
    print(f"{options.benches} benches in each row, start within 5 mm and 4 deg, pivot to spindle +- 0.5 mm")
    print("reading and hand: standard uncertainties; med, p95: median and 95th percentile")
    print("called 90 %: of the states called 87 to 93 % likely within, the share that was (and how many)\n")
    print("             reading hand      within          moves     looks     truly     error     called 90 %    "
          " 95 %     not    ms per")  # fmt: skip
    print("             deg     mm,deg    deg             med p95   med p95   within    p95 deg   came true      "
          " holds    done   advice")  # fmt: skip
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(options.workers, mp_context=context) as pool:
        for row in ROWS:
            tool, hand = play_row(row, options.benches, pool)
            lead = (
                f"{row.name:<12} {row.reading_sd_deg:<7g} {f'{row.slide_sd_mm:g},{row.turn_sd_deg:g}':<9}"
                f" {row.tolerance_deg:<6g}"
            )
            print(f"{lead} by tool  {common(tool, row)}{stated(tool)}   {milliseconds_per_update(row):6.1f}")
            print(f"{'':<{len(lead)}} by hand  {common(hand, row)}", flush=True)


if __name__ == "__main__":
    main()
