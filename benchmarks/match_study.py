"""How long a tolerance study takes: 100,000 draws through the match, against a plain Python loop.

Run it with `.venv/bin/python benchmarks/match_study.py`. Each part is a pair of functions that do the same
sum: one on arrays, by the package, and one draw by draw in plain Python, written out here. The loop runs over
fewer draws and its time is scaled up; where the two disagree, the benchmark stops.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np

from groovewright.electrics import Coil, Load, deviation_20_20k_db, resonance
from groovewright.mechanics.resonance import deflection_response, resonance_hz, total_effective_mass_g
from groovewright.mechanics.skating import skating_force_mN
from groovewright.quantities import FloatArray

DRAWS = 100_000
LOOPED = 2_000

Results = tuple[FloatArray, FloatArray, FloatArray]


def load_draws(count: int, seed: int = 1) -> dict[str, FloatArray]:
    """Return random moving magnets with iron loss and their loads. [each shape=(count,)]"""
    rng = np.random.default_rng(seed)
    return {
        "resistance_ohm": rng.uniform(300.0, 1500.0, count),
        "inductance_mH": rng.uniform(200.0, 900.0, count),
        "iron_loss_ohm": np.exp(rng.uniform(11.0, 14.0, count)),
        "load_ohm": rng.uniform(33_000.0, 68_000.0, count),
        "load_pF": rng.uniform(80.0, 500.0, count),
    }


def load_by_arrays(parts: dict[str, FloatArray]) -> Results:
    """Return peak in Hz, peak in dB and largest departure in dB, all draws at once."""
    coil = Coil(parts["resistance_ohm"], parts["inductance_mH"], parts["iron_loss_ohm"])
    load = Load(parts["load_ohm"], parts["load_pF"])
    found = resonance(coil, load)
    return found.peak_hz, found.peak_db, deviation_20_20k_db(coil, load)


def load_by_loop(parts: dict[str, FloatArray]) -> Results:
    """Return the same by the same formulas, one draw after the other in plain Python."""
    rows = [
        _one_load(*values) for values in zip(*(values.tolist() for values in parts.values()), strict=True)
    ]
    peak_hz, peak_db, deviation_db = (np.array(column) for column in zip(*rows, strict=True))
    return peak_hz, peak_db, deviation_db


def _one_load(
    resistance_ohm: float, inductance_mH: float, iron_loss_ohm: float, load_ohm: float, load_pF: float
) -> tuple[float, float, float]:
    inductance, capacitance = 1e-3 * inductance_mH, 1e-12 * load_pF
    a0 = 1.0 + resistance_ohm / load_ohm
    b = inductance / iron_loss_ohm
    a1 = b * a0 + inductance / load_ohm + resistance_ohm * capacitance
    a2 = inductance * capacitance * (1.0 + resistance_ohm / iron_loss_ohm)

    def level(hz: float) -> float:
        square = (2.0 * math.pi * hz) ** 2
        below = (a0 - a2 * square) ** 2 + a1**2 * square
        return 10.0 * math.log10((1.0 + b**2 * square) / below)

    reference = level(1000.0)
    n, d2, rest = b**2, a2**2, b**2 * a0**2 - a1**2 + 2.0 * a0 * a2
    peak_hz = peak_db = math.nan
    inside = 20000.0
    if rest > 0.0:
        peak_hz = math.sqrt(rest / (d2 + math.sqrt(d2**2 + n * d2 * rest))) / (2.0 * math.pi)
        peak_db = level(peak_hz) - reference
        inside = peak_hz if 20.0 < peak_hz < 20000.0 else 20000.0
    return peak_hz, peak_db, max(abs(level(hz) - reference) for hz in (20.0, inside, 20000.0))


def mechanical_draws(count: int, seed: int = 2) -> dict[str, FloatArray]:
    """Return random arms, cartridges and friction. [each shape=(count,)]"""
    rng = np.random.default_rng(seed)
    return {
        "arm_g": rng.normal(11.0, 1.1, count),
        "cartridge_g": rng.uniform(4.0, 9.0, count),
        "compliance_um_per_mN": np.exp(rng.normal(2.6, 0.2, count)),
        "loss_factor": rng.uniform(0.15, 0.5, count),
        "force_mN": rng.normal(17.7, 0.3, count),
        "friction": rng.uniform(0.25, 0.4, count),
        "effective_length_mm": rng.normal(239.3, 0.4, count),
        "radius_mm": rng.uniform(60.0, 146.0, count),
    }


def mechanical_by_arrays(parts: dict[str, FloatArray]) -> Results:
    """Return resonance in Hz, bending at 6 Hz over the warp, and skating in mN, all draws at once."""
    mass = total_effective_mass_g(
        arm_effective_mass_g=parts["arm_g"], cartridge_mass_g=parts["cartridge_g"], fastener_mass_g=1.0
    )
    found = resonance_hz(mass, parts["compliance_um_per_mN"])
    bending = np.abs(deflection_response(6.0, found, parts["loss_factor"]))
    skating = skating_force_mN(
        force_mN=parts["force_mN"],
        friction=parts["friction"],
        pivot_to_spindle_mm=222.0,
        effective_length_mm=parts["effective_length_mm"],
        radius_mm=parts["radius_mm"],
    )
    return found, bending, skating


def mechanical_by_loop(parts: dict[str, FloatArray]) -> Results:
    """Return the same by the same formulas, one draw after the other in plain Python."""
    rows = []
    for arm, cartridge, compliance, loss, force, mu, length, radius in zip(
        *(values.tolist() for values in parts.values()), strict=True
    ):
        hz = 1000.0 / (2.0 * math.pi * math.sqrt((arm + cartridge + 1.0) * compliance))
        ratio = 6.0 / hz
        bending = ratio**2 / math.hypot(ratio**2 - 1.0, ratio * loss)
        sine = (radius**2 + length**2 - 222.0**2) / (2.0 * radius * length)
        rows.append((hz, bending, mu * force * sine))
    first, second, third = (np.array(column) for column in zip(*rows, strict=True))
    return first, second, third


def seconds(function: Callable[[dict[str, FloatArray]], Results], parts: dict[str, FloatArray]) -> float:
    """Return the shortest of five runs."""
    runs = []
    for _ in range(5):
        start = time.perf_counter()
        function(parts)
        runs.append(time.perf_counter() - start)
    return min(runs)


def compare(
    name: str,
    by_arrays: Callable[[dict[str, FloatArray]], Results],
    by_loop: Callable[[dict[str, FloatArray]], Results],
    make: Callable[[int], dict[str, FloatArray]],
) -> str:
    """Return one line of the table: time on arrays, scaled time of the loop, their ratio."""
    few = make(LOOPED)
    for ours, plain in zip(by_arrays(few), by_loop(few), strict=True):
        np.testing.assert_allclose(ours, plain, rtol=1e-9, atol=1e-9)
    arrays = seconds(by_arrays, make(DRAWS))
    loop = seconds(by_loop, few) * DRAWS / LOOPED
    return f"{name:<12} {arrays * 1e3:10.1f} ms {loop * 1e3:12.0f} ms {loop / arrays:10.0f} times"


def main() -> None:
    """Print the table."""
    print(f"{DRAWS} draws   {'arrays':>11} {'plain loop':>15} {'ratio':>13}")
    print(compare("mechanics", mechanical_by_arrays, mechanical_by_loop, mechanical_draws))
    print(compare("load", load_by_arrays, load_by_loop, load_draws))


if __name__ == "__main__":
    main()
