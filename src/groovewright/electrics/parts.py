"""The parts of the electrical chain as nouns, and what a person may type for each of their values.

Every field takes a number or a NumPy array: a record of arrays is an array of cartridges.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from groovewright.quantities import Limits, OtherUnit


@dataclass(frozen=True)
class Coil:
    """One channel of a cartridge, seen from its pins.

    Parameters
    ----------
    resistance_ohm : array_like > 0
        Of the winding, in series.
    inductance_mH : array_like >= 0
        In series. The makers give it at 1 kHz.
    iron_loss_ohm : array_like > 0
        Across the inductance: eddy currents and hysteresis in the core; infinite where there is none.
    shunt_pF : array_like >= 0
        The winding's own capacitance, across the pins.
    """

    resistance_ohm: ArrayLike
    inductance_mH: ArrayLike
    iron_loss_ohm: ArrayLike = np.inf
    shunt_pF: ArrayLike = 0.0


@dataclass(frozen=True)
class Load:
    """What hangs on the pins: the input's resistance, and all capacitance of leads, cable and input.

    Parameters
    ----------
    resistance_ohm : array_like > 0
        Infinite for an open end.
    capacitance_pF : array_like >= 0
        The sum of arm leads, cable, the input itself and what is switched in.
    """

    resistance_ohm: ArrayLike
    capacitance_pF: ArrayLike = 0.0


@dataclass(frozen=True)
class StepUp:
    """A step-up transformer between a moving coil and the load, primary at the cartridge.

    Parameters
    ----------
    turns_ratio : array_like > 0
        Secondary turns to primary turns.
    primary_ohm, secondary_ohm : array_like >= 0
        Winding resistances.
    primary_H : array_like > 0
        Magnetising inductance, seen from the primary.
    leakage_uH : array_like >= 0
        All leakage inductance, seen from the primary.
    core_loss_ohm : array_like > 0
        Across the magnetising inductance; infinite where there is none.
    winding_pF : array_like >= 0
        Capacitance of the secondary, across it.
    """

    turns_ratio: ArrayLike
    primary_ohm: ArrayLike
    secondary_ohm: ArrayLike
    primary_H: ArrayLike
    leakage_uH: ArrayLike = 0.0
    core_loss_ohm: ArrayLike = np.inf
    winding_pF: ArrayLike = 0.0


def in_parallel(coil: Coil, *, coupling: ArrayLike = 0.0) -> Coil:
    """Return the coil that two equal ones, strapped in parallel for mono, make together.

    The EMF stays that of one coil where both carry the same signal. With the coupling k (-1 to 1) between
    them the inductance is L (1 + k) / 2 (textbook, M = k L).
    """
    return Coil(
        resistance_ohm=np.asarray(coil.resistance_ohm, dtype=float) / 2.0,
        inductance_mH=np.asarray(coil.inductance_mH, dtype=float) * (1.0 + np.asarray(coupling)) / 2.0,
        iron_loss_ohm=np.asarray(coil.iron_loss_ohm, dtype=float) / 2.0,
        shunt_pF=np.asarray(coil.shunt_pF, dtype=float) * 2.0,
    )


def in_series(coil: Coil, *, coupling: ArrayLike = 0.0) -> Coil:
    """Return the coil that two equal ones, strapped in series for mono, make together.

    The EMF is twice that of one coil where both carry the same signal. With the coupling k (-1 to 1) between
    them the inductance is 2 L (1 + k).
    """
    return Coil(
        resistance_ohm=np.asarray(coil.resistance_ohm, dtype=float) * 2.0,
        inductance_mH=np.asarray(coil.inductance_mH, dtype=float) * 2.0 * (1.0 + np.asarray(coupling)),
        iron_loss_ohm=np.asarray(coil.iron_loss_ohm, dtype=float) * 2.0,
        shunt_pF=np.asarray(coil.shunt_pF, dtype=float) / 2.0,
    )


KILOOHM = OtherUnit("kilo-ohm", 1e3)
MEGOHM = OtherUnit("megohm", 1e6)
MILLIOHM = OtherUnit("milliohm", 1e-3)
HENRY = OtherUnit("henry", 1e3)
MICROHENRY = OtherUnit("microhenry", 1e-3)
NANOFARAD = OtherUnit("nF", 1e3)
MICROFARAD = OtherUnit("µF", 1e6)
FARAD = OtherUnit("farad", 1e12)
VOLT = OtherUnit("volt", 1e3)
MICROVOLT = OtherUnit("microvolt", 1e-3)

_CAPACITANCE = Limits(
    "capacitance (0 where there is none)", 5.0, 5000.0, "pF", (NANOFARAD, MICROFARAD, FARAD)
)
IRON_LOSS = Limits("loss resistance of the iron", 100.0, 1e8, "ohm", (KILOOHM, MEGOHM))
TURNS_RATIO = Limits("turns ratio of the step-up transformer", 1.0, 100.0, "")
PRIMARY_RESISTANCE = Limits("primary resistance", 0.0, 100.0, "ohm", (MILLIOHM,))
SECONDARY_RESISTANCE = Limits("secondary resistance", 1.0, 20000.0, "ohm", (KILOOHM,))
PRIMARY_INDUCTANCE = Limits(
    "primary inductance", 0.001, 20.0, "H", (OtherUnit("millihenry", 1e-3), OtherUnit("microhenry", 1e-6))
)
LEAKAGE = Limits(
    "leakage inductance", 0.0, 5000.0, "µH", (OtherUnit("nanohenry", 1e-3), OtherUnit("henry", 1e6))
)
VELOCITY = Limits("reference velocity", 0.5, 30.0, "cm/s", (OtherUnit("m/s", 100.0), OtherUnit("mm/s", 0.1)))
LINE_LEVEL = Limits("level wanted behind the phono stage", 10.0, 20000.0, "mV", (VOLT, MICROVOLT))
OVERLOAD = Limits("overload of the input", 0.2, 2000.0, "mV", (VOLT, MICROVOLT))
NOISE_VOLTAGE = Limits(
    "noise voltage of the input", 0.0, 100.0, "nV per root hertz", (OtherUnit("pV per root hertz", 1e-3),)
)
NOISE_CURRENT = Limits(
    "noise current of the input", 0.0, 100.0, "pA per root hertz", (OtherUnit("fA per root hertz", 1e-3),)
)
TOLERANCE = Limits("allowed departure from flat", 0.05, 20.0, "dB")
SPREAD = Limits("standard uncertainty", 0.0, 50.0, "%")


@dataclass(frozen=True)
class Kind:
    """A kind of cartridge, and the widest limits in which its values are believed (common practice)."""

    name: str
    inductance: Limits
    resistance: Limits
    load: Limits
    output: Limits


MOVING_MAGNET = Kind(
    "moving-magnet",
    Limits("inductance of a moving magnet or moving iron", 2.0, 3000.0, "mH", (HENRY, MICROHENRY)),
    Limits("coil resistance of a moving magnet or moving iron", 5.0, 6000.0, "ohm", (KILOOHM, MILLIOHM)),
    Limits("load resistance of a moving magnet or moving iron", 1e3, 1e7, "ohm", (KILOOHM, MEGOHM)),
    Limits("output of a moving magnet or moving iron", 0.3, 50.0, "mV", (VOLT, MICROVOLT)),
)
MOVING_COIL = Kind(
    "moving-coil",
    Limits("inductance of a moving coil", 0.0005, 20.0, "mH", (HENRY, MICROHENRY)),
    Limits("coil resistance of a moving coil", 0.5, 500.0, "ohm", (KILOOHM, MILLIOHM)),
    Limits("load resistance of a moving coil", 0.1, 1e7, "ohm", (KILOOHM, MEGOHM)),
    Limits("output of a moving coil", 0.02, 6.0, "mV", (VOLT, MICROVOLT)),
)
KINDS = {"moving-magnet": MOVING_MAGNET, "moving-iron": MOVING_MAGNET, "moving-coil": MOVING_COIL}
"""What the person calls it, and its limits; moving iron behaves as moving magnet at its pins."""


def check_capacitance_pF(value_pF: float, where: str = "") -> float:
    """Return a capacitance that a person gave: 0, or 5 to 5000 pF.

    Raises
    ------
    InputError
        Out of range; names nF, µF or farads where the value would fit in one of those.
    """
    if value_pF == 0.0 and not isinstance(value_pF, bool):
        return 0.0
    return _CAPACITANCE.check(value_pF, where)
