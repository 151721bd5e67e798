"""Parallel-tracking arms: the stylus travels along a straight line, so one condition holds everywhere."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from groovewright.quantities import FloatArray


def parallel_tracking_yaw_deg(
    radius_mm: ArrayLike, *, line_offset_mm: ArrayLike, body_yaw_deg: ArrayLike = 0.0
) -> FloatArray:
    """Return the yaw at a radius of an arm whose stylus moves along a straight line. [shape=(...), broadcast]

    `line_offset_mm` is how far the line of travel passes in front of the spindle (0: along a radius, as it
    should be), `body_yaw_deg` how far the cartridge is turned in against the square to that line. The
    groove's direction at the stylus turns by asin(offset / r), so the yaw is body_yaw - asin(offset / r):
    zero at every radius only when both are zero. NaN where the line does not reach the radius.
    """
    ratio = np.asarray(line_offset_mm, dtype=float) / np.asarray(radius_mm, dtype=float)
    turned = np.degrees(np.arcsin(np.where(np.abs(ratio) <= 1.0, ratio, np.nan)))
    return np.asarray(np.asarray(body_yaw_deg, dtype=float) - turned)


def parallel_line_offset_mm(
    yaw_inner_deg: ArrayLike, radius_inner_mm: ArrayLike, yaw_outer_deg: ArrayLike, radius_outer_mm: ArrayLike
) -> FloatArray:
    """Return the line offset that explains two yaws read at two radii (small angles). [shape=(...)]

    yaw_inner - yaw_outer = -offset (1 / r_inner - 1 / r_outer). Positive: the base or the cartridge must go
    back by that much; what yaw is left then is the cartridge's turn.
    """
    difference = np.radians(np.asarray(yaw_outer_deg, dtype=float) - np.asarray(yaw_inner_deg, dtype=float))
    span = 1.0 / np.asarray(radius_inner_mm, dtype=float) - 1.0 / np.asarray(radius_outer_mm, dtype=float)
    return np.asarray(difference / span)
