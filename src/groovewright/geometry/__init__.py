"""Plan geometry of record players: yaw, nulls, criteria, optima, what an error costs."""

from groovewright.geometry.alignment import (
    PIVOT_TO_SPINDLE,
    Alignment,
    alignment_for_mounting,
    alignment_for_nulls,
)
from groovewright.geometry.tracking import (
    groove_angle_deg,
    length_and_offset_for_nulls,
    null_radii_mm,
    yaw_deg,
)

__all__ = [
    "PIVOT_TO_SPINDLE",
    "Alignment",
    "alignment_for_mounting",
    "alignment_for_nulls",
    "groove_angle_deg",
    "length_and_offset_for_nulls",
    "null_radii_mm",
    "yaw_deg",
]
