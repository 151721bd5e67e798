"""What a cartridge's voltage becomes at its load: the coil, leads and input as one circuit.

The coil is an EMF in series with its resistance and its inductance; the loss in the iron is a resistance
across the inductance; all capacitance and the load lie across the pins::

         iron loss Ri
        +---/\\/\\---+
        |          |
    +---+---L------+---/\\/\\---+--------+--------+
    |                    R    |        |        |
   (~) EMF           coil C ===  leads, input  load
    |                         |     C ===     resistance
    +-------------------------+--------+--------+

Everything is element by element over NumPy arrays, cartridges and frequencies alike: fields of shape (n, 1)
against frequencies of shape (m,) give (n, m). See docs/electrics.md for the derivations.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.electrics.parts import Coil, Load, StepUp
from groovewright.quantities import FloatArray

ComplexArray = NDArray[np.complex128]

REFERENCE_HZ = 1000.0
AUDIBLE_HZ = (20.0, 20000.0)


@dataclass(frozen=True)
class Resonance:
    """What the loaded coil does as a second-order circuit. Each field has the circuit's shape.

    Parameters
    ----------
    resonance_hz : array
        1 / (2 pi sqrt(L C)), inductance with capacitance alone; infinite without one of the two.
    natural_hz, q : array
        Of the loaded circuit's pair of poles; natural_hz is infinite and q 0 without a pair.
    peak_hz, peak_db : array
        The highest point and its level about 1 kHz; NaN where the response only falls.
    """

    resonance_hz: FloatArray
    natural_hz: FloatArray
    q: FloatArray
    peak_hz: FloatArray
    peak_db: FloatArray


def source_impedance_ohm(coil: Coil, frequency_hz: ArrayLike) -> ComplexArray:
    """Return R + (jwL parallel to Ri): the coil without its capacitance. [shape=(...), complex]"""
    resistance = np.asarray(coil.resistance_ohm, dtype=float)
    reactance = 1j * _omega(frequency_hz) * 1e-3 * np.asarray(coil.inductance_mH, dtype=float)
    return np.asarray(resistance + reactance / (1.0 + reactance * _conductance(coil.iron_loss_ohm)))


def load_admittance_siemens(coil: Coil, load: Load, frequency_hz: ArrayLike) -> ComplexArray:
    """Return what lies across the pins: 1 / R + jwC, with the coil's own C. [shape=(...), complex]"""
    capacitance_F = 1e-12 * _total_pF(coil, load)
    return np.asarray(_conductance(load.resistance_ohm) + 1j * _omega(frequency_hz) * capacitance_F)


def voltage_transfer(coil: Coil, load: Load, frequency_hz: ArrayLike) -> ComplexArray:
    """Return the voltage at the load for an EMF of 1 V. [shape=(...), complex]

    1 / (1 + Zs Y), the voltage divider of `source_impedance_ohm` and `load_admittance_siemens`.
    """
    source = source_impedance_ohm(coil, frequency_hz)
    return np.asarray(1.0 / (1.0 + source * load_admittance_siemens(coil, load, frequency_hz)))


def stepped_up_transfer(coil: Coil, transformer: StepUp, load: Load, frequency_hz: ArrayLike) -> ComplexArray:
    """Return the voltage at the load behind a step-up transformer for an EMF of 1 V. [shape=(...), complex]

    The transformer is its T equivalent: primary resistance and leakage in series, magnetising inductance and
    core loss across, an ideal 1:n, secondary resistance in series (textbook). The coil's own capacitance
    (across the primary) is kept; winding capacitance joins that of the load.
    """
    turns = np.asarray(transformer.turns_ratio, dtype=float)
    source, series, across, secondary = _transformer_arms(coil, transformer, frequency_hz)
    at_load = 1.0 / load_admittance_siemens(_bare_winding(transformer), load, frequency_hz)
    reflected = (secondary + at_load) / turns**2
    inner = 1.0 / (1.0 / across + 1.0 / reflected)
    at_pins = 1.0 / (1.0 / (series + inner) + _coil_susceptance(coil, frequency_hz))
    pins = at_pins / (source + at_pins)
    core = pins * inner / (series + inner)
    return np.asarray(core * turns * at_load / (secondary + at_load))


def reflected_load_ohm(transformer: StepUp, load: Load, frequency_hz: ArrayLike) -> ComplexArray:
    """Return the impedance that the cartridge sees into the primary. [shape=(...), complex]

    Near mid-band about (load + secondary resistance) / n^2 + primary resistance.
    """
    turns = np.asarray(transformer.turns_ratio, dtype=float)
    silent = Coil(resistance_ohm=0.0, inductance_mH=0.0)
    _, series, across, secondary = _transformer_arms(silent, transformer, frequency_hz)
    at_load = 1.0 / load_admittance_siemens(_bare_winding(transformer), load, frequency_hz)
    reflected = (secondary + at_load) / turns**2
    return np.asarray(series + 1.0 / (1.0 / across + 1.0 / reflected))


def current_transfer_siemens(coil: Coil, input_ohm: ArrayLike, frequency_hz: ArrayLike) -> ComplexArray:
    """Return the current into a low-impedance (current, transimpedance) input for an EMF of 1 V.

    [shape=(...), complex] 1 / (Zs + Rin + jwC Zs Rin) with the coil's own C; times the feedback resistance
    it is the output of the stage. The input resistance may be 0.
    """
    source = source_impedance_ohm(coil, frequency_hz)
    resistance = np.asarray(input_ohm, dtype=float)
    return np.asarray(
        1.0 / (source + resistance + source * resistance * _coil_susceptance(coil, frequency_hz))
    )


def terminal_impedance_ohm(coil: Coil, load: Load, frequency_hz: ArrayLike) -> ComplexArray:
    """Return the impedance across the input, cartridge and load in parallel. [shape=(...), complex]"""
    source = source_impedance_ohm(coil, frequency_hz)
    return np.asarray(source / (1.0 + source * load_admittance_siemens(coil, load, frequency_hz)))


def stepped_up_impedance_ohm(
    coil: Coil, transformer: StepUp, load: Load, frequency_hz: ArrayLike
) -> ComplexArray:
    """Return the impedance across the input behind a step-up transformer. [shape=(...), complex]"""
    turns = np.asarray(transformer.turns_ratio, dtype=float)
    source, series, across, secondary = _transformer_arms(coil, transformer, frequency_hz)
    at_pins = source / (1.0 + source * _coil_susceptance(coil, frequency_hz))
    out = secondary + turns**2 / (1.0 / across + 1.0 / (series + at_pins))
    return np.asarray(
        out / (1.0 + out * load_admittance_siemens(_bare_winding(transformer), load, frequency_hz))
    )


def decibels(ratio: ArrayLike) -> FloatArray:
    """Return 20 log10 of a ratio's magnitude. [shape=(...)]"""
    return np.asarray(20.0 * np.log10(np.abs(np.asarray(ratio))))


def response_db(coil: Coil, load: Load, frequency_hz: ArrayLike) -> FloatArray:
    """Return the level at the load in dB, 0 at 1 kHz. [shape=(...)]"""
    return np.asarray(
        decibels(voltage_transfer(coil, load, frequency_hz))
        - decibels(voltage_transfer(coil, load, REFERENCE_HZ))
    )


def phase_deg(transfer: ArrayLike) -> FloatArray:
    """Return the phase of a transfer in degrees, -180 to 180. [shape=(...)]"""
    return np.asarray(np.degrees(np.angle(np.asarray(transfer))))


def resonance(coil: Coil, load: Load) -> Resonance:
    """Return resonance, Q and peak of the loaded coil, in closed form. [each shape=(...), broadcast]

    The transfer is (1 + b s) / (a0 + a1 s + a2 s^2), s = jw, with the coefficients of docs/electrics.md; its
    peak is where the derivative of the squared magnitude in
    w^2 is zero, a quadratic equation.
    """
    b, a0, a1, a2 = _coefficients(coil, load)
    with np.errstate(divide="ignore", invalid="ignore"):
        lc = 1e-15 * np.asarray(coil.inductance_mH, dtype=float) * _total_pF(coil, load)
        natural = np.sqrt(a0 / a2)
        q = np.where(a2 > 0.0, np.sqrt(a0 * a2) / a1, 0.0)
        square = _peak_omega_square(b, a0, a1, a2)
        peak_hz = np.sqrt(square) / (2.0 * np.pi)
        shape = np.broadcast_shapes(np.shape(lc), np.shape(a0))
        resonance_hz = np.broadcast_to(1.0 / (2.0 * np.pi * np.sqrt(lc)), shape)
    peak_db = level_db(b, a0, a1, a2, peak_hz) - level_db(b, a0, a1, a2, REFERENCE_HZ)
    return Resonance(
        resonance_hz=np.asarray(resonance_hz),
        natural_hz=np.asarray(natural / (2.0 * np.pi)),
        q=np.asarray(q),
        peak_hz=np.asarray(peak_hz),
        peak_db=np.asarray(peak_db),
    )


def deviation_20_20k_db(coil: Coil, load: Load) -> FloatArray:
    """Return the largest departure from the level at 1 kHz, 20 Hz to 20 kHz, in dB. [shape=(...), >= 0]

    Exact: the response has one peak at most, so the largest departure is at an end or at the peak.
    """
    parts = _coefficients(coil, load)
    with np.errstate(divide="ignore", invalid="ignore"):
        peak_hz = np.sqrt(_peak_omega_square(*parts)) / (2.0 * np.pi)
    low, high = AUDIBLE_HZ
    inside = np.where((peak_hz > low) & (peak_hz < high), peak_hz, high)
    reference = level_db(*parts, REFERENCE_HZ)
    departures = [np.abs(level_db(*parts, at) - reference) for at in (low, inside, high)]
    return np.asarray(np.maximum.reduce(departures))


def level_db(
    b: ArrayLike, a0: ArrayLike, a1: ArrayLike, a2: ArrayLike, frequency_hz: ArrayLike
) -> FloatArray:
    """Return 20 log10 |1 + b s| / |a0 + a1 s + a2 s^2| at s = j 2 pi f. [shape=(...), broadcast]"""
    square = _omega(frequency_hz) ** 2
    numerator = 1.0 + np.asarray(b) ** 2 * square
    denominator = (np.asarray(a0) - np.asarray(a2) * square) ** 2 + np.asarray(a1) ** 2 * square
    return np.asarray(10.0 * np.log10(numerator / denominator))


def _coefficients(coil: Coil, load: Load) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return b, a0, a1, a2 of the transfer (1 + b s) / (a0 + a1 s + a2 s^2)."""
    resistance = np.asarray(coil.resistance_ohm, dtype=float)
    inductance = 1e-3 * np.asarray(coil.inductance_mH, dtype=float)
    loss, shunt = _conductance(coil.iron_loss_ohm), _conductance(load.resistance_ohm)
    capacitance = 1e-12 * _total_pF(coil, load)
    a0 = 1.0 + resistance * shunt
    b = inductance * loss
    a1 = b * a0 + inductance * shunt + resistance * capacitance
    a2 = inductance * capacitance * (1.0 + resistance * loss)
    return np.asarray(b), np.asarray(a0), np.asarray(a1), np.asarray(a2)


def _peak_omega_square(b: FloatArray, a0: FloatArray, a1: FloatArray, a2: FloatArray) -> FloatArray:
    """Return w^2 of the peak; NaN where there is none.

    With x = w^2, N = 1 + n x and D = d0 + d1 x + d2 x^2, the condition N' D = N D' is
    n d2 x^2 + 2 d2 x - (n d0 - d1) = 0. Its positive root is written so that n = 0 needs no case of its own.
    """
    n, d0, d1, d2 = b**2, a0**2, a1**2 - 2.0 * a0 * a2, a2**2
    rest = n * d0 - d1
    root = rest / (d2 + np.sqrt(d2**2 + np.where(rest > 0.0, n * d2 * rest, 0.0)))
    return np.where((rest > 0.0) & (d2 > 0.0), root, np.nan)


def _transformer_arms(
    coil: Coil, transformer: StepUp, frequency_hz: ArrayLike
) -> tuple[ComplexArray, ComplexArray, ComplexArray, FloatArray]:
    """Return the impedances of source, primary in series, core across, and secondary in series."""
    omega = _omega(frequency_hz)
    series = np.asarray(transformer.primary_ohm) + 1j * omega * 1e-6 * np.asarray(transformer.leakage_uH)
    magnetising = 1j * omega * np.asarray(transformer.primary_H, dtype=float)
    across = magnetising / (1.0 + magnetising * _conductance(transformer.core_loss_ohm))
    secondary = np.asarray(transformer.secondary_ohm, dtype=float)
    return source_impedance_ohm(coil, frequency_hz), np.asarray(series), np.asarray(across), secondary


def _bare_winding(transformer: StepUp) -> Coil:
    return Coil(resistance_ohm=0.0, inductance_mH=0.0, shunt_pF=transformer.winding_pF)


def _coil_susceptance(coil: Coil, frequency_hz: ArrayLike) -> ComplexArray:
    return np.asarray(1j * _omega(frequency_hz) * 1e-12 * np.asarray(coil.shunt_pF, dtype=float))


def _omega(frequency_hz: ArrayLike) -> FloatArray:
    return np.asarray(2.0 * np.pi * np.asarray(frequency_hz, dtype=float))


def _conductance(resistance_ohm: ArrayLike) -> FloatArray:
    return np.asarray(1.0 / np.asarray(resistance_ohm, dtype=float))


def _total_pF(coil: Coil, load: Load) -> FloatArray:
    return np.asarray(np.asarray(coil.shunt_pF, dtype=float) + np.asarray(load.capacitance_pF, dtype=float))
