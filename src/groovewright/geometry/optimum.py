"""The exact optima, without small angles, by numerical optimisation over arrays of arms."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike

from groovewright.geometry.criteria import lofgren_a_nulls_mm, lofgren_b_nulls_mm
from groovewright.geometry.distortion import mean_square_nodes
from groovewright.geometry.tracking import length_and_offset_for_nulls
from groovewright.quantities import FloatArray, GrooveRange, InputError

LengthAndOffset = tuple[FloatArray, FloatArray]

NEWTON_STEPS = 12
GOLDEN_STEPS = 60
"""0.618^60 of the bracket: below 1e-11 of it."""


def _needed_angle(d: FloatArray, length: FloatArray, radius: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the needed offset angle f in radians and its derivative by the length."""
    sine = (length**2 + radius**2 - d**2) / (2.0 * length * radius)
    return np.arcsin(sine), (1.0 / radius - sine / length) / np.sqrt(1.0 - sine**2)


def _towards_interior_peak(
    d: FloatArray, length: FloatArray, offset: FloatArray, radius: FloatArray
) -> FloatArray:
    """Return the radius after one Newton step towards d/dr [(b - f) / r] = 0, that is b - f + r f' = 0."""
    product = (length**2 - d**2) / (2.0 * length)
    sine = product / radius + radius / (2.0 * length)
    cosine = np.sqrt(1.0 - sine**2)
    slope = 1.0 / (2.0 * length) - product / radius**2
    bend = 2.0 * product / radius**3 / cosine + sine * slope**2 / cosine**3
    return np.asarray(radius - (offset - np.arcsin(sine) + radius * slope / cosine) / (radius * bend))


def exact_minimax(pivot_to_spindle_mm: ArrayLike, grooves: GrooveRange) -> LengthAndOffset:
    """Return length and offset angle that make the largest |error| / r smallest. [each shape=(...)]

    At the optimum error / r has equal size E and alternating sign at the innermost groove, at one interior
    radius and at the outermost groove (Chebyshev's alternation theorem). Newton's method on

        b - f(ri) = -E ri,   b - f(rm) = +E rm,   b - f(ro) = -E ro,

    f the needed offset angle, for all arms at once, starting from Lofgren A. The interior radius rm is where
    error / r peaks; its own change does not enter the derivatives (envelope theorem).
    """
    d = np.asarray(pivot_to_spindle_mm, dtype=float)
    inner, outer = grooves.inner_mm, grooves.outer_mm
    length, offset_deg = length_and_offset_for_nulls(d, *lofgren_a_nulls_mm(inner, outer))
    offset = np.radians(offset_deg)
    level: FloatArray = np.zeros_like(d)
    middle: FloatArray = np.full_like(d, 2.0 / (1.0 / inner + 1.0 / outer))
    for _ in range(NEWTON_STEPS):
        peak = _towards_interior_peak(d, length, offset, middle)
        middle = np.asarray(np.minimum(np.maximum(peak, inner), outer))
        residual, slopes = np.zeros((*d.shape, 3)), np.ones((*d.shape, 3, 3))
        radii = (np.asarray(inner), middle, np.asarray(outer))
        for row, (radius, sign) in enumerate(zip(radii, (1.0, -1.0, 1.0), strict=True)):
            angle, by_length = _needed_angle(d, length, radius)
            residual[..., row] = offset - angle + sign * level * radius
            slopes[..., row, 0] = -by_length
            slopes[..., row, 2] = sign * radius
        change = np.linalg.solve(slopes, residual[..., None])[..., 0]
        length, offset, level = length - change[..., 0], offset - change[..., 1], level - change[..., 2]
    return np.asarray(length), np.degrees(offset)


def exact_least_squares(pivot_to_spindle_mm: ArrayLike, grooves: GrooveRange) -> LengthAndOffset:
    """Return length and offset angle with the smallest integral of (error / r)^2 over r. [each shape=(...)]

    Gauss-Newton on 64 Gauss-Legendre radii, for all arms at once, starting from Lofgren B.
    """
    radii, weights = mean_square_nodes(grooves)
    return _weighted_least_squares(pivot_to_spindle_mm, grooves, radii, weights)


def least_squares_for_records(
    pivot_to_spindle_mm: ArrayLike, inner_radii_mm: Sequence[float], outer_mm: float
) -> LengthAndOffset:
    """Return the least-squares length and offset angle for a listener's own records. [each shape=(...)]

    Each radius counts by the share of the records whose music reaches it: `inner_radii_mm` lists where each
    record's last groove lies. Derivation: docs/geometry.md.
    """
    if len(inner_radii_mm) == 0:
        raise InputError("a list of where your records end needs at least one radius, in mm")
    grooves = GrooveRange(float(min(inner_radii_mm)), outer_mm)
    GrooveRange(float(max(inner_radii_mm)), outer_mm)
    edges = np.array([*sorted(set(inner_radii_mm)), outer_mm], dtype=float)
    nodes, node_weights = np.polynomial.legendre.leggauss(16)
    half = 0.5 * np.diff(edges)[:, None]
    radii = (0.5 * (edges[1:] + edges[:-1])[:, None] + half * nodes).ravel()
    share = (np.asarray(inner_radii_mm)[:, None] <= radii).mean(axis=0)
    weights = (half * node_weights).ravel() * share
    return _weighted_least_squares(pivot_to_spindle_mm, grooves, radii, weights / weights.sum())


def _weighted_least_squares(
    pivot_to_spindle_mm: ArrayLike, grooves: GrooveRange, radii: FloatArray, weights: FloatArray
) -> LengthAndOffset:
    d = np.asarray(pivot_to_spindle_mm, dtype=float)[..., None]
    length, _ = length_and_offset_for_nulls(d, *lofgren_b_nulls_mm(grooves.inner_mm, grooves.outer_mm))
    scale = weights / radii**2
    offset = np.zeros_like(length)
    for _ in range(NEWTON_STEPS):
        angle, by_length = _needed_angle(d, length, radii)
        # for a given L the best b is a weighted mean; what is left is a line in L (variable projection)
        offset = np.sum(scale * angle, axis=-1, keepdims=True) / scale.sum()
        mean_slope = np.sum(scale * by_length, axis=-1, keepdims=True) / scale.sum()
        tilt = by_length - mean_slope
        error = offset - angle
        length = length + np.sum(scale * error * tilt, axis=-1, keepdims=True) / np.sum(
            scale * tilt**2, axis=-1, keepdims=True
        )
    return length[..., 0], np.degrees(offset[..., 0])


def golden_section(cost: Callable[[FloatArray], FloatArray], low: ArrayLike, high: ArrayLike) -> FloatArray:
    """Return where a cost with one valley is smallest, element by element. [shape=(...)]"""
    low, high = (np.array(x, dtype=float) for x in np.broadcast_arrays(low, high))
    share = 0.5 * (np.sqrt(5.0) - 1.0)
    for _ in range(GOLDEN_STEPS):
        left, right = high - share * (high - low), low + share * (high - low)
        to_left = cost(left) < cost(right)
        high, low = np.where(to_left, right, high), np.where(to_left, low, left)
    return np.asarray(0.5 * (low + high))
