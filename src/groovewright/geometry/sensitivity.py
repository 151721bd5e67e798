"""What an error costs: exact derivatives of the yaw, and the change in distortion."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from groovewright.geometry.alignment import Alignment, alignment_for_mounting
from groovewright.geometry.distortion import REFERENCE_VELOCITY_CM_PER_S, distortion_summary
from groovewright.quantities import RPM_33, FloatArray, GrooveRange


@dataclass(frozen=True)
class YawSlopes:
    """Derivatives of the yaw at one or many radii. Each [shape=(...)].

    `per_length`: degrees per mm of effective length, the pivot-to-spindle distance held (an overhang error).
    `per_offset`: degrees per degree of offset angle, 1 everywhere.
    `per_distance`: degrees per mm of pivot-to-spindle distance, the effective length held.
    """

    per_length_deg_per_mm: FloatArray
    per_offset_deg_per_deg: FloatArray
    per_distance_deg_per_mm: FloatArray


def yaw_slopes(
    pivot_to_spindle_mm: ArrayLike, effective_length_mm: ArrayLike, radius_mm: ArrayLike
) -> YawSlopes:
    """Return the derivatives of b - asin(s), s = (L^2 + r^2 - d^2) / (2 L r). [shape=(...), broadcast]

    ds/dL = 1/r - s/L and ds/dd = -d / (L r); d asin(s) = ds / sqrt(1 - s^2).
    """
    d, length, radius = (
        np.asarray(x, dtype=float) for x in (pivot_to_spindle_mm, effective_length_mm, radius_mm)
    )
    sine = (length**2 + radius**2 - d**2) / (2.0 * length * radius)
    cosine = np.sqrt(1.0 - sine**2)
    per_length = np.degrees(-(1.0 / radius - sine / length) / cosine)
    per_distance = np.degrees(d / (length * radius) / cosine)
    return YawSlopes(per_length, np.ones_like(per_length), per_distance)


def yaw_sd_deg(
    alignment: Alignment,
    radius_mm: ArrayLike,
    *,
    overhang_sd_mm: float = 0.0,
    offset_sd_deg: float = 0.0,
    pivot_to_spindle_sd_mm: float = 0.0,
) -> FloatArray:
    """Return the standard uncertainty of the yaw from independent errors (GUM 5.1.2). [shape=(...)]

    The error of the pivot-to-spindle distance is taken with the overhang held: the arm was set by its
    overhang, so effective length and distance are wrong together.
    """
    slopes = yaw_slopes(alignment.pivot_to_spindle_mm, alignment.effective_length_mm, radius_mm)
    together = slopes.per_length_deg_per_mm + slopes.per_distance_deg_per_mm
    return np.sqrt(
        (slopes.per_length_deg_per_mm * overhang_sd_mm) ** 2
        + (slopes.per_offset_deg_per_deg * offset_sd_deg) ** 2
        + (together * pivot_to_spindle_sd_mm) ** 2
    )


@dataclass(frozen=True)
class Cost:
    """What one error does to an alignment over a groove range."""

    what: str
    max_tracking_error_deg: float
    max_distortion_percent: float
    rms_distortion_percent: float


def costs_of_errors(
    alignment: Alignment,
    grooves: GrooveRange,
    *,
    velocity_cm_per_s: float = REFERENCE_VELOCITY_CM_PER_S,
    speed_rpm: float = RPM_33,
) -> list[Cost]:
    """Return the alignment as it should be, and what 1 mm or 1 degree of each error makes of it.

    An error in the pivot-to-spindle distance with the overhang right means that the arm's length is wrong
    by the same amount; with a sheet that squares the cartridge at both nulls it costs nothing, since the
    nulls themselves are then set.
    """
    cases = (
        ("as it should be", 0.0, 0.0, 0.0),
        ("overhang 1 mm too long", 0.0, 1.0, 0.0),
        ("overhang 1 mm too short", 0.0, -1.0, 0.0),
        ("front turned in by 1 degree", 0.0, 0.0, 1.0),
        ("front turned out by 1 degree", 0.0, 0.0, -1.0),
        ("pivot to spindle 1 mm longer, same overhang", 1.0, 1.0, 0.0),
        ("pivot to spindle 1 mm longer, same arm", 1.0, 0.0, 0.0),
    )
    costs = []
    for what, distance, length, offset in cases:
        changed = alignment_for_mounting(
            alignment.pivot_to_spindle_mm + distance,
            alignment.effective_length_mm + length,
            alignment.offset_angle_deg + offset,
        )
        summary = distortion_summary(
            changed, grooves, velocity_cm_per_s=velocity_cm_per_s, speed_rpm=speed_rpm
        )
        costs.append(Cost(what, *summary))
    return costs
