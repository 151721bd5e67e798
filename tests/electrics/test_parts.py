"""Values that a person may type, and coils strapped for mono."""

from __future__ import annotations

import numpy as np
import pytest

from groovewright.electrics.circuit import source_impedance_ohm
from groovewright.electrics.parts import (
    MOVING_COIL,
    MOVING_MAGNET,
    Coil,
    check_capacitance_pF,
    in_parallel,
    in_series,
)
from groovewright.quantities import InputError


@pytest.mark.parametrize(
    ("value", "unit", "meant"),
    [(0.2, "nF", "200 pF"), (0.0002, "µF", "200 pF"), (200e-12, "farad", "200 pF")],
)
def test_a_capacitance_in_another_unit_is_recognised_and_named(value: float, unit: str, meant: str) -> None:
    with pytest.raises(InputError, match=rf"in {unit}\? That would be {meant}"):
        check_capacitance_pF(value, "--load-pF")


@pytest.mark.parametrize("value", [0.0, 5.0, 200, 5000])
def test_a_capacitance_that_can_be_right_is_let_pass(value: float) -> None:
    assert check_capacitance_pF(value) == value


@pytest.mark.parametrize("value", [-10.0, float("nan"), float("inf"), 6000.0, True, "many"])
def test_a_capacitance_that_can_not_be_right_is_refused(value: float) -> None:
    with pytest.raises(InputError, match="capacitance"):
        check_capacitance_pF(value)


def test_an_inductance_in_henry_is_recognised() -> None:
    with pytest.raises(InputError, match=r"Is 0\.5 in henry\? That would be 500 mH"):
        MOVING_MAGNET.inductance.check(0.5)


def test_a_moving_coils_inductance_in_microhenry_is_recognised() -> None:
    with pytest.raises(InputError, match=r"in microhenry\? That would be 0\.05 mH"):
        MOVING_COIL.inductance.check(50.0)


def test_a_load_in_kilo_ohm_is_recognised_for_a_moving_magnet() -> None:
    with pytest.raises(InputError, match=r"Is 47 in kilo-ohm\? That would be 47000 ohm"):
        MOVING_MAGNET.load.check(47.0)


def test_a_low_load_is_right_for_a_moving_coil() -> None:
    assert MOVING_COIL.load.check(47.0) == 47.0


def test_an_output_in_volt_is_recognised() -> None:
    with pytest.raises(InputError, match=r"in volt\? That would be 5 mV"):
        MOVING_MAGNET.output.check(0.005)


def test_two_coils_in_parallel_have_the_impedance_of_the_two_side_by_side() -> None:
    # Z || Z = Z / 2, Kirchhoff; the iron loss too
    coil, hz = Coil(800, 500, 200_000, 20), np.array([20.0, 1e3, 2e4])
    assert source_impedance_ohm(in_parallel(coil), hz) == pytest.approx(source_impedance_ohm(coil, hz) / 2)
    assert in_parallel(coil).shunt_pF == 40.0


def test_two_coils_in_series_have_the_impedance_of_the_two_in_a_row() -> None:
    coil, hz = Coil(800, 500, 200_000, 20), np.array([20.0, 1e3, 2e4])
    assert source_impedance_ohm(in_series(coil), hz) == pytest.approx(source_impedance_ohm(coil, hz) * 2)
    assert in_series(coil).shunt_pF == 10.0


def test_fully_coupled_coils_in_parallel_have_the_inductance_of_one_and_in_series_of_four() -> None:
    # both coils are one winding: twice the turns give four times the inductance, textbook
    coil = Coil(800, 500)
    assert in_parallel(coil, coupling=1.0).inductance_mH == 500.0
    assert in_series(coil, coupling=1.0).inductance_mH == 2000.0
