"""The loaded cartridge against textbook formulas and numerical solutions."""

from __future__ import annotations

import numpy as np
import pytest

from groovewright.electrics.circuit import (
    current_transfer_siemens,
    deviation_20_20k_db,
    phase_deg,
    reflected_load_ohm,
    resonance,
    response_db,
    source_impedance_ohm,
    stepped_up_transfer,
    terminal_impedance_ohm,
    voltage_transfer,
)
from groovewright.electrics.parts import Coil, Load, StepUp

DENSE_HZ = np.geomspace(20.0, 20000.0, 40001)


def random_cartridges(count: int, seed: int) -> tuple[Coil, Load]:
    """Moving magnets as columns, half of them with iron loss."""
    rng = np.random.default_rng(seed)
    loss = np.where(rng.random((count, 1)) < 0.5, np.inf, np.exp(rng.uniform(10.0, 14.0, (count, 1))))
    coil = Coil(
        rng.uniform(100, 2000, (count, 1)),
        rng.uniform(50, 1000, (count, 1)),
        loss,
        rng.uniform(0, 50, (count, 1)),
    )
    return coil, Load(rng.uniform(2e4, 1.5e5, (count, 1)), rng.uniform(50, 600, (count, 1)))


@pytest.mark.parametrize(
    ("frequency_hz", "level_db"), [(10000, 0.851), (12000, 0.767), (15000, -0.089), (20000, -3.207)]
)
def test_half_a_henry_into_47k_and_200_pF_has_the_known_response(
    frequency_hz: float, level_db: float
) -> None:
    # computed from the divider and confirmed with ngspice (see the test beside this one)
    assert response_db(Coil(800, 500), Load(47000, 200), frequency_hz) == pytest.approx(level_db, abs=0.0005)


def test_half_a_henry_and_200_pF_resonate_at_15915_hz() -> None:
    # 1 / (2 pi sqrt(L C)), textbook: 0.5 H * 200 pF = 1e-10 s^2
    assert resonance(Coil(800, 500), Load(47000, 200)).resonance_hz == pytest.approx(15915.5, abs=0.1)


def test_q_of_a_coil_without_resistance_is_load_over_characteristic_impedance() -> None:
    # parallel-damped resonant circuit, textbook: Q = R sqrt(C / L)
    found = resonance(Coil(0.0, 500), Load(47000, 200))
    assert found.q == pytest.approx(47000.0 * np.sqrt(200e-12 / 0.5), rel=1e-9)


def test_q_of_an_open_coil_is_characteristic_impedance_over_resistance() -> None:
    # series resonant circuit, textbook: Q = sqrt(L / C) / R
    found = resonance(Coil(800, 500), Load(np.inf, 200))
    assert found.q == pytest.approx(np.sqrt(0.5 / 200e-12) / 800.0, rel=1e-9)


def test_natural_frequency_and_q_are_those_of_the_circuits_eigenvalues() -> None:
    # state equations of the circuit (current in L, voltage on C), solved by numpy's eigenvalue routine
    coil, load = random_cartridges(60, seed=3)
    found = resonance(coil, load)
    for i in range(60):
        R, L, Ri = (
            np.asarray(x, float)[i, 0] for x in (coil.resistance_ohm, coil.inductance_mH, coil.iron_loss_ohm)
        )
        L = 1e-3 * L
        C = 1e-12 * (np.asarray(coil.shunt_pF)[i, 0] + np.asarray(load.capacitance_pF)[i, 0])
        G = 1.0 / np.asarray(load.resistance_ohm)[i, 0]
        g = 1.0 / Ri
        # the current from coil to pins is i = (iL - g v) / (1 + R g), the voltage on L is -R i - v
        k = 1.0 / (1.0 + R * g)
        matrix = np.array([[-R * k / L, -k / L], [k / C, -(G + g * k) / C]])
        poles = np.linalg.eigvals(matrix)
        natural = np.sqrt(np.prod(poles).real)
        assert found.natural_hz[i, 0] == pytest.approx(natural / (2.0 * np.pi), rel=1e-9)
        assert found.q[i, 0] == pytest.approx(natural / -np.sum(poles).real, rel=1e-9)


def test_peak_in_closed_form_is_the_highest_point_of_a_dense_sweep() -> None:
    coil, load = random_cartridges(150, seed=4)
    found = resonance(coil, load)
    sweep_hz = np.geomspace(500.0, 60000.0, 20001)
    levels = response_db(coil, load, sweep_hz)
    at, has_peak = levels.argmax(axis=1), np.isfinite(found.peak_hz[:, 0])
    assert 30 < has_peak.sum() < 150
    assert np.abs(found.peak_db[:, 0] - levels.max(axis=1))[has_peak].max() < 1e-4
    assert np.abs(np.log(found.peak_hz[:, 0] / sweep_hz[at]))[has_peak].max() < 0.001
    assert (at[~has_peak] == 0).all()


def test_deviation_in_closed_form_is_the_largest_of_a_dense_sweep() -> None:
    coil, load = random_cartridges(100, seed=5)
    dense = np.abs(response_db(coil, load, DENSE_HZ)).max(axis=1)
    assert np.abs(deviation_20_20k_db(coil, load)[:, 0] - dense).max() < 1e-4


def test_cartridges_in_rows_against_frequencies_give_a_table() -> None:
    coil, load = random_cartridges(7, seed=6)
    assert voltage_transfer(coil, load, np.geomspace(10, 50000, 11)).shape == (7, 11)
    assert source_impedance_ohm(coil, np.geomspace(10, 50000, 11)).shape == (7, 11)
    assert resonance(coil, load).peak_hz.shape == (7, 1)


def test_a_table_has_the_same_numbers_as_one_cartridge_at_a_time() -> None:
    coil, load = random_cartridges(5, seed=7)
    table = response_db(coil, load, [100.0, 9000.0])
    one = Coil(
        *(
            np.asarray(x)[3, 0]
            for x in (coil.resistance_ohm, coil.inductance_mH, coil.iron_loss_ohm, coil.shunt_pF)
        )
    )
    alone = Load(np.asarray(load.resistance_ohm)[3, 0], np.asarray(load.capacitance_pF)[3, 0])
    assert table[3, 1] == pytest.approx(float(response_db(one, alone, 9000.0)), abs=1e-12)


def test_a_hundred_thousand_draws_go_through_at_once() -> None:
    rng = np.random.default_rng(8)
    coil = Coil(rng.uniform(700, 900, 100_000), rng.uniform(450, 550, 100_000))
    load = Load(47000, rng.uniform(150, 250, 100_000))
    found, deviation = resonance(coil, load), deviation_20_20k_db(coil, load)
    assert found.peak_db.shape == deviation.shape == (100_000,)
    assert 0.5 < float(np.nanmean(found.peak_db)) < 1.5


def test_without_capacitance_the_response_only_falls() -> None:
    found = resonance(Coil(800, 500), Load(47000, 0.0))
    assert np.isinf(found.resonance_hz)
    assert np.isnan(found.peak_hz)
    assert np.isnan(found.peak_db)
    # first-order fall with the corner R / (2 pi L), textbook
    corner_hz = 47800.0 / (2.0 * np.pi * 0.5)
    expected = -10.0 * np.log10((1 + (20000 / corner_hz) ** 2) / (1 + (1000 / corner_hz) ** 2))
    assert response_db(Coil(800, 500), Load(47000, 0.0), 20000.0) == pytest.approx(expected, abs=1e-9)


def test_iron_loss_lowers_the_peak_and_lets_less_fall_above_it() -> None:
    load = Load(47000, 400)
    clean, lossy = Coil(800, 500), Coil(800, 500, iron_loss_ohm=100_000)
    assert resonance(lossy, load).peak_db < resonance(clean, load).peak_db - 0.5
    assert response_db(lossy, load, 50000.0) > response_db(clean, load, 50000.0)


def test_phase_is_minus_90_degrees_at_the_resonance_of_an_open_coil() -> None:
    # second-order low-pass at its undamped frequency, textbook
    transfer = voltage_transfer(Coil(800, 500), Load(np.inf, 200), 1.0 / (2.0 * np.pi * 1e-5))
    assert phase_deg(transfer) == pytest.approx(-90.0, abs=1e-6)


def test_impedance_across_the_input_is_load_beside_coil_at_low_frequency() -> None:
    # two resistors in parallel, textbook: 800 || 47000
    impedance = terminal_impedance_ohm(Coil(800, 500), Load(47000, 200), 0.01)
    assert impedance.real == pytest.approx(800.0 * 47000.0 / 47800.0, abs=0.01)


def test_current_into_a_virtual_earth_is_that_of_the_shorted_coil() -> None:
    # I = V / sqrt(R^2 + (2 pi f L)^2): at 20 kHz 50 uH are 6.283 ohm, textbook
    current = np.abs(current_transfer_siemens(Coil(12, 0.05), 0.0, 20000.0))
    assert current == pytest.approx(1.0 / np.hypot(12.0, 6.283185), rel=1e-6)


def test_current_through_a_resistor_is_the_voltage_on_it_over_its_resistance() -> None:
    # Ohm's law; at 2 MHz, so that the coil's own capacitance counts
    coil, hz = Coil(12, 0.05, shunt_pF=300.0), np.array([1e3, 2e6])
    current = current_transfer_siemens(coil, 30.0, hz)
    assert current == pytest.approx(voltage_transfer(coil, Load(30.0), hz) / 30.0, rel=1e-12)
    assert abs(current[1] * 30.0 / voltage_transfer(Coil(12, 0.05), Load(30.0), 2e6) - 1.0) > 0.01


def test_an_almost_ideal_transformer_multiplies_by_its_turns_and_reflects_by_their_square() -> None:
    # textbook: n^2 = 100, so 47 kOhm look like 470 ohm; a source of 10 ohm loses 10/480 of its EMF
    transformer = StepUp(10, 1e-6, 1e-3, 1e4)
    seen = reflected_load_ohm(transformer, Load(47000, 0.0), 1000.0)
    assert seen.real == pytest.approx(470.0, abs=0.01)
    gain = np.abs(stepped_up_transfer(Coil(10, 1e-6), transformer, Load(47000, 0.0), 1000.0))
    assert gain == pytest.approx(10.0 * 470.0 / 480.0, rel=1e-5)


def test_primary_inductance_makes_a_first_order_cut_at_the_low_end() -> None:
    # corner where 2 pi f Lm equals source and load in parallel, textbook
    transformer = StepUp(10, 0.0, 0.001, 0.05)
    source = 10.0 * 470.0 / 480.0
    corner_hz = source / (2.0 * np.pi * 0.05)
    transfer = stepped_up_transfer(Coil(10, 1e-6), transformer, Load(47000, 0.0), [corner_hz, 1e4])
    drop_db = 20.0 * np.log10(np.abs(transfer[0] / transfer[1]))
    assert drop_db == pytest.approx(-3.01, abs=0.01)
