"""Plan geometry of record players: yaw, nulls, criteria, optima, what an error costs."""

from groovewright.geometry.align import CRITERIA, CRITERION_NAMES, align, align_many
from groovewright.geometry.alignment import (
    PIVOT_TO_SPINDLE,
    Alignment,
    alignment_for_mounting,
    alignment_for_nulls,
)
from groovewright.geometry.distortion import (
    distortion_summary,
    groove_speed_m_per_s,
    second_harmonic_percent,
)
from groovewright.geometry.tracking import (
    groove_angle_deg,
    length_and_offset_for_nulls,
    null_radii_mm,
    yaw_deg,
)

__all__ = [
    "CRITERIA",
    "CRITERION_NAMES",
    "PIVOT_TO_SPINDLE",
    "Alignment",
    "align",
    "align_many",
    "alignment_for_mounting",
    "alignment_for_nulls",
    "distortion_summary",
    "groove_angle_deg",
    "groove_speed_m_per_s",
    "length_and_offset_for_nulls",
    "null_radii_mm",
    "second_harmonic_percent",
    "yaw_deg",
]
