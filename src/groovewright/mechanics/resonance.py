"""Will cartridge and arm suit each other: the resonance of the arm's mass on the stylus suspension.

The groove moves the tip, the suspension is a spring with loss between tip and arm, the arm is a mass, and an
arm damper (a trough of oil, bearing grease) acts between the arm and the player::

      groove y        suspension          arm x
        o-----------[ C, loss factor ]---[ M ]---[ arm damping ]---| player

Everything is element by element over NumPy arrays. Derivations: docs/mechanics.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.quantities import (
    INCHES,
    METRES,
    FloatArray,
    Limits,
    OtherUnit,
    normal_quantile,
    probability_between,
)

ComplexArray = NDArray[np.complex128]

KILOGRAMS = OtherUnit("kilograms", 1000.0)
EFFECTIVE_MASS = Limits("effective mass of the arm", 0.5, 60.0, "g", (KILOGRAMS, OtherUnit("mg", 1e-3)))
CARTRIDGE_MASS = Limits("cartridge mass", 0.5, 45.0, "g", (KILOGRAMS, OtherUnit("mg", 1e-3)))
SMALL_MASS = Limits("mass", 0.0, 40.0, "g", (OtherUnit("mg", 1e-3),))
EFFECTIVE_LENGTH = Limits("effective length", 100.0, 500.0, "mm", (INCHES, METRES))
LOSS_FACTOR = Limits("loss factor of the suspension", 0.02, 2.0, "", (OtherUnit("percent", 0.01),))
RESONANCE_WINDOW = Limits("window for the resonance", 3.0, 40.0, "Hz")

WINDOW_HZ = (8.0, 12.0)
"""The preferred window (common practice)."""


TYPICAL_LOSS_FACTOR = 0.3
TYPICAL_LOSS_LOG_SD = 0.4
"""Rubber suspensions: Q of about 2 to 6 without arm damping (common practice, from memory)."""


def effective_mass_of_g(
    mass_g: ArrayLike, distance_mm: ArrayLike, effective_length_mm: ArrayLike
) -> FloatArray:
    """Return what a mass at some distance from the pivot adds to the effective mass. [shape=(...)]

    m (x / L)^2: the same moment of inertia about the pivot, referred to the stylus. The distance counts from
    the bearing axis, forwards or backwards.
    """
    mass, distance, length = (np.asarray(x, dtype=float) for x in (mass_g, distance_mm, effective_length_mm))
    return np.asarray(mass * (distance / length) ** 2)


def total_effective_mass_g(
    *,
    arm_effective_mass_g: ArrayLike,
    cartridge_mass_g: ArrayLike,
    fastener_mass_g: ArrayLike = 0.0,
    headshell_mass_g: ArrayLike = 0.0,
    added_effective_mass_g: ArrayLike = 0.0,
) -> FloatArray:
    """Return the mass that the suspension has to carry along. [shape=(...), broadcast]

    The arm's figure already holds its headshell, as makers give it; `headshell_mass_g` is for arms quoted
    without one. What sits elsewhere than over the stylus comes through `effective_mass_of_g`.
    """
    parts = (
        arm_effective_mass_g,
        cartridge_mass_g,
        fastener_mass_g,
        headshell_mass_g,
        added_effective_mass_g,
    )
    total: FloatArray = np.asarray(0.0)
    for part in parts:
        total = np.asarray(total + np.asarray(part, dtype=float))
    return total


def resonance_hz(effective_mass_g: ArrayLike, compliance_um_per_mN: ArrayLike) -> FloatArray:
    """Return the undamped resonance, 1000 / (2 pi sqrt(M C)). [shape=(...), broadcast]

    M in g, C in um/mN at the resonance (see `compliance`); textbook formula for a mass on a spring.
    """
    mass, compliance = (np.asarray(x, dtype=float) for x in (effective_mass_g, compliance_um_per_mN))
    return np.asarray(1000.0 / (2.0 * np.pi * np.sqrt(mass * compliance)))


def mass_for_resonance_g(frequency_hz: ArrayLike, compliance_um_per_mN: ArrayLike) -> FloatArray:
    """Return the total effective mass that gives this resonance: 1e6 / ((2 pi f)^2 C). [shape=(...)]"""
    frequency, compliance = (np.asarray(x, dtype=float) for x in (frequency_hz, compliance_um_per_mN))
    return np.asarray(1e6 / ((2.0 * np.pi * frequency) ** 2 * compliance))


def quality_factor(
    effective_mass_g: ArrayLike,
    resonance_hz: ArrayLike,
    loss_factor: ArrayLike,
    arm_damping_mN_s_per_m: ArrayLike = 0.0,
) -> FloatArray:
    """Return Q of the damped resonance. [shape=(...), broadcast]

    1 / Q = loss factor + R / (M w0): the suspension's loss and an arm damper of resistance R at the stylus
    (mN s/m; g/s is the same unit) add up.
    """
    mass, frequency, loss, damping = (
        np.asarray(x, dtype=float)
        for x in (effective_mass_g, resonance_hz, loss_factor, arm_damping_mN_s_per_m)
    )
    return np.asarray(1.0 / (loss + damping / (mass * 2.0 * np.pi * frequency)))


def deflection_response(
    frequency_hz: ArrayLike,
    resonance_hz: ArrayLike,
    loss_factor: ArrayLike,
    arm_damping_ratio: ArrayLike = 0.0,
) -> ComplexArray:
    """Return cantilever deflection over groove displacement, a complex number. [shape=(...), broadcast]

    H = (w^2 - i w w0 a) / (w^2 - w0^2 - i w w0 (a + n)) with n the loss factor and a = R / (M w0) of the arm
    damper (0 without one). Well below the resonance the arm follows the record and H falls as (w / w0)^2 (or
    a w / w0 with a damper); well above it the arm stands still and H is 1, which is how the cartridge is
    meant to work. The suspension's loss counts as a resistance that has the given loss factor at the
    resonance.
    """
    frequency, resonance, loss, arm = (
        np.asarray(x, dtype=float) for x in (frequency_hz, resonance_hz, loss_factor, arm_damping_ratio)
    )
    ratio = frequency / resonance
    top = ratio**2 - 1j * ratio * arm
    return np.asarray(top / (ratio**2 - 1.0 - 1j * ratio * (arm + loss)))


def force_swing_mN(
    groove_displacement_mm: ArrayLike, response: ArrayLike, compliance_um_per_mN: ArrayLike
) -> FloatArray:
    """Return the peak change of force while the groove moves by this peak displacement. [shape=(...)]

    |H| y / C: the suspension is bent by |H| y. As long as it stays well below the tracking force, the stylus
    keeps both walls (the loss adds less than it at these frequencies).
    """
    displacement, compliance = (
        np.asarray(x, dtype=float) for x in (groove_displacement_mm, compliance_um_per_mN)
    )
    return np.asarray(1000.0 * displacement * np.abs(np.asarray(response)) / compliance)


@dataclass(frozen=True)
class LognormalEstimate:
    """A positive number known by its median and the standard deviation of its natural logarithm."""

    median: float
    log_sd: float

    @property
    def sd(self) -> float:
        """Standard uncertainty of the number itself: median sqrt(e^s2 (e^s2 - 1))."""
        square = math.exp(self.log_sd**2)
        return self.median * math.sqrt(square * (square - 1.0))

    def interval(self, probability: float = 0.95) -> tuple[float, float]:
        """Return the two ends of the interval that covers the truth with this probability."""
        stretch = math.exp(normal_quantile(0.5 + probability / 2.0) * self.log_sd)
        return self.median / stretch, self.median * stretch

    def probability_between(self, low: float, high: float) -> float:
        """Return the probability that the truth lies from `low` to `high` (both > 0)."""
        return float(probability_between(math.log(self.median), self.log_sd, math.log(low), math.log(high)))


def resonance_log_sd(
    effective_mass_g: ArrayLike, effective_mass_sd_g: ArrayLike, compliance_log_sd: ArrayLike
) -> FloatArray:
    """Return the standard deviation of ln(resonance). [shape=(...), broadcast]

    Half of what mass and compliance have together, since f goes as (M C)^(-1/2) (GUM 5.1.6).
    """
    mass, mass_sd, compliance = (
        np.asarray(x, dtype=float) for x in (effective_mass_g, effective_mass_sd_g, compliance_log_sd)
    )
    return np.asarray(0.5 * np.hypot(mass_sd / mass, compliance))


def probability_in_window(
    resonance_hz: ArrayLike, log_sd: ArrayLike, low_hz: float = WINDOW_HZ[0], high_hz: float = WINDOW_HZ[1]
) -> FloatArray:
    """Return the probability that the resonance lies in the window. [shape=(...), broadcast]"""
    median = np.log(np.asarray(resonance_hz, dtype=float))
    return probability_between(median, log_sd, math.log(low_hz), math.log(high_hz))
