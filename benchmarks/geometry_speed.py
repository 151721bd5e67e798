"""How fast arms are solved: whole arrays at once, against a general optimiser and against one by one.

Run it with `.venv/bin/python benchmarks/geometry_speed.py`. The closed forms are compared with
`scipy.optimize.minimize` on the cost that each criterion makes smallest, arm by arm, with the exact error of
the arm; the exact minimax with the same and with one call for each arm. The slow ways solve only a few dozen
arms, drawn from the same array, and their time is scaled up. Where the answers differ by more than they
should, the benchmark stops.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable

import numpy as np

from groovewright.geometry import align, align_many, null_radii_mm
from groovewright.geometry.distortion import mean_square_nodes
from groovewright.quantities import LP, FloatArray

RADII = np.linspace(LP.inner_mm, LP.outer_mm, 257)
NODES, WEIGHTS = mean_square_nodes(LP)
Cost = Callable[[FloatArray, float], float]
"""(length in mm and offset angle in degrees, pivot-to-spindle distance in mm) to what is to be small."""


def error_per_radius(arm: FloatArray, distance_mm: float, radii: FloatArray) -> FloatArray:
    """Return error / r in degrees per metre, written out here from the law of cosines. [shape=(n,)]"""
    length, offset = arm
    sine = (length**2 + radii**2 - distance_mm**2) / (2.0 * length * radii)
    return np.asarray(1e3 * (offset - np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))) / radii)


def worst(arm: FloatArray, distance_mm: float) -> float:
    """Return the largest |error| / r, which Lofgren A makes smallest."""
    return float(np.max(np.abs(error_per_radius(arm, distance_mm, RADII))))


def mean_square(arm: FloatArray, distance_mm: float) -> float:
    """Return the mean of (error / r)^2, which Lofgren B makes smallest."""
    return float(WEIGHTS @ error_per_radius(arm, distance_mm, NODES) ** 2)


def worst_with_inner_null(arm: FloatArray, distance_mm: float) -> float:
    """Return the largest |error| / r with a null at the innermost groove, which Stevenson makes smallest.

    The null fixes the offset angle for each length, so only the length is searched.
    """
    length = float(arm[0])
    sine = (length**2 + LP.inner_mm**2 - distance_mm**2) / (2.0 * length * LP.inner_mm)
    offset = np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))
    return worst(np.array([length, offset]), distance_mm)


COSTS: dict[str, tuple[Cost, float]] = {
    "lofgren-a": (worst, 0.3),
    "lofgren-b": (mean_square, 0.8),
    "stevenson": (worst_with_inner_null, 0.45),
    "minimax": (worst, 0.02),
}
"""What each criterion makes smallest, and how far in mm the nulls may differ for arms of 180 to 320 mm.

The closed forms are made for small angles, so they differ the more the shorter the arm; the usual
least-squares form is off by up to 0.6 mm besides (J. Audio Eng. Soc. 70(3), 199-207, 2022). The exact minimax
differs by what 257 radii leave open.
"""


def by_optimiser(criterion: str, distances_mm: FloatArray) -> FloatArray:
    """Return the nulls found by a general optimiser, arm by arm. [shape=(2, n)]"""
    from scipy.optimize import minimize

    cost, _ = COSTS[criterion]
    nulls = []
    for distance in distances_mm.tolist():
        start = np.array([distance + 15.0, 22.0])
        # with an inner null given, the length is all that is left to choose
        free = start[:1] if cost is worst_with_inner_null else start
        found = minimize(
            cost,
            free,
            args=(distance,),
            method="Nelder-Mead",
            options={"xatol": 1e-6, "fatol": 1e-12, "maxiter": 4000},
        ).x
        if cost is worst_with_inner_null:
            length = float(found[0])
            outer = (length**2 - distance**2) / LP.inner_mm
            nulls.append((LP.inner_mm, outer))
        else:
            inner_outer = null_radii_mm(distance, *found)
            nulls.append((float(inner_outer[0]), float(inner_outer[1])))
    return np.array(nulls).T


def one_by_one(criterion: str, distances_mm: FloatArray) -> FloatArray:
    """Return the nulls of one call for each arm. [shape=(2, n)]"""
    arms = [align(criterion, distance) for distance in distances_mm.tolist()]
    return np.array([(arm.null_inner_mm, arm.null_outer_mm) for arm in arms]).T


def timed(function: Callable[[], object], runs: int) -> float:
    """Return the shortest processor time of some runs, in seconds: what else the machine does falls out."""
    times = []
    for _ in range(runs):
        start = time.process_time()
        function()
        times.append(time.process_time() - start)
    return min(times)


def checked(criterion: str, distances_mm: FloatArray, nulls: FloatArray, within_mm: float) -> float:
    """Return by how much in mm the nulls differ from those of the array at most, where that is as it should be."""
    ours = np.array(null_radii_mm(distances_mm, *align_many(criterion, distances_mm)))
    differ = float(np.max(np.abs(ours - nulls)))
    if not differ <= within_mm:
        raise SystemExit(f"{criterion}: nulls differ by {differ:.3f} mm, allowed are {within_mm} mm")
    return differ


def line(criterion: str, distances_mm: FloatArray, slow: str, few: int) -> tuple[float, float]:
    """Print one line of the table and return both times in seconds, the slow one scaled to all arms."""
    way = {"optimiser": by_optimiser, "one by one": one_by_one}[slow]
    within = COSTS[criterion][1] if slow == "optimiser" else 1e-6
    # evenly drawn from the whole array
    sample = distances_mm[:: max(1, len(distances_mm) // few)][:few]
    way(criterion, sample[:1])
    quick_s = timed(lambda: align_many(criterion, distances_mm), 5)
    # one run of the optimiser is long enough to time
    slow_s = timed(lambda: way(criterion, sample), 1 if slow == "optimiser" else 3)
    slow_s *= len(distances_mm) / len(sample)
    differ = checked(criterion, distances_mm=sample, nulls=way(criterion, sample), within_mm=within)
    print(
        f"{criterion:<11} {len(distances_mm):>8,} {quick_s * 1e3:>9.1f} ms  {slow:<11} {len(sample):>5}"
        f" {slow_s:>9.1f} s {slow_s / quick_s:>10,.0f} times {differ:>8.4f} mm"
    )
    return quick_s, slow_s


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument(
        "--arms", type=int, default=100_000, help="arms for the closed forms (default 100000)"
    )
    parser.add_argument("--exact-arms", type=int, default=10_000, help="for exact minimax (default 10000)")
    parser.add_argument("--few", type=int, default=48, help="arms for the optimiser (default 48)")
    options = parser.parse_args()
    if min(options.arms, options.exact_arms, options.few) < 1:
        parser.error("every number is at least 1")
    print("arms of 180 to 320 mm pivot to spindle, LP grooves; the slow way solves 'of' arms, scaled to all")
    print(f"{'criterion':<11} {'arms':>8} {'at once':>12}  {'against':<11} {'of':>5} {'takes':>11}"
          f" {'ratio':>16} {'nulls differ':>13}")  # fmt: skip
    many = np.linspace(180.0, 320.0, options.arms)
    closed = ("lofgren-a", "lofgren-b", "stevenson")
    quick_s, slow_s = np.sum([line(name, many, "optimiser", options.few) for name in closed], axis=0)
    print(f"{'all three':<11} {options.arms:>8,} {quick_s * 1e3:>9.1f} ms  {'optimiser':<11} {options.few:>5}"
          f" {slow_s:>9.1f} s {slow_s / quick_s:>10,.0f} times")  # fmt: skip
    exact = np.linspace(180.0, 320.0, options.exact_arms)
    line("minimax", exact, "one by one", 10 * options.few)
    line("minimax", exact, "optimiser", options.few)


if __name__ == "__main__":
    main()
