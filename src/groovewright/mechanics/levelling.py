"""The level stage in one go: skating and its best balance, arm height, azimuth."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from groovewright.geometry import Alignment
from groovewright.mechanics.azimuth import AzimuthEstimate
from groovewright.mechanics.height import HeightAdvice
from groovewright.mechanics.lean_verdicts import judge_azimuth
from groovewright.mechanics.skating import (
    FRICTION,
    FRICTION_RANGE,
    Step,
    StepChoice,
    antiskating_least_squares_mN,
    antiskating_minimax_mN,
    best_step,
    largest_rest_mN,
    skating_force_mN,
)
from groovewright.mechanics.verdict import Verdict, unknown
from groovewright.mechanics.weighing import FORCE_GF
from groovewright.quantities import MN_PER_GF, FloatArray, GrooveRange, InputError


@dataclass(frozen=True)
class Skating:
    """Skating over the modulated groove and the constant anti-skating that balances it best, in mN.

    The friction is somewhere in `friction`, every value equally likely: `low`, `middle` and `high` are the
    skating at its ends and in its middle; `antiskating` is the least-squares setting in the middle,
    `antiskating_span` that at both ends.
    """

    force_mN: float
    friction: tuple[float, float]
    radius_mm: FloatArray
    low_mN: FloatArray
    middle_mN: FloatArray
    high_mN: FloatArray
    antiskating_mN: float
    antiskating_sd_mN: float
    antiskating_span_mN: tuple[float, float]
    minimax_mN: float
    largest_rest_mN: float
    largest_rest_any_friction_mN: float
    step: StepChoice | None


@dataclass(frozen=True)
class LevelStudy:
    """All of the level stage; what could not be computed is None and its verdict says what is missing."""

    alignment: Alignment
    skating: Skating | None
    skating_verdict: Verdict
    height: HeightAdvice
    azimuth: AzimuthEstimate | None
    azimuth_verdict: Verdict


def radii_for_table_mm(alignment: Alignment, grooves: GrooveRange) -> FloatArray:
    """Return the radii of a table: both ends, every full 10 mm, and the null radii within the range."""
    tens = np.arange(math.ceil(grooves.inner_mm / 10.0) * 10.0, grooves.outer_mm, 10.0)
    nulls = [
        radius
        for radius in (alignment.null_inner_mm, alignment.null_outer_mm)
        if grooves.inner_mm < radius < grooves.outer_mm
    ]
    return np.unique(np.round([grooves.inner_mm, *tens, *nulls, grooves.outer_mm], 3))


def study_skating(
    *,
    alignment: Alignment,
    grooves: GrooveRange,
    force_gf: float,
    friction: tuple[float, float] = FRICTION_RANGE,
    steps: tuple[Step, ...] = (),
) -> Skating:
    """Return skating and the best constant anti-skating for a force and a range of friction.

    Raises
    ------
    InputError
        The force or the friction is out of range (another unit is guessed) or the range is reversed.
    """
    FORCE_GF.check(force_gf)
    for edge in friction:
        FRICTION.check(edge)
    if friction[0] > friction[1]:
        raise InputError(
            f"friction {friction[0]:g}:{friction[1]:g} is the wrong way round; "
            f"try {friction[1]:g}:{friction[0]:g}"
        )
    force = force_gf * MN_PER_GF
    low, high = friction
    mu = np.array([low, 0.5 * (low + high), high])
    d, length = alignment.pivot_to_spindle_mm, alignment.effective_length_mm
    radii = radii_for_table_mm(alignment, grooves)
    curves = skating_force_mN(
        force_mN=force,
        friction=mu[:, None],
        pivot_to_spindle_mm=d,
        effective_length_mm=length,
        radius_mm=radii,
    )
    least = antiskating_least_squares_mN(
        force_mN=force, friction=mu, pivot_to_spindle_mm=d, effective_length_mm=length, grooves=grooves
    )
    minimax = antiskating_minimax_mN(
        force_mN=force, friction=mu[1], pivot_to_spindle_mm=d, effective_length_mm=length, grooves=grooves
    )
    rests = largest_rest_mN(
        antiskating_mN=least[1],
        force_mN=force,
        friction=mu,
        pivot_to_spindle_mm=d,
        effective_length_mm=length,
        grooves=grooves,
    )
    return Skating(
        force_mN=force,
        friction=friction,
        radius_mm=radii,
        low_mN=curves[0],
        middle_mN=curves[1],
        high_mN=curves[2],
        antiskating_mN=float(least[1]),
        antiskating_sd_mN=float(least[2] - least[0]) / math.sqrt(12.0),
        antiskating_span_mN=(float(least[0]), float(least[2])),
        minimax_mN=float(minimax),
        largest_rest_mN=float(rests[1]),
        largest_rest_any_friction_mN=float(rests.max()),
        step=best_step(steps, float(least[1])) if steps else None,
    )


def study_level(
    *,
    alignment: Alignment,
    grooves: GrooveRange,
    force_gf: float | None,
    friction: tuple[float, float] = FRICTION_RANGE,
    steps: tuple[Step, ...] = (),
    height: HeightAdvice,
    azimuth: AzimuthEstimate | None = None,
    mono: bool = False,
) -> LevelStudy:
    """Return the level stage with its three verdicts; a missing force leaves skating unknown."""
    skating = (
        None
        if force_gf is None
        else study_skating(
            alignment=alignment, grooves=grooves, force_gf=force_gf, friction=friction, steps=steps
        )
    )
    return LevelStudy(
        alignment=alignment,
        skating=skating,
        skating_verdict=judge_skating(skating),
        height=height,
        azimuth=azimuth,
        azimuth_verdict=judge_azimuth(azimuth, mono=mono),
    )


def judge_skating(skating: Skating | None) -> Verdict:
    """Return the setting to make. A device with steps is right where no neighbour would come nearer."""
    if skating is None:
        return unknown("the tracking force")
    low, high = skating.antiskating_span_mN
    wanted = (
        f"Set the anti-skating to {skating.antiskating_mN:.1f} mN "
        f"({skating.antiskating_mN / MN_PER_GF:.2f} gf) at the stylus; friction leaves it open from "
        f"{low:.1f} to {high:.1f} mN"
    )
    if skating.step is None:
        return Verdict("adjust", wanted + ".")
    step = skating.step
    return Verdict("adjust", f"{wanted}. The nearest step is {step.step.label}: {step.step.force_mN:.1f} mN.")
