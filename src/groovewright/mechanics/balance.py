"""Can the counterweight balance this cartridge and apply its force: statics of the arm about its bearing.

Side view; distances from the bearing axis along the line from pivot to stylus, forwards positive::

    counterweight        bearing axis                      headshell, cartridge, stylus
        [ m_w ]<---x_w--------o-----------------x_c------------>[m_c]
                              |------------------L-----------------v F (record pushes up with F)

Moments are in g mm (a mass in g times a distance in mm; gravity is the same for all of them), the force in
gf.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from groovewright.mechanics.resonance import effective_mass_of_g
from groovewright.mechanics.verdict import Verdict
from groovewright.quantities import FloatArray, InputError, Limits, OtherUnit

COUNTERWEIGHT_MASS = Limits("counterweight mass", 10.0, 500.0, "g", (OtherUnit("kilograms", 1000.0),))
COUNTERWEIGHT_POSITION = Limits("counterweight distance behind the bearing", 0.0, 200.0, "mm")


@dataclass(frozen=True)
class Counterweight:
    """A counterweight and its travel: distances of its middle behind the bearing axis, in mm."""

    mass_g: float
    nearest_mm: float
    farthest_mm: float

    def __post_init__(self) -> None:
        COUNTERWEIGHT_MASS.check(self.mass_g)
        COUNTERWEIGHT_POSITION.check(self.nearest_mm, "nearest")
        COUNTERWEIGHT_POSITION.check(self.farthest_mm, "farthest")
        if self.nearest_mm >= self.farthest_mm:
            raise InputError(
                f"counterweight travel {self.nearest_mm:g}:{self.farthest_mm:g} mm is the wrong way "
                f"round: the "
                f"place nearest to the bearing comes first; try {self.farthest_mm:g}:{self.nearest_mm:g}"
            )


@dataclass(frozen=True)
class BalanceResult:
    """Where the counterweight ends up, and the verdict.

    `missing_moment_gmm` is 0 within the travel; positive where the counterweight is too light. `change_g` is
    the mass to add to the counterweight at the end of its travel (positive) or to take from it. `floating_mm`
    is where it floats the arm, before the force is applied.
    """

    position_mm: float
    missing_moment_gmm: float
    change_g: float
    verdict: Verdict
    floating_mm: float = float("nan")


def arm_moment_from_balance_gmm(
    *,
    front_mass_g: ArrayLike,
    front_position_mm: ArrayLike,
    counterweight_mass_g: ArrayLike,
    counterweight_position_mm: ArrayLike,
    force_gf: ArrayLike,
    effective_length_mm: ArrayLike,
) -> FloatArray:
    """Return the arm's own moment, unknown from any data sheet, out of one known state. [shape=(...)]

    The arm tube with its headshell, without cartridge, fasteners and counterweight. With the arm floating,
    the force is 0: A = F L + m_w x_w - m_c x_c.
    """
    front, x_front, weight, x_weight, force, length = (
        np.asarray(x, dtype=float)
        for x in (
            front_mass_g,
            front_position_mm,
            counterweight_mass_g,
            counterweight_position_mm,
            force_gf,
            effective_length_mm,
        )
    )
    return np.asarray(force * length + weight * x_weight - front * x_front)


def counterweight_position_mm(
    *,
    arm_moment_gmm: ArrayLike,
    front_mass_g: ArrayLike,
    front_position_mm: ArrayLike,
    counterweight_mass_g: ArrayLike,
    force_gf: ArrayLike,
    effective_length_mm: ArrayLike,
) -> FloatArray:
    """Return how far behind the bearing the counterweight has to stand. [shape=(...), broadcast]

    x_w = (A + m_c x_c - F L) / m_w, where the front mass m_c is cartridge and fasteners.
    """
    arm, front, x_front, weight, force, length = (
        np.asarray(x, dtype=float)
        for x in (
            arm_moment_gmm,
            front_mass_g,
            front_position_mm,
            counterweight_mass_g,
            force_gf,
            effective_length_mm,
        )
    )
    return np.asarray((arm + front * x_front - force * length) / weight)


def tracking_force_gf(
    *,
    arm_moment_gmm: ArrayLike,
    front_mass_g: ArrayLike,
    front_position_mm: ArrayLike,
    counterweight_mass_g: ArrayLike,
    counterweight_position_mm: ArrayLike,
    effective_length_mm: ArrayLike,
) -> FloatArray:
    """Return the force that a counterweight position gives: (A + m_c x_c - m_w x_w) / L. [shape=(...)]"""
    arm, front, x_front, weight, x_weight, length = (
        np.asarray(x, dtype=float)
        for x in (
            arm_moment_gmm,
            front_mass_g,
            front_position_mm,
            counterweight_mass_g,
            counterweight_position_mm,
            effective_length_mm,
        )
    )
    return np.asarray((arm + front * x_front - weight * x_weight) / length)


def effective_mass_change_g(
    *,
    counterweight_mass_g: ArrayLike,
    from_position_mm: ArrayLike,
    to_position_mm: ArrayLike,
    effective_length_mm: ArrayLike,
) -> FloatArray:
    """Return what moving the counterweight changes in effective mass: m_w (x2^2 - x1^2) / L^2. [shape=(...)]

    Its own moment of inertia moves along unchanged (parallel axis theorem).
    """
    return np.asarray(
        effective_mass_of_g(counterweight_mass_g, to_position_mm, effective_length_mm)
        - effective_mass_of_g(counterweight_mass_g, from_position_mm, effective_length_mm)
    )


def force_at_height_gf(
    *,
    force_gf: ArrayLike,
    height_mm: ArrayLike,
    moving_mass_g: ArrayLike,
    mass_above_bearing_mm: ArrayLike,
    effective_length_mm: ArrayLike,
    stylus_below_bearing_mm: ArrayLike = 0.0,
) -> FloatArray:
    """Return the force with the stylus raised by `height_mm` from where it has `force_gf`. [shape=(...)]

    The arm turns by t about its bearing until L sin t - z cos t = height - z, and its centre of mass (x, h)
    turns with it::

        F(t) = m (x cos t - h sin t) / (L cos t + z sin t)

    with m the whole moving mass, h how far its centre lies above the bearing (negative below), and z how far
    the stylus lies below the bearing. A centre of mass below the bearing (stable balance) adds force as the
    arm rises, one above takes it away. `F(0) = force_gf` fixes x. A force from a spring follows the spring
    instead.
    """
    force, height, mass, above, length, below = (
        np.asarray(x, dtype=float)
        for x in (
            force_gf,
            height_mm,
            moving_mass_g,
            mass_above_bearing_mm,
            effective_length_mm,
            stylus_below_bearing_mm,
        )
    )
    reach = np.hypot(length, below)
    start = np.arctan2(-below, length)
    angle = np.arcsin((height - below) / reach) - start
    moment = force * length * np.cos(angle) - mass * above * np.sin(angle)
    return np.asarray(moment / (reach * np.cos(start + angle)))


def force_slope_gf_per_mm(
    *,
    moving_mass_g: ArrayLike,
    mass_above_bearing_mm: ArrayLike,
    effective_length_mm: ArrayLike,
    force_gf: ArrayLike = 0.0,
    stylus_below_bearing_mm: ArrayLike = 0.0,
) -> FloatArray:
    """Return the change of force for each mm that the stylus is raised: -(m h + F z) / L^2. [shape=(...)]

    The derivative of `force_at_height_gf` at 0.
    """
    mass, above, length, force, below = (
        np.asarray(x, dtype=float)
        for x in (
            moving_mass_g,
            mass_above_bearing_mm,
            effective_length_mm,
            force_gf,
            stylus_below_bearing_mm,
        )
    )
    return np.asarray(-(mass * above + force * below) / length**2)


def judge_balance(
    *,
    arm_moment_gmm: float,
    front_mass_g: float,
    front_position_mm: float,
    counterweight: Counterweight,
    force_gf: float,
    effective_length_mm: float,
) -> BalanceResult:
    """Return whether the counterweight can both float the arm and apply the force, and where it ends up.

    The arm is first balanced to float, then weighted: both places have to lie within the travel where the
    force comes from the counterweight. The place for the full force lies nearer to the bearing.
    """
    floating, loaded = (
        float(
            counterweight_position_mm(
                arm_moment_gmm=arm_moment_gmm,
                front_mass_g=front_mass_g,
                front_position_mm=front_position_mm,
                counterweight_mass_g=counterweight.mass_g,
                force_gf=force,
                effective_length_mm=effective_length_mm,
            )
        )
        for force in (0.0, force_gf)
    )
    mass = counterweight.mass_g
    if floating > counterweight.farthest_mm:
        missing = mass * (floating - counterweight.farthest_mm)
        change = missing / counterweight.farthest_mm
        sentence = (
            f"The counterweight is too light: to float the arm it would have to stand {floating:.1f} mm "
            f"behind the "
            f"bearing, and {counterweight.farthest_mm:g} mm is the end; {change:.0f} g more at the end "
            f"would do."
        )
        return BalanceResult(loaded, missing, change, Verdict("counterweight-too-light", sentence), floating)
    if loaded < counterweight.nearest_mm:
        missing = mass * (loaded - counterweight.nearest_mm)
        at_headshell = -missing / front_position_mm
        change = missing / counterweight.nearest_mm if counterweight.nearest_mm > 0.0 else -mass
        sentence = (
            f"The counterweight is too heavy: for {force_gf:g} gf it would have to stand {loaded:.1f} "
            f"mm behind the "
            f"bearing, and {counterweight.nearest_mm:g} mm is the nearest; {at_headshell:.1f} g more at the "
            "headshell or a lighter counterweight would do."
        )
        return BalanceResult(loaded, missing, change, Verdict("counterweight-too-heavy", sentence), floating)
    sentence = (
        f"The counterweight balances this cartridge and applies {force_gf:g} gf {loaded:.1f} mm behind "
        f"the bearing, "
        f"within its travel of {counterweight.nearest_mm:g} to {counterweight.farthest_mm:g} mm."
    )
    return BalanceResult(loaded, 0.0, 0.0, Verdict("balances", sentence), floating)
