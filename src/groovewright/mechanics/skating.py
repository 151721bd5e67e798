"""How hard the groove pulls the arm inwards, and the anti-skating that balances it best.

Seen from above: friction mu F pulls the stylus along the groove; the line of that pull passes the pivot at
the distance L sin(offset angle - yaw), so that it turns the arm inwards. Referred to the stylus it is the
force S = mu F sin(offset angle - yaw) = mu F (r^2 + L^2 - d^2) / (2 r L): the mounting of the cartridge
drops out, only the place of the stylus counts. Everything is element by element over NumPy arrays.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from groovewright.quantities import MN_PER_GF, FloatArray, GrooveRange, InputError, Limits, OtherUnit

FRICTION = Limits("friction coefficient", 0.05, 0.8, "", (OtherUnit("percent", 0.01),))

FRICTION_RANGE = (0.25, 0.4)
"""Stylus on vinyl (common practice)."""

FRICTION_BY_PROFILE = {
    "spherical": (0.20, 0.35),
    "elliptical": (0.25, 0.40),
    "line": (0.30, 0.45),
}
"""Sharper profiles press harder on less vinyl and drag more (common practice, from memory)."""


def _arrays(*values: ArrayLike) -> tuple[FloatArray, ...]:
    return tuple(np.asarray(value, dtype=float) for value in values)


def skating_sine(
    pivot_to_spindle_mm: ArrayLike, effective_length_mm: ArrayLike, radius_mm: ArrayLike
) -> FloatArray:
    """Return skating force over (friction times tracking force). [shape=(...), broadcast]

    (r^2 + L^2 - d^2) / (2 r L), the sine of the angle between groove and the line from pivot to stylus;
    statics. NaN where the arm can't reach the radius.
    """
    d, length, radius = _arrays(pivot_to_spindle_mm, effective_length_mm, radius_mm)
    sine = (radius**2 + length**2 - d**2) / (2.0 * radius * length)
    return np.where(np.abs(sine) <= 1.0, sine, np.nan)


def skating_force_mN(
    *,
    force_mN: ArrayLike,
    friction: ArrayLike,
    pivot_to_spindle_mm: ArrayLike,
    effective_length_mm: ArrayLike,
    radius_mm: ArrayLike,
) -> FloatArray:
    """Return the inward force at the stylus; negative pulls outwards (underhung arms). [shape=(...)]"""
    force, mu = _arrays(force_mN, friction)
    return np.asarray(mu * force * skating_sine(pivot_to_spindle_mm, effective_length_mm, radius_mm))


def _mean_sine(d: FloatArray, length: FloatArray, grooves: GrooveRange) -> FloatArray:
    inner, outer = grooves.inner_mm, grooves.outer_mm
    linear = (outer**2 - inner**2) / (4.0 * length)
    inverse = (length**2 - d**2) / (2.0 * length) * np.log(outer / inner)
    return np.asarray((linear + inverse) / (outer - inner))


def _extreme_sines(d: FloatArray, length: FloatArray, grooves: GrooveRange) -> tuple[FloatArray, FloatArray]:
    inner = skating_sine(d, length, grooves.inner_mm)
    outer = skating_sine(d, length, grooves.outer_mm)
    turning = np.sqrt(np.clip(length**2 - d**2, 0.0, None))
    middle = skating_sine(d, length, np.clip(turning, grooves.inner_mm, grooves.outer_mm))
    stack = np.stack(np.broadcast_arrays(inner, middle, outer))
    return stack.min(axis=0), stack.max(axis=0)


def antiskating_least_squares_mN(
    *,
    force_mN: ArrayLike,
    friction: ArrayLike,
    pivot_to_spindle_mm: ArrayLike,
    effective_length_mm: ArrayLike,
    grooves: GrooveRange,
) -> FloatArray:
    """Return the constant outward force with the least mean square left over. [shape=(...), broadcast]

    The mean of the skating force over the radius: its integral is closed, r^2 / (4 L) + (L^2 - d^2) / (2 L)
    ln r.
    """
    force, mu, d, length = _arrays(force_mN, friction, pivot_to_spindle_mm, effective_length_mm)
    return np.asarray(mu * force * _mean_sine(d, length, grooves))


def antiskating_minimax_mN(
    *,
    force_mN: ArrayLike,
    friction: ArrayLike,
    pivot_to_spindle_mm: ArrayLike,
    effective_length_mm: ArrayLike,
    grooves: GrooveRange,
) -> FloatArray:
    """Return the constant outward force with the smallest largest rest. [shape=(...), broadcast]

    Half-way between the extremes, which lie at the ends of the range and at r = sqrt(L^2 - d^2).
    """
    force, mu, d, length = _arrays(force_mN, friction, pivot_to_spindle_mm, effective_length_mm)
    least, most = _extreme_sines(d, length, grooves)
    return np.asarray(mu * force * 0.5 * (least + most))


def largest_rest_mN(
    *,
    antiskating_mN: ArrayLike,
    force_mN: ArrayLike,
    friction: ArrayLike,
    pivot_to_spindle_mm: ArrayLike,
    effective_length_mm: ArrayLike,
    grooves: GrooveRange,
) -> FloatArray:
    """Return the largest side force that a constant anti-skating leaves over the range. [shape=(...)]"""
    applied, force, mu, d, length = _arrays(
        antiskating_mN, force_mN, friction, pivot_to_spindle_mm, effective_length_mm
    )
    least, most = _extreme_sines(d, length, grooves)
    return np.maximum(np.abs(mu * force * least - applied), np.abs(mu * force * most - applied))


def arm_swing_deg(
    pivot_to_spindle_mm: ArrayLike, effective_length_mm: ArrayLike, radius_mm: ArrayLike
) -> FloatArray:
    """Return the angle at the pivot between spindle and stylus. [shape=(...), broadcast]

    acos((d^2 + L^2 - r^2) / (2 d L)): grows with the radius. The scale on which springs and levers work.
    """
    d, length, radius = _arrays(pivot_to_spindle_mm, effective_length_mm, radius_mm)
    cosine = (d**2 + length**2 - radius**2) / (2.0 * d * length)
    return np.asarray(np.degrees(np.arccos(np.where(np.abs(cosine) <= 1.0, cosine, np.nan))))


def thread_weight_force_mN(
    *,
    weight_g: ArrayLike,
    lever_mm: ArrayLike,
    effective_length_mm: ArrayLike,
    thread_angle_deg: ArrayLike = 90.0,
) -> FloatArray:
    """Return the outward force at the stylus of a weight on a thread. [shape=(...), broadcast]

    m g x sin(angle) / L: x the distance from the pivot to the notch on the lever, the angle the one between
    lever and thread, which changes as the arm swings; friction of the thread's guide is left out.
    """
    weight, lever, length, angle = _arrays(weight_g, lever_mm, effective_length_mm, thread_angle_deg)
    return np.asarray(weight * MN_PER_GF * lever * np.sin(np.radians(angle)) / length)


@dataclass(frozen=True)
class Step:
    """One setting of an anti-skating device: what it is called there, and its force at the stylus in mN."""

    label: str
    force_mN: float


@dataclass(frozen=True)
class StepChoice:
    """The step nearest to the wanted force, and how far off it is (positive: too strong)."""

    step: Step
    index: int
    difference_mN: float


LEVER = Limits("distance of a notch from the pivot", 1.0, 120.0, "mm")
THREAD_WEIGHT = Limits("weight on the thread", 0.05, 60.0, "g", (OtherUnit("kilograms", 1000.0),))


def thread_weight_steps(
    *, weight_g: float, levers_mm: tuple[float, ...], effective_length_mm: float
) -> tuple[Step, ...]:
    """Return the table of steps of a thread-and-weight device: one for each notch, innermost first."""
    THREAD_WEIGHT.check(weight_g)
    LEVER.check_all(levers_mm)
    return tuple(
        Step(
            f"notch {number} ({lever:g} mm)",
            float(
                thread_weight_force_mN(
                    weight_g=weight_g, lever_mm=lever, effective_length_mm=effective_length_mm
                )
            ),
        )
        for number, lever in enumerate(sorted(levers_mm), start=1)
    )


def best_step(steps: tuple[Step, ...], wanted_mN: float) -> StepChoice:
    """Return the step whose force is nearest to the wanted one."""
    if not steps:
        raise InputError("an anti-skating device has at least one step; none was given")
    differences = [step.force_mN - wanted_mN for step in steps]
    index = min(range(len(steps)), key=lambda number: abs(differences[number]))
    return StepChoice(steps[index], index, differences[index])


@dataclass(frozen=True)
class SpringScale:
    """A dial's law: force = offset_mN + rate_mN x setting, with standard uncertainties."""

    offset_mN: float
    rate_mN: float
    offset_sd_mN: float
    rate_sd_mN: float

    def force_mN(self, setting: ArrayLike) -> FloatArray:
        """Return the force at a setting of the dial. [shape=(...)]"""
        return np.asarray(self.offset_mN + self.rate_mN * np.asarray(setting, dtype=float))

    def setting_for(self, force_mN: ArrayLike) -> FloatArray:
        """Return the setting of the dial for a force. [shape=(...)]"""
        return np.asarray((np.asarray(force_mN, dtype=float) - self.offset_mN) / self.rate_mN)


def fit_spring_scale(settings: ArrayLike, forces_mN: ArrayLike) -> SpringScale:
    """Return the straight line through measured steps of a spring device, by least squares.

    A spring's force is linear in its stretch, and the dial sets the stretch. Uncertainties from the scatter
    (GUM H.3); with two steps there is no scatter and they are NaN.

    Raises
    ------
    InputError
        Fewer than two different settings, or different numbers of settings and forces.
    """
    x, y = _arrays(settings, forces_mN)
    if x.shape != y.shape or x.ndim != 1:
        raise InputError(
            f"each dial setting needs one force: {x.size} settings and {y.size} forces were given"
        )
    if np.unique(x).size < 2:
        raise InputError("a dial's scale needs forces at two different settings at least")
    centre = x.mean()
    spread = float(np.sum((x - centre) ** 2))
    rate = float(np.sum((x - centre) * y) / spread)
    offset = float(y.mean() - rate * centre)
    if x.size < 3:
        return SpringScale(offset, rate, float("nan"), float("nan"))
    variance = float(np.sum((y - offset - rate * x) ** 2)) / (x.size - 2)
    rate_sd = np.sqrt(variance / spread)
    offset_sd = np.sqrt(variance * (1.0 / x.size + centre**2 / spread))
    return SpringScale(offset, rate, float(offset_sd), float(rate_sd))


def spring_force_mN(
    *,
    force_at_reference_mN: ArrayLike,
    rate_mN_per_deg: ArrayLike,
    reference_radius_mm: ArrayLike,
    pivot_to_spindle_mm: ArrayLike,
    effective_length_mm: ArrayLike,
    radius_mm: ArrayLike,
) -> FloatArray:
    """Return a spring's outward force over the radius: linear in the arm's swing. [shape=(...), broadcast]"""
    force, rate = _arrays(force_at_reference_mN, rate_mN_per_deg)
    swing = arm_swing_deg(pivot_to_spindle_mm, effective_length_mm, radius_mm)
    reference = arm_swing_deg(pivot_to_spindle_mm, effective_length_mm, reference_radius_mm)
    return np.asarray(force + rate * (swing - reference))
