"""Distortion by tracking error: percent second harmonic of a lateral tone."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from groovewright.geometry.alignment import Alignment
from groovewright.geometry.tracking import yaw_deg
from groovewright.quantities import RPM_33, CannotBeDoneError, FloatArray, GrooveRange, Limits

REFERENCE_VELOCITY_CM_PER_S = 10.0
"""Peak recorded velocity that distortion figures are quoted at (common practice)."""

SPEED = Limits("speed", 8.0, 100.0, "rpm")
VELOCITY = Limits("peak recorded velocity", 0.01, 100.0, "cm/s")


def groove_speed_m_per_s(radius_mm: ArrayLike, speed_rpm: ArrayLike = RPM_33) -> FloatArray:
    """Return the speed of the groove under the stylus, 2 pi r n. [shape=(...), broadcast]"""
    return np.asarray(
        2.0 * np.pi * np.asarray(radius_mm, dtype=float) * 1e-3 * np.asarray(speed_rpm, dtype=float) / 60.0
    )


def second_harmonic_percent(
    tracking_error_deg: ArrayLike,
    radius_mm: ArrayLike,
    *,
    velocity_cm_per_s: ArrayLike = REFERENCE_VELOCITY_CM_PER_S,
    speed_rpm: ArrayLike = RPM_33,
) -> FloatArray:
    """Return 100 V / v |tan(tracking error)|. [shape=(...), broadcast]

    V is the peak recorded velocity, v the groove speed; almost all of the distortion is second harmonic
    (Baerwald 1941; B. B. Bauer, Electronics, March 1945). Before the replay equaliser.
    """
    ratio = np.asarray(velocity_cm_per_s, dtype=float) * 1e-2 / groove_speed_m_per_s(radius_mm, speed_rpm)
    return np.asarray(100.0 * ratio * np.abs(np.tan(np.radians(np.asarray(tracking_error_deg, dtype=float)))))


def mean_square_nodes(grooves: GrooveRange, count: int = 64) -> tuple[FloatArray, FloatArray]:
    """Return radii and weights (summing to 1) that average over the range exactly (Gauss-Legendre)."""
    nodes, weights = np.polynomial.legendre.leggauss(count)
    middle, half = 0.5 * (grooves.inner_mm + grooves.outer_mm), 0.5 * (grooves.outer_mm - grooves.inner_mm)
    return middle + half * nodes, weights / 2.0


def distortion_summary(
    alignment: Alignment,
    grooves: GrooveRange,
    *,
    velocity_cm_per_s: float = REFERENCE_VELOCITY_CM_PER_S,
    speed_rpm: float = RPM_33,
) -> tuple[float, float, float]:
    """Return the largest |tracking error| in degrees, and the largest and the rms distortion in percent.

    Raises
    ------
    CannotBeDoneError
        The arm can't reach all of the grooves.

    Notes
    -----
    The largest are taken over 4,001 radii, both ends included; the rms over the radius (Gauss-Legendre).
    """
    SPEED.check(speed_rpm)
    VELOCITY.check(velocity_cm_per_s)

    def error(radius: FloatArray) -> FloatArray:
        return yaw_deg(
            alignment.pivot_to_spindle_mm, alignment.effective_length_mm, alignment.offset_angle_deg, radius
        )

    def percent(radius: FloatArray) -> FloatArray:
        return second_harmonic_percent(
            error(radius), radius, velocity_cm_per_s=velocity_cm_per_s, speed_rpm=speed_rpm
        )

    radii = np.linspace(grooves.inner_mm, grooves.outer_mm, 4001)
    if not np.all(np.isfinite(error(radii))):
        raise CannotBeDoneError(
            f"an arm of {alignment.pivot_to_spindle_mm:g} mm pivot to spindle and "
            f"{alignment.effective_length_mm:g} mm effective length can't reach all grooves from "
            f"{grooves.inner_mm:g} to {grooves.outer_mm:g} mm; an overhang of 5 to 25 mm can"
        )
    nodes, weights = mean_square_nodes(grooves)
    rms = float(np.sqrt(weights @ percent(nodes) ** 2))
    return float(np.max(np.abs(error(radii)))), float(np.max(percent(radii))), rms
