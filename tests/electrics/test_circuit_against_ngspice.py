"""The circuit model against a real circuit simulator.

ngspice (https://ngspice.sourceforge.io, a Debian package) gets netlists of 40 random cartridges and loads
and runs an AC analysis of each. Transformers are given to it as coupled inductors, another description of
the same part: L1 = leakage + Lm, L2 = n^2 Lm, k = sqrt(Lm / L1), and not the T circuit that the model uses.
"""

from __future__ import annotations

import math
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from groovewright.electrics.circuit import (
    current_transfer_siemens,
    stepped_up_impedance_ohm,
    stepped_up_transfer,
    terminal_impedance_ohm,
    voltage_transfer,
)
from groovewright.electrics.levels import noise_density_nV
from groovewright.electrics.parts import Coil, Load, StepUp

pytestmark = pytest.mark.skipif(
    shutil.which("ngspice") is None, reason="ngspice is not installed: sudo apt install ngspice"
)

LEVEL_DB, PHASE_DEG = 0.01, 0.1
MAGNETS, LOSSY, STEPPED_UP, CURRENT = range(12), range(12, 24), range(24, 36), range(36, 40)


def random_circuit(index: int) -> tuple[Coil, Load, StepUp | None]:
    """One cartridge and load of the kind that belongs to the index; seeded by it."""
    rng = np.random.default_rng(1000 + index)

    def between(low: float, high: float) -> float:
        return float(np.exp(rng.uniform(math.log(low), math.log(high))))

    if index in MAGNETS or index in LOSSY:
        lossy = index in LOSSY
        coil = Coil(
            between(100, 2000),
            between(50, 1000),
            between(2e4, 1e6) if lossy else math.inf,
            between(5, 60) if lossy else 0.0,
        )
        return coil, Load(between(2e4, 2e5), between(50, 600)), None
    coil = Coil(between(2, 60), between(0.005, 0.5), math.inf, between(10, 100))
    if index in CURRENT:
        return coil, Load(between(0.1, 30), 0.0), None
    turns = between(4, 40)
    transformer = StepUp(
        turns_ratio=turns,
        primary_ohm=between(0.2, 10),
        secondary_ohm=between(50, 3000),
        primary_H=between(0.05, 2),
        leakage_uH=between(1, 300),
        core_loss_ohm=between(500, 20000),
        winding_pF=between(50, 500),
    )
    return coil, Load(between(1e4, 1e5), between(50, 500)), transformer


def netlist_of(index: int, coil: Coil, load: Load, transformer: StepUp | None) -> list[str]:
    """The circuit as element lines; every node carries the index, the output is o<index>."""
    n = str(index)
    lines = [f"V{n} e{n} 0 DC 0 AC 1", f"R{n} e{n} a{n} {coil.resistance_ohm!r}"]
    pins = f"p{n}" if transformer else f"o{n}"
    lines.append(f"L{n} a{n} {pins} {1e-3 * float(coil.inductance_mH)!r}")
    if math.isfinite(coil.iron_loss_ohm):
        lines.append(f"Ri{n} a{n} {pins} {coil.iron_loss_ohm!r}")
    if coil.shunt_pF:
        lines.append(f"Cc{n} {pins} 0 {coil.shunt_pF!r}p")
    capacitance = float(load.capacitance_pF)
    if transformer:
        capacitance += float(transformer.winding_pF)
        turns, core = float(transformer.turns_ratio), float(transformer.primary_H)
        first = core + 1e-6 * float(transformer.leakage_uH)
        lines += [
            f"Rp{n} {pins} q{n} {transformer.primary_ohm!r}",
            f"Lp{n} q{n} 0 {first!r}",
            f"Ls{n} s{n} 0 {turns**2 * core!r}",
            f"K{n} Lp{n} Ls{n} {math.sqrt(core / first)!r}",
            f"Rc{n} s{n} 0 {turns**2 * float(transformer.core_loss_ohm)!r}",
            f"Rs{n} s{n} o{n} {transformer.secondary_ohm!r}",
        ]
    lines.append(f"Rl{n} o{n} 0 {load.resistance_ohm!r}")
    if capacitance:
        lines.append(f"Cl{n} o{n} 0 {capacitance!r}p")
    return lines


def run_ngspice(folder: Path, elements: list[str], control: list[str]) -> np.ndarray:
    """Run one deck in batch mode and return the table that it wrote to table.txt."""
    deck = ["* groovewright", *elements, ".options temp=27 tnom=27", ".control", "set numdgt=14", *control]
    (folder / "deck.cir").write_text("\n".join([*deck, "quit", ".endc", ".end", ""]))
    done = subprocess.run(
        ["ngspice", "-b", "deck.cir"], cwd=folder, capture_output=True, text=True, timeout=120, check=False
    )
    assert (folder / "table.txt").exists(), done.stdout + done.stderr
    return np.loadtxt(folder / "table.txt")


@pytest.fixture(scope="module")
def simulated(tmp_path_factory: pytest.TempPathFactory) -> tuple[np.ndarray, np.ndarray]:
    """Frequencies [shape=(m,)] and complex outputs [shape=(40, m)] of all circuits, from one run."""
    elements = [line for index in range(40) for line in netlist_of(index, *random_circuit(index))]
    outputs = " ".join(f"v(o{index})" for index in range(40))
    table = run_ngspice(
        tmp_path_factory.mktemp("ngspice"), elements, ["ac dec 40 10 50k", f"wrdata table.txt {outputs}"]
    )
    blocks = table.reshape(len(table), 40, 3)
    return table[:, 0], (blocks[:, :, 1] + 1j * blocks[:, :, 2]).T


def model(index: int, frequency_hz: np.ndarray) -> np.ndarray:
    coil, load, transformer = random_circuit(index)
    if transformer is not None:
        return stepped_up_transfer(coil, transformer, load, frequency_hz)
    if index in CURRENT:
        resistance = float(load.resistance_ohm)
        return resistance * current_transfer_siemens(coil, resistance, frequency_hz)
    return voltage_transfer(coil, load, frequency_hz)


@pytest.mark.parametrize("index", range(40))
def test_a_random_circuit_has_the_level_and_phase_that_the_simulator_finds(
    simulated: tuple[np.ndarray, np.ndarray], index: int
) -> None:
    frequency, outputs = simulated
    assert frequency[0] == 10.0
    assert frequency[-1] > 49000.0
    assert len(frequency) > 140
    ratio = model(index, frequency) / outputs[index]
    assert np.abs(20.0 * np.log10(np.abs(ratio))).max() < LEVEL_DB
    assert np.abs(np.degrees(np.angle(ratio))).max() < PHASE_DEG


def test_the_random_circuits_cover_peaks_and_falls_and_all_three_kinds(
    simulated: tuple[np.ndarray, np.ndarray],
) -> None:
    frequency, outputs = simulated
    level = 20.0 * np.log10(np.abs(outputs))
    at_1k = level[:, np.abs(frequency - 1000.0).argmin()]
    rise = level.max(axis=1) - at_1k
    assert (rise > 6.0).any()
    assert (rise < 0.1).any()
    assert (level[:24, -1] - at_1k[:24] < -12.0).any()
    assert (at_1k[24:36] > 6.0).all()


@pytest.mark.parametrize("index", [3, 17, 29, 33])
def test_thermal_noise_density_is_that_of_the_simulators_noise_analysis(tmp_path: Path, index: int) -> None:
    coil, load, transformer = random_circuit(index)
    n = index
    table = run_ngspice(
        tmp_path,
        netlist_of(index, coil, load, transformer),
        [f"noise v(o{n}) V{n} dec 20 10 50k", "setplot noise1", "wrdata table.txt onoise_spectrum"],
    )
    frequency, density_nV = table[:, 0], 1e9 * table[:, 1]
    if transformer is None:
        impedance = terminal_impedance_ohm(coil, load, frequency)
    else:
        impedance = stepped_up_impedance_ohm(coil, transformer, load, frequency)
    ours = noise_density_nV(impedance, temperature_K=300.15)
    assert np.abs(20.0 * np.log10(ours / density_nV)).max() < 0.01
