"""What is known of one chain, with uncertainty, and what follows from it.

Component values are positive and their tolerances relative, so draws are lognormal; results are propagated by
draws with a fixed seed (JCGM 101:2008), because a largest deviation has corners that derivatives miss.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from groovewright.electrics.circuit import (
    AUDIBLE_HZ,
    REFERENCE_HZ,
    ComplexArray,
    decibels,
    deviation_20_20k_db,
    resonance,
    stepped_up_impedance_ohm,
    stepped_up_transfer,
    terminal_impedance_ohm,
    voltage_transfer,
)
from groovewright.electrics.parts import Coil, Load, StepUp
from groovewright.quantities import FloatArray, Reading, normal_quantile

DRAWS = 4000
SEED = 20
NOTHING = Reading(0.0, 0.0)
_STEPS = (
    1.0, 1.06, 1.12, 1.18, 1.2, 1.25, 1.32, 1.4, 1.5, 1.6, 1.7, 1.8, 1.9, 2.0,
    2.12, 2.24, 2.36, 2.5, 2.65, 2.8, 3.0, 3.15, 3.35, 3.55, 3.75, 4.0, 4.25, 4.5,
    4.75, 5.0, 5.3, 5.6, 6.0, 6.3, 6.7, 7.1, 7.5, 8.0, 8.5, 9.0, 9.5,
)  # fmt: skip
_DECADES: FloatArray = np.multiply.outer([10.0, 100.0, 1000.0, 10000.0], _STEPS).ravel().round(6)
SWEEP_HZ: FloatArray = _DECADES[_DECADES <= 50000.0]
"""10 Hz to 50 kHz in the preferred numbers R40 (ISO 3:1973) and 1.2, so that round frequencies are there."""


@dataclass(frozen=True)
class Chain:
    """One channel from the coil to the input, each value a reading.

    Parameters
    ----------
    resistance_ohm, inductance_mH : Reading
        Of the coil.
    cable_pF : Reading
        Arm leads and cable together.
    iron_loss_ohm : Reading or None
        Across the inductance; None for a coil without loss.
    coil_pF : Reading
        The winding's own capacitance.
    step_up : StepUp or None
        A transformer in between, its values taken as exact.
    load_ohm_relative_sd, load_pF_relative_sd : number >= 0
        Standard uncertainty of the input's resistance and capacitance, relative to their values.
    """

    resistance_ohm: Reading
    inductance_mH: Reading
    cable_pF: Reading = NOTHING
    iron_loss_ohm: Reading | None = None
    coil_pF: Reading = NOTHING
    step_up: StepUp | None = None
    load_ohm_relative_sd: float = 0.01
    load_pF_relative_sd: float = 0.05


@dataclass(frozen=True)
class Draws:
    """Equally likely versions of one chain.

    Parameters
    ----------
    coil : Coil
        Its fields [shape=(n,)].
    cable_pF : array [shape=(n,)]
    load_ohm_factor, load_pF_factor : array > 0 [shape=(n,)]
        The input's real values over those it is set to.
    step_up : StepUp or None
    """

    coil: Coil
    cable_pF: FloatArray
    load_ohm_factor: FloatArray
    load_pF_factor: FloatArray
    step_up: StepUp | None = None

    def load(self, load_ohm: float, load_pF: float) -> Load:
        """Return the load in every draw when the input is set to these values. [shape=(n,)]"""
        return Load(
            resistance_ohm=load_ohm * self.load_ohm_factor,
            capacitance_pF=load_pF * self.load_pF_factor + self.cable_pF,
        )


def nominal(chain: Chain) -> Draws:
    """Return the chain as it is on paper, as one draw. [shape=(1,)]"""
    return _versions(chain, np.zeros((7, 1)))


def draws(chain: Chain, count: int = DRAWS, seed: int = SEED) -> Draws:
    """Return `count` equally likely versions of the chain, the same for the same seed. [shape=(count,)]"""
    return _versions(chain, stratified_normal(7, count, seed))


def stratified_normal(quantities: int, count: int, seed: int) -> FloatArray:
    """Return standard normal draws, one of each of `count` equally likely strata. [shape=(quantities, count)]

    Latin hypercube sampling (M. D. McKay et al., Technometrics 21, 239, 1979): each quantity's spread is met
    closely with few draws; the order is shuffled with the seed.
    """
    quantiles = _strata(count)
    rng = np.random.default_rng(seed)
    return np.array([rng.permutation(quantiles) for _ in range(quantities)])


@lru_cache(maxsize=8)
def _strata(count: int) -> FloatArray:
    return np.array([normal_quantile((index + 0.5) / count) for index in range(count)])


def _versions(chain: Chain, normal: FloatArray) -> Draws:
    ones = np.ones(normal.shape[1])
    loss = np.inf * ones if chain.iron_loss_ohm is None else _spread(chain.iron_loss_ohm, normal[2])
    coil = Coil(
        resistance_ohm=_spread(chain.resistance_ohm, normal[0]),
        inductance_mH=_spread(chain.inductance_mH, normal[1]),
        iron_loss_ohm=loss,
        shunt_pF=_spread(chain.coil_pF, normal[3]),
    )
    return Draws(
        coil=coil,
        cable_pF=_spread(chain.cable_pF, normal[4]),
        load_ohm_factor=np.exp(chain.load_ohm_relative_sd * normal[5]),
        load_pF_factor=np.exp(chain.load_pF_relative_sd * normal[6]),
        step_up=chain.step_up,
    )


def _spread(reading: Reading, normal: FloatArray) -> FloatArray:
    if reading.value == 0.0:
        return reading.sd * np.abs(normal)
    return np.asarray(reading.value * np.exp(reading.sd / reading.value * normal))


def transfer(versions: Draws, load: Load, frequency_hz: ArrayLike) -> ComplexArray:
    """Return the voltage at the input for an EMF of 1 V, through the transformer if any.

    [shape=(n, m), complex] for n draws and m frequencies.
    """
    coil, load = _columns(versions.coil, load)
    if versions.step_up is None:
        return voltage_transfer(coil, load, frequency_hz)
    return stepped_up_transfer(coil, versions.step_up, load, frequency_hz)


def impedance_ohm(versions: Draws, load: Load, frequency_hz: ArrayLike) -> ComplexArray:
    """Return the impedance across the input, through the transformer if any. [shape=(n, m), complex]"""
    coil, load = _columns(versions.coil, load)
    if versions.step_up is None:
        return terminal_impedance_ohm(coil, load, frequency_hz)
    return stepped_up_impedance_ohm(coil, versions.step_up, load, frequency_hz)


def curve_db(versions: Draws, load: Load, frequency_hz: ArrayLike = SWEEP_HZ) -> FloatArray:
    """Return the response in dB, 0 at 1 kHz. [shape=(n, m)]"""
    frequency = np.atleast_1d(np.asarray(frequency_hz, dtype=float))
    with_reference = decibels(transfer(versions, load, np.append(frequency, REFERENCE_HZ)))
    return np.asarray(with_reference[:, :-1] - with_reference[:, -1:])


def deviation_db(versions: Draws, load: Load) -> FloatArray:
    """Return the largest departure from the level at 1 kHz, 20 Hz to 20 kHz, in dB. [shape=(n,), >= 0]

    In closed form without a transformer; with one, on 120 frequencies.
    """
    if versions.step_up is None:
        return deviation_20_20k_db(versions.coil, load)
    return np.asarray(np.abs(curve_db(versions, load, np.geomspace(*AUDIBLE_HZ, 120))).max(axis=-1))


def rms_deviation_db(versions: Draws, load: Load) -> FloatArray:
    """Return the rms departure from the level at 1 kHz, even weight per octave, in dB. [shape=(n,)]"""
    hz = np.geomspace(*AUDIBLE_HZ, 240)
    square = np.trapezoid(curve_db(versions, load, hz) ** 2, np.log(hz), axis=-1)
    return np.asarray(np.sqrt(square / np.log(AUDIBLE_HZ[1] / AUDIBLE_HZ[0])))


def peak(versions: Draws, load: Load) -> tuple[FloatArray, FloatArray]:
    """Return the frequency in Hz and the height over 1 kHz in dB of the peak; NaN without. [each (n,)]

    Exact without a transformer; with one, the highest point from 1 kHz to 1 MHz, by a parabola through the
    highest of 70 points to an octave and its neighbours.
    """
    if versions.step_up is None:
        found = resonance(versions.coil, load)
        return found.peak_hz, found.peak_db
    grid = np.geomspace(REFERENCE_HZ, 1e6, 700)
    curve = curve_db(versions, load, grid)
    top = np.clip(curve.argmax(axis=-1), 1, len(grid) - 2)
    before, at, after = (
        np.take_along_axis(curve, (top + step)[:, None], axis=-1)[:, 0] for step in (-1, 0, 1)
    )
    real = (at >= before) & (at >= after) & (at > 0.0)
    bend = np.where(real, before - 2.0 * at + after, np.nan)
    step = 0.5 * (before - after) / bend
    return grid[top] * (grid[1] / grid[0]) ** step, at - 0.25 * (before - after) * step


def reading_of(value: float, drawn: ArrayLike) -> Reading:
    """Return the value with the root mean square of the draws about it.

    Draws that are NaN (no peak in that version of the chain) are left out.
    """
    differences = np.asarray(drawn, dtype=float) - value
    differences = differences[np.isfinite(differences)]
    return Reading(value, float(np.sqrt(np.mean(differences**2))) if differences.size else 0.0)


def reading_if_any(value: float, drawn: ArrayLike) -> Reading | None:
    """Return `reading_of`, or None where the value isn't finite: there is no such thing in this chain."""
    return reading_of(value, drawn) if np.isfinite(value) else None


def _columns(coil: Coil, load: Load) -> tuple[Coil, Load]:
    """Return both with an axis for the frequencies added behind."""

    def column(values: ArrayLike) -> FloatArray:
        return np.asarray(values, dtype=float)[..., None]

    return (
        Coil(
            resistance_ohm=column(coil.resistance_ohm),
            inductance_mH=column(coil.inductance_mH),
            iron_loss_ohm=column(coil.iron_loss_ohm),
            shunt_pF=column(coil.shunt_pF),
        ),
        Load(resistance_ohm=column(load.resistance_ohm), capacitance_pF=column(load.capacitance_pF)),
    )
