"""The level budget: output, gain, overload margin, hum, thermal noise, signal to noise.

Velocities are those of the groove wall's motion in one channel. Voltages are rms, velocities say in their
name whether they are peak or rms. The rated output is taken as the EMF: into 47 kOhm a moving magnet of
800 ohm loses 0.15 dB of it, which `voltage_transfer` accounts for.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from groovewright.quantities import FloatArray

BOLTZMANN_J_PER_K = 1.380649e-23
"""Exact in the SI since 2019."""

ROOM_K = 296.0
"""23 degrees Celsius, what a room usually is."""

NOISE_HZ: FloatArray = np.geomspace(20.0, 20000.0, 1201)
"""Grid for noise integrals; the trapezoid rule on it is good to better than 0.001 dB (a test shows it)."""

LOUD_GROOVES = (
    (100.0, 6.0),
    (300.0, 15.0),
    (1000.0, 30.0),
    (3000.0, 45.0),
    (10000.0, 25.0),
    (20000.0, 10.0),
)
"""Frequency in Hz and peak velocity in cm/s of the loudest passages on microgroove records.

Common practice, from memory: amplitude limits the low end, the cutter the middle, curvature and the treble
content of music the top. Single passages on single records go beyond."""


def peak_from_rms(rms: ArrayLike) -> FloatArray:
    """Return the peak of a sine from its rms value: 3.54 cm/s rms is 5 cm/s peak. [shape=(...)]"""
    return np.asarray(np.sqrt(2.0) * np.asarray(rms, dtype=float))


def rms_from_peak(peak: ArrayLike) -> FloatArray:
    """Return the rms value of a sine from its peak. [shape=(...)]"""
    return np.asarray(np.asarray(peak, dtype=float) / np.sqrt(2.0))


def sensitivity_mV_s_per_cm(output_mV: ArrayLike, reference_rms_cm_per_s: ArrayLike) -> FloatArray:
    """Return the EMF for 1 cm/s, rms for rms and peak for peak, in mV. [shape=(...), broadcast]"""
    return np.asarray(np.asarray(output_mV, dtype=float) / np.asarray(reference_rms_cm_per_s, dtype=float))


def gain_needed_db(emf_mV: ArrayLike, transfer_1k: ArrayLike, line_mV: ArrayLike) -> FloatArray:
    """Return the gain at 1 kHz that brings a cartridge's EMF to a line level, in dB. [shape=(...), broadcast]

    `transfer_1k` is the magnitude of the transfer into the load (with a transformer, its step-up included).
    """
    at_input = np.asarray(emf_mV, dtype=float) * np.abs(np.asarray(transfer_1k))
    return np.asarray(20.0 * np.log10(np.asarray(line_mV, dtype=float) / at_input))


def transimpedance_needed_ohm(
    emf_mV: ArrayLike, transfer_1k_siemens: ArrayLike, line_mV: ArrayLike
) -> FloatArray:
    """Return the feedback resistance at 1 kHz with which a current input reaches a line level.

    [shape=(...), broadcast] line / (EMF |I / EMF|), with the transfer of `current_transfer_siemens`.
    """
    current_mA = np.asarray(emf_mV, dtype=float) * np.abs(np.asarray(transfer_1k_siemens))
    return np.asarray(np.asarray(line_mV, dtype=float) / current_mA)


def overload_margin_db(
    sensitivity_mV_s_per_cm: ArrayLike,
    transfer: ArrayLike,
    velocity_peak_cm_per_s: ArrayLike,
    overload_mV: ArrayLike,
) -> FloatArray:
    """Return how far the input's limit lies above the cartridge's loudest signal, in dB. [shape=(...)]

    `overload_mV` is the largest sine (rms) that the input takes at the frequency of `transfer`. A stage that
    overloads at its output takes less at low frequencies and more at high ones, in inverse proportion to the
    replay curve; one that overloads ahead of its equaliser takes the same everywhere.
    """
    emf = np.asarray(sensitivity_mV_s_per_cm, dtype=float) * rms_from_peak(velocity_peak_cm_per_s)
    return np.asarray(
        20.0 * np.log10(np.asarray(overload_mV, dtype=float) / (emf * np.abs(np.asarray(transfer))))
    )


def output_limited_overload_mV(overload_1k_mV: ArrayLike, replay_db: ArrayLike) -> FloatArray:
    """Return the input overload at each frequency of a stage that clips at its output. [shape=(...)]"""
    return np.asarray(
        np.asarray(overload_1k_mV, dtype=float) * 10.0 ** (-np.asarray(replay_db, dtype=float) / 20.0)
    )


def thermal_noise_uV(
    resistance_ohm: ArrayLike, bandwidth_hz: ArrayLike, *, temperature_K: ArrayLike = ROOM_K
) -> FloatArray:
    """Return the thermal noise voltage of a resistor, sqrt(4 k T R B). [shape=(...), broadcast]

    J. B. Johnson and H. Nyquist, Phys. Rev. 32, 97 and 110 (1928).
    """
    product = (
        np.asarray(resistance_ohm, dtype=float)
        * np.asarray(bandwidth_hz, dtype=float)
        * np.asarray(temperature_K, dtype=float)
    )
    return np.asarray(1e6 * np.sqrt(4.0 * BOLTZMANN_J_PER_K * product))


def noise_density_nV(
    impedance_ohm: ArrayLike,
    *,
    amplifier_nV: ArrayLike = 0.0,
    amplifier_pA: ArrayLike = 0.0,
    temperature_K: ArrayLike = ROOM_K,
) -> FloatArray:
    """Return the noise voltage across the input in nV per root hertz. [shape=(...), broadcast]

    sqrt(4 k T Re Z + e^2 + i^2 |Z|^2): Nyquist's theorem for the whole one-port (cartridge and load at one
    temperature), and the amplifier's uncorrelated voltage and current noise (textbook).
    """
    impedance = np.asarray(impedance_ohm)
    thermal = 4e18 * BOLTZMANN_J_PER_K * np.asarray(temperature_K, dtype=float) * impedance.real
    current = (1e-3 * np.asarray(amplifier_pA, dtype=float) * np.abs(impedance)) ** 2
    return np.asarray(np.sqrt(thermal + np.asarray(amplifier_nV, dtype=float) ** 2 + current))


def noise_uV(frequency_hz: ArrayLike, density_nV: ArrayLike, *weightings_db: ArrayLike) -> FloatArray:
    """Return the noise voltage over the whole of `frequency_hz`, through the weightings. [shape=(...)]

    The integral of density^2 10^(weighting / 10) over frequency, along the last axis, by the trapezoid rule
    in log f. Weightings (replay curve, A-weighting) are in dB on the same frequencies.
    """
    frequency = np.asarray(frequency_hz, dtype=float)
    power = np.asarray(density_nV, dtype=float) ** 2 * frequency
    for weighting in weightings_db:
        power = power * 10.0 ** (np.asarray(weighting, dtype=float) / 10.0)
    return np.asarray(1e-3 * np.sqrt(np.trapezoid(power, np.log(frequency), axis=-1)))


def hum_uV(component_uV: ArrayLike, *weightings_db: ArrayLike) -> FloatArray:
    """Return the hum of several harmonics together, through the weightings. [shape=(...)]

    Root of the sum of squares along the last axis; weightings in dB at the same frequencies.
    """
    power = np.asarray(component_uV, dtype=float) ** 2
    for weighting in weightings_db:
        power = power * 10.0 ** (np.asarray(weighting, dtype=float) / 10.0)
    return np.asarray(np.sqrt(power.sum(axis=-1)))


def loop_hum_uV(flux_density_uT: ArrayLike, loop_cm2: ArrayLike, frequency_hz: ArrayLike) -> FloatArray:
    """Return the EMF that an alternating field induces in a loop of the leads. [shape=(...), broadcast]

    2 pi f B A (Faraday's law), the field square to the loop.
    """
    area_m2 = 1e-4 * np.asarray(loop_cm2, dtype=float)
    omega = 2.0 * np.pi * np.asarray(frequency_hz, dtype=float)
    return np.asarray(omega * np.asarray(flux_density_uT, dtype=float) * area_m2)


def signal_to_noise_db(signal_mV: ArrayLike, noise_uV: ArrayLike) -> FloatArray:
    """Return the level of the signal above the noise, both across the input. [shape=(...), broadcast]"""
    return np.asarray(
        20.0 * np.log10(1e3 * np.asarray(signal_mV, dtype=float) / np.asarray(noise_uV, dtype=float))
    )
