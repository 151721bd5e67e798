"""The level budget of one chain as readings: every figure with its uncertainty, what is missing left out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from groovewright.electrics.chain import (
    SEED,
    Chain,
    Draws,
    draws,
    impedance_ohm,
    nominal,
    reading_of,
    stratified_normal,
    transfer,
)
from groovewright.electrics.circuit import REFERENCE_HZ
from groovewright.electrics.equaliser import (
    MICROGROOVE,
    ReplayCurve,
    a_weighting_db,
    replay_db,
    with_amendment,
)
from groovewright.electrics.levels import (
    LOUD_GROOVES,
    NOISE_HZ,
    ROOM_K,
    gain_needed_db,
    hum_uV,
    noise_density_nV,
    noise_uV,
    overload_margin_db,
    sensitivity_mV_s_per_cm,
    signal_to_noise_db,
)
from groovewright.quantities import FloatArray, Reading

BUDGET_DRAWS = 400


@dataclass(frozen=True)
class Signal:
    """What the cartridge gives, and what the stage is like.

    Parameters
    ----------
    emf_mV : Reading
        Output, rms, at the reference velocity.
    reference_rms_cm_per_s : float
        The reference velocity, rms.
    line_mV : float
        The level wanted behind the phono stage for that velocity, rms.
    overload_mV : float or None
        Largest sine at 1 kHz, rms, that the input takes.
    amplifier_nV, amplifier_pA : float
        Its noise per root hertz; 0 and 0 leave the cartridge and its load alone.
    hum : tuple of (Hz, microvolt)
        Measured at the input, rms; empty where it isn't known.
    curve : ReplayCurve
        Replay equalisation without the amendment.
    temperature_K : float
    """

    emf_mV: Reading
    reference_rms_cm_per_s: float
    line_mV: float
    overload_mV: float | None = None
    amplifier_nV: float = 0.0
    amplifier_pA: float = 0.0
    hum: tuple[tuple[float, float], ...] = ()
    curve: ReplayCurve = MICROGROOVE
    temperature_K: float = ROOM_K


@dataclass(frozen=True)
class Budget:
    """The level budget at one load. Levels are about the signal of the reference velocity at 1 kHz.

    Parameters
    ----------
    signal : Signal
        What it was computed from.
    sensitivity_mV_s_per_cm : Reading
        EMF, rms for rms or peak for peak.
    gain_needed_db : Reading
        At 1 kHz.
    overload_margin_db : Reading or None
        Least over `LOUD_GROOVES`, for a stage that clips at its input; None where the overload isn't known.
    overload_at_hz : float or None
        Where it is least.
    signal_to_noise_db, signal_to_noise_amended_db : Reading
        With the replay curve, without and with the amendment, 20 Hz to 20 kHz.
    signal_to_noise_a_db, signal_to_noise_amended_a_db : Reading
        The same, A-weighted.
    signal_to_hum_db, signal_to_hum_amended_db, signal_to_hum_a_db : Reading or None
        The same for the hum; None where it isn't known.
    """

    signal: Signal
    sensitivity_mV_s_per_cm: Reading
    gain_needed_db: Reading
    overload_margin_db: Reading | None
    overload_at_hz: float | None
    signal_to_noise_db: Reading
    signal_to_noise_amended_db: Reading
    signal_to_noise_a_db: Reading
    signal_to_noise_amended_a_db: Reading
    signal_to_hum_db: Reading | None
    signal_to_hum_amended_db: Reading | None
    signal_to_hum_a_db: Reading | None


def level_budget(chain: Chain, signal: Signal, load_ohm: float, load_pF: float) -> Budget:
    """Return the level budget of a chain at one load, by draws."""
    paper = _figures(nominal(chain), signal, load_ohm, load_pF, _emf(signal, 1))
    versions = draws(chain, BUDGET_DRAWS)
    drawn = _figures(versions, signal, load_ohm, load_pF, _emf(signal, BUDGET_DRAWS))
    readings = {name: reading_of(float(paper[name][0]), drawn[name]) for name in drawn}
    at_hz = None if signal.overload_mV is None else _tightest_hz(nominal(chain), signal, load_ohm, load_pF)
    return Budget(
        signal=signal,
        sensitivity_mV_s_per_cm=readings["sensitivity_mV_s_per_cm"],
        gain_needed_db=readings["gain_needed_db"],
        overload_margin_db=readings.get("overload_margin_db"),
        overload_at_hz=at_hz,
        signal_to_noise_db=readings["signal_to_noise_db"],
        signal_to_noise_amended_db=readings["signal_to_noise_amended_db"],
        signal_to_noise_a_db=readings["signal_to_noise_a_db"],
        signal_to_noise_amended_a_db=readings["signal_to_noise_amended_a_db"],
        signal_to_hum_db=readings.get("signal_to_hum_db"),
        signal_to_hum_amended_db=readings.get("signal_to_hum_amended_db"),
        signal_to_hum_a_db=readings.get("signal_to_hum_a_db"),
    )


def _emf(signal: Signal, count: int) -> FloatArray:
    """Return draws of the EMF, lognormal; one draw is the value itself. [shape=(count,)]"""
    normal = np.zeros(1) if count == 1 else stratified_normal(1, count, SEED + 1)[0]
    return np.asarray(signal.emf_mV.value * np.exp(signal.emf_mV.sd / signal.emf_mV.value * normal))


def _figures(
    versions: Draws, signal: Signal, load_ohm: float, load_pF: float, emf_mV: FloatArray
) -> dict[str, FloatArray]:
    """Return every figure of the budget for every draw. [each shape=(n,)]"""
    load = versions.load(load_ohm, load_pF)
    at_1k = np.abs(transfer(versions, load, [REFERENCE_HZ]))[:, 0]
    at_input_mV = emf_mV * at_1k
    density = noise_density_nV(
        impedance_ohm(versions, load, NOISE_HZ),
        amplifier_nV=signal.amplifier_nV,
        amplifier_pA=signal.amplifier_pA,
        temperature_K=signal.temperature_K,
    )
    figures = {
        "sensitivity_mV_s_per_cm": sensitivity_mV_s_per_cm(emf_mV, signal.reference_rms_cm_per_s),
        "gain_needed_db": gain_needed_db(emf_mV, at_1k, signal.line_mV),
    }
    for name, curves in _weightings(signal.curve, NOISE_HZ).items():
        figures[f"signal_to_noise{name}_db"] = signal_to_noise_db(
            at_input_mV, noise_uV(NOISE_HZ, density, *curves)
        )
    if signal.hum:
        hum_hz, hum = np.array(signal.hum, dtype=float).T
        for name, curves in _weightings(signal.curve, hum_hz).items():
            if name != "_amended_a":
                figures[f"signal_to_hum{name}_db"] = signal_to_noise_db(at_input_mV, hum_uV(hum, *curves))
    if signal.overload_mV is not None:
        figures["overload_margin_db"] = _margins_db(versions, signal, load_ohm, load_pF, emf_mV).min(axis=-1)
    return figures


def _margins_db(
    versions: Draws, signal: Signal, load_ohm: float, load_pF: float, emf_mV: FloatArray
) -> FloatArray:
    """Return the overload margin at each of the loud grooves. [shape=(n, grooves)]"""
    groove_hz, velocity = np.array(LOUD_GROOVES).T
    limit = np.inf if signal.overload_mV is None else signal.overload_mV
    return overload_margin_db(
        sensitivity_mV_s_per_cm(emf_mV, signal.reference_rms_cm_per_s)[:, None],
        transfer(versions, versions.load(load_ohm, load_pF), groove_hz),
        velocity,
        limit,
    )


def _tightest_hz(paper: Draws, signal: Signal, load_ohm: float, load_pF: float) -> float:
    margins = _margins_db(paper, signal, load_ohm, load_pF, _emf(signal, 1))
    return LOUD_GROOVES[int(margins[0].argmin())][0]


def _weightings(curve: ReplayCurve, frequency_hz: FloatArray) -> dict[str, tuple[FloatArray, ...]]:
    plain, amended = replay_db(frequency_hz, curve), replay_db(frequency_hz, with_amendment(curve))
    a_curve = a_weighting_db(frequency_hz)
    return {"": (plain,), "_amended": (amended,), "_a": (plain, a_curve), "_amended_a": (amended, a_curve)}
