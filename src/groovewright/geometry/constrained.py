"""The best that can be reached when the arm does not allow the best.

Two costs, both over a groove range: the largest |error| / r, which Lofgren A makes smallest, and the mean of
(error / r)^2, which Lofgren B makes smallest. Each is quasi-convex in the one thing that is left to choose,
since the error at every radius is monotonic in it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from groovewright.geometry.distortion import mean_square_nodes
from groovewright.geometry.optimum import exact_least_squares, exact_minimax, golden_section
from groovewright.geometry.tracking import groove_angle_deg
from groovewright.quantities import FloatArray, GrooveRange

Cost = Callable[[ArrayLike, ArrayLike, ArrayLike, GrooveRange], FloatArray]
"""(pivot_to_spindle_mm, effective_length_mm, offset_angle_deg, grooves) to a cost of the same shape."""

OVERHANG_REACH_MM = (-40.0, 60.0)
"""Where an overhang is looked for: from straight underhung arms to the shortest offset arms."""


def worst_error_per_radius(
    pivot_to_spindle_mm: ArrayLike,
    effective_length_mm: ArrayLike,
    offset_angle_deg: ArrayLike,
    grooves: GrooveRange,
) -> FloatArray:
    """Return the largest |error| / r in degrees per mm, over 257 radii; infinite where unreachable."""
    error, radii, _ = _errors(pivot_to_spindle_mm, effective_length_mm, offset_angle_deg, grooves, 257)
    return np.asarray(np.nan_to_num(np.abs(error) / radii, nan=np.inf).max(axis=-1))


def mean_square_error_per_radius(
    pivot_to_spindle_mm: ArrayLike,
    effective_length_mm: ArrayLike,
    offset_angle_deg: ArrayLike,
    grooves: GrooveRange,
) -> FloatArray:
    """Return the mean of (error / r)^2 over r, in (degrees per mm)^2; infinite where unreachable."""
    error, radii, weights = _errors(pivot_to_spindle_mm, effective_length_mm, offset_angle_deg, grooves, 0)
    return np.asarray(np.nan_to_num((error / radii) ** 2, nan=np.inf) @ weights)


def _errors(
    d: ArrayLike, length: ArrayLike, offset: ArrayLike, grooves: GrooveRange, even: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    if even:
        radii, weights = np.linspace(grooves.inner_mm, grooves.outer_mm, even), np.ones(even)
    else:
        radii, weights = mean_square_nodes(grooves)
    d, length, offset = (np.asarray(x, dtype=float)[..., None] for x in (d, length, offset))
    return offset - groove_angle_deg(d, length, radii), radii, weights


def cost_for(criterion: str) -> Cost:
    """Return the cost that a criterion stands for: the mean square for Lofgren B and least squares."""
    squares = criterion in ("lofgren-b", "least-squares")
    return mean_square_error_per_radius if squares else worst_error_per_radius


def best_length_for_offset(
    pivot_to_spindle_mm: ArrayLike, offset_angle_deg: ArrayLike, grooves: GrooveRange, cost: Cost
) -> FloatArray:
    """Return the effective length in mm for a fixed offset angle: only the overhang can be set. [shape=(...)]

    With an offset angle of 0 the answer is the best straight underhung arm.
    """
    d = np.asarray(pivot_to_spindle_mm, dtype=float)
    low, high = (np.broadcast_arrays(d + reach, offset_angle_deg)[0] for reach in OVERHANG_REACH_MM)
    return golden_section(lambda length: cost(d, length, offset_angle_deg, grooves), low, high)


def best_offset_for_length(
    pivot_to_spindle_mm: ArrayLike, effective_length_mm: ArrayLike, grooves: GrooveRange, cost: Cost
) -> FloatArray:
    """Return the offset angle in degrees for a fixed length: only a turn is possible. [shape=(...)]"""
    d, length = np.broadcast_arrays(
        *(np.asarray(x, float) for x in (pivot_to_spindle_mm, effective_length_mm))
    )
    radii = np.linspace(grooves.inner_mm, grooves.outer_mm, 65)
    needed = groove_angle_deg(d[..., None], length[..., None], radii)
    low, high = np.nanmin(needed, axis=-1), np.nanmax(needed, axis=-1)
    return golden_section(lambda offset: cost(d, length, offset, grooves), low, high)


def best_within_slot(
    pivot_to_spindle_mm: ArrayLike,
    shortest_length_mm: ArrayLike,
    longest_length_mm: ArrayLike,
    grooves: GrooveRange,
    cost: Cost,
) -> tuple[FloatArray, FloatArray]:
    """Return length and offset angle where the slot ends the choice of length. [each shape=(...)]

    Where the unconstrained optimum lies inside the slot it is the answer; else the nearer end of the slot
    with the best turn there.
    """
    free = exact_minimax if cost is worst_error_per_radius else exact_least_squares
    free_length, free_offset = free(pivot_to_spindle_mm, grooves)
    length = np.clip(free_length, shortest_length_mm, longest_length_mm)
    offset = best_offset_for_length(pivot_to_spindle_mm, length, grooves, cost)
    return np.asarray(length), np.where(length == free_length, free_offset, offset)
