"""An alignment: where the stylus sits and how the cartridge is turned, for one arm on one player."""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.geometry.tracking import length_and_offset_for_nulls, null_radii_mm
from groovewright.quantities import CENTIMETRES, GROOVE_RADIUS, INCHES, METRES, RADIANS, InputError, Limits

PIVOT_TO_SPINDLE = Limits("pivot-to-spindle distance", 120.0, 500.0, "mm", (INCHES, CENTIMETRES, METRES))
"""From the shortest portable players to broadcast arms (common practice)."""

EFFECTIVE_LENGTH = Limits("effective length", 120.0, 500.0, "mm", (INCHES, CENTIMETRES, METRES))
OFFSET_ANGLE = Limits("offset angle", -45.0, 45.0, "deg", (RADIANS,))


@dataclass(frozen=True)
class Alignment:
    """One arm's plan geometry, in mm and degrees.

    The null radii are NaN where the arm has none (see `groovewright.geometry.null_radii_mm`).
    """

    pivot_to_spindle_mm: float
    effective_length_mm: float
    offset_angle_deg: float
    null_inner_mm: float
    null_outer_mm: float

    @property
    def overhang_mm(self) -> float:
        """How far the stylus reaches beyond the spindle when the arm points at it: L - d."""
        return self.effective_length_mm - self.pivot_to_spindle_mm

    @property
    def linear_offset_mm(self) -> float:
        """L sin(offset angle): half the sum of the two null radii."""
        return self.effective_length_mm * math.sin(math.radians(self.offset_angle_deg))


def alignment_for_nulls(pivot_to_spindle_mm: float, null_inner_mm: float, null_outer_mm: float) -> Alignment:
    """Return the alignment with the given null radii.

    Raises
    ------
    InputError
        A length is out of range, the nulls are reversed, or no offset angle reaches them.
    """
    PIVOT_TO_SPINDLE.check(pivot_to_spindle_mm)
    GROOVE_RADIUS.check(null_inner_mm, "inner null")
    GROOVE_RADIUS.check(null_outer_mm, "outer null")
    if null_inner_mm > null_outer_mm:
        raise InputError(
            f"nulls {null_inner_mm:g}:{null_outer_mm:g} mm are the wrong way round: the inner one "
            f"comes first; try {null_outer_mm:g}:{null_inner_mm:g}"
        )
    if null_outer_mm - null_inner_mm >= 2.0 * pivot_to_spindle_mm:
        raise InputError(
            f"nulls {null_inner_mm:g}:{null_outer_mm:g} mm can't be reached by an arm of "
            f"{pivot_to_spindle_mm:g} mm pivot to spindle"
        )
    length, offset = length_and_offset_for_nulls(pivot_to_spindle_mm, null_inner_mm, null_outer_mm)
    return Alignment(
        float(pivot_to_spindle_mm), float(length), float(offset), float(null_inner_mm), float(null_outer_mm)
    )


def alignment_for_mounting(
    pivot_to_spindle_mm: float, effective_length_mm: float, offset_angle_deg: float
) -> Alignment:
    """Return the alignment that an arm has, whether it has two nulls, one or none."""
    inner, outer = null_radii_mm(pivot_to_spindle_mm, effective_length_mm, offset_angle_deg)
    return Alignment(
        float(pivot_to_spindle_mm),
        float(effective_length_mm),
        float(offset_angle_deg),
        float(inner),
        float(outer),
    )
