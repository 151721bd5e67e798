"""The plan geometry of a pivoted arm: yaw, null radii, overhang, offset.

Seen from above; the platter turns clockwise; the pivot stands at the rear right::

                                P   pivot
                              / |
                           L /  |  d     L  effective length: pivot to stylus
                            /   |        d  pivot-to-spindle distance
        groove direction   /    |        r  groove radius: spindle to stylus
            <-------------S --- O        the offset angle turns the cartridge
                            r            clockwise (front in) from the line P-S

Angles are positive clockwise seen from above: a positive yaw means that the front is turned in, towards
the spindle. Everything is element by element over NumPy arrays; S- and J-shaped arms have the same plan
geometry as straight ones, and an arm without offset is the case of offset angle 0.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from groovewright.quantities import FloatArray


def groove_angle_deg(
    pivot_to_spindle_mm: ArrayLike, effective_length_mm: ArrayLike, radius_mm: ArrayLike
) -> FloatArray:
    """Return the offset angle that would give zero yaw at this radius. [shape=(...), broadcast]

    asin((L^2 + r^2 - d^2) / (2 L r)), by the law of cosines in the triangle pivot, spindle, stylus
    (B. B. Bauer, "Tracking Angle in Phonograph Pickups", Electronics, March 1945). NaN where the arm
    can't reach the radius.
    """
    d, length, radius = (
        np.asarray(x, dtype=float) for x in (pivot_to_spindle_mm, effective_length_mm, radius_mm)
    )
    sine = (length**2 + radius**2 - d**2) / (2.0 * length * radius)
    return np.asarray(np.degrees(np.arcsin(np.where(np.abs(sine) <= 1.0, sine, np.nan))))


def yaw_deg(
    pivot_to_spindle_mm: ArrayLike,
    effective_length_mm: ArrayLike,
    offset_angle_deg: ArrayLike,
    radius_mm: ArrayLike,
) -> FloatArray:
    """Return the cartridge's yaw against the groove, which is the tracking error. [shape=(...), broadcast]

    Positive: the front is turned in. NaN where the arm can't reach the radius.
    """
    needed = groove_angle_deg(pivot_to_spindle_mm, effective_length_mm, radius_mm)
    return np.asarray(np.asarray(offset_angle_deg, dtype=float) - needed)


def null_radii_mm(
    pivot_to_spindle_mm: ArrayLike, effective_length_mm: ArrayLike, offset_angle_deg: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return the inner and the outer radius with zero yaw. [each shape=(...), broadcast]

    The roots of r^2 - 2 L sin(b) r + L^2 - d^2 = 0. Both are NaN where the arm has no null. A root that is
    not positive is NaN too, so an underhung arm has only an outer null.
    """
    d, length, offset = (
        np.asarray(x, dtype=float) for x in (pivot_to_spindle_mm, effective_length_mm, offset_angle_deg)
    )
    half_sum = length * np.sin(np.radians(offset))
    square = half_sum**2 - (length**2 - d**2)
    root = np.sqrt(np.where(square >= 0.0, square, np.nan))
    inner, outer = half_sum - root, half_sum + root
    return np.where(inner > 0.0, inner, np.nan), np.where(outer > 0.0, outer, np.nan)


def length_and_offset_for_nulls(
    pivot_to_spindle_mm: ArrayLike, null_inner_mm: ArrayLike, null_outer_mm: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return effective length in mm and offset angle in degrees. [each shape=(...), broadcast]

    L^2 = d^2 + n1 n2 and sin b = (n1 + n2) / (2 L): Vieta's rules on the equation of `null_radii_mm`.
    """
    d, inner, outer = (
        np.asarray(x, dtype=float) for x in (pivot_to_spindle_mm, null_inner_mm, null_outer_mm)
    )
    length = np.sqrt(d**2 + inner * outer)
    return np.asarray(length), np.degrees(np.arcsin((inner + outer) / (2.0 * length)))
