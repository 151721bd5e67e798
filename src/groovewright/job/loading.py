"""The cartridge that goes in as a circuit, into the phono input that the job describes."""

from __future__ import annotations

from groovewright.electrics import SWEEP_HZ, Chain, Study, curve_db, nominal, study
from groovewright.job.records import Cartridge, Phono
from groovewright.quantities import FloatArray, Reading

DEFAULT_SPREAD = 0.05
"""Relative standard uncertainty of a coil's data-sheet figures (common practice)."""

DEFAULT_CABLE_SPREAD = 0.10


def loading_study(cartridge: Cartridge, phono: Phono | None) -> Study | None:
    """Return how the cartridge behaves into the phono input; None where a figure is missing."""
    inductance, resistance = cartridge.inductance_mH, cartridge.resistance_ohm
    if inductance is None or resistance is None or phono is None:
        return None
    if not (phono.load_ohm or phono.offered_ohm) or (phono.load_pF is None and not phono.offered_pF):
        return None
    return study(
        _chain(cartridge, inductance, resistance, phono),
        phono.load_ohm,
        phono.load_pF,
        phono.offered_ohm,
        phono.offered_pF,
    )


def _chain(cartridge: Cartridge, inductance_mH: float, resistance_ohm: float, phono: Phono) -> Chain:
    cable = phono.cable_pF or 0.0
    iron = cartridge.iron_loss_ohm
    return Chain(
        resistance_ohm=Reading(resistance_ohm, DEFAULT_SPREAD * resistance_ohm),
        inductance_mH=Reading(inductance_mH, DEFAULT_SPREAD * inductance_mH),
        cable_pF=Reading(cable, DEFAULT_CABLE_SPREAD * cable),
        iron_loss_ohm=None if iron is None else Reading(iron, DEFAULT_SPREAD * iron),
    )


def load_curve_db(cartridge: Cartridge | None, phono: Phono | None) -> tuple[FloatArray, FloatArray] | None:
    """Return frequency and level about 1 kHz of the cartridge into its load, as on paper. [each shape=(m,)]

    The load is the one in use, else the best of what is offered, as in `loading_study`. None where a figure is
    missing.
    """
    if cartridge is None or phono is None:
        return None
    inductance, resistance = cartridge.inductance_mH, cartridge.resistance_ohm
    if inductance is not None and resistance is not None and phono.load_ohm and phono.load_pF is not None:
        paper = nominal(_chain(cartridge, inductance, resistance, phono))
        return SWEEP_HZ, curve_db(paper, paper.load(phono.load_ohm, phono.load_pF))[0]
    found = loading_study(cartridge, phono)
    return None if found is None else (found.frequency_hz, found.response_db)
