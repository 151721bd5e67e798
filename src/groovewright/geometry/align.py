"""From a criterion's name to the alignment for one arm."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from groovewright.geometry.alignment import PIVOT_TO_SPINDLE, Alignment, alignment_for_mounting
from groovewright.geometry.criteria import CLOSED_FORMS
from groovewright.geometry.optimum import exact_least_squares, exact_minimax
from groovewright.geometry.tracking import length_and_offset_for_nulls
from groovewright.quantities import LP, FloatArray, GrooveRange, InputError, unknown_word

EXACT_OPTIMA: dict[str, Callable[[ArrayLike, GrooveRange], tuple[FloatArray, FloatArray]]] = {
    "minimax": exact_minimax,
    "least-squares": exact_least_squares,
}
"""The criteria whose nulls depend a little on the arm's length too."""

CRITERIA = (*CLOSED_FORMS, *EXACT_OPTIMA)
"""The names of all criteria."""

CRITERION_NAMES = {
    "lofgren-a": "Löfgren A",
    "lofgren-b": "Löfgren B",
    "stevenson": "Stevenson",
    "minimax": "exact minimax",
    "least-squares": "exact least squares",
}
"""How a criterion is written on paper."""


def align(criterion: str, pivot_to_spindle_mm: float, grooves: GrooveRange = LP) -> Alignment:
    """Return the alignment that a criterion asks for on one arm.

    Raises
    ------
    InputError
        The criterion is not one of `CRITERIA`, the distance is out of range, or the arm is too short for
        the groove range.
    """
    PIVOT_TO_SPINDLE.check(pivot_to_spindle_mm)
    if grooves.outer_mm - grooves.inner_mm >= pivot_to_spindle_mm:
        raise InputError(
            f"an arm of {pivot_to_spindle_mm:g} mm pivot to spindle can't be aligned over "
            f"{grooves.inner_mm:g}:{grooves.outer_mm:g} mm; a range narrower than the arm can"
        )
    length, offset = _length_and_offset(criterion, pivot_to_spindle_mm, grooves)
    return alignment_for_mounting(pivot_to_spindle_mm, float(length), float(offset))


def align_many(
    criterion: str, pivot_to_spindle_mm: ArrayLike, grooves: GrooveRange = LP
) -> tuple[FloatArray, FloatArray]:
    """Return effective lengths in mm and offset angles in degrees for an array of arms. [each shape=(...)]"""
    PIVOT_TO_SPINDLE.check_all(pivot_to_spindle_mm)
    return _length_and_offset(criterion, pivot_to_spindle_mm, grooves)


def _length_and_offset(
    criterion: str, pivot_to_spindle_mm: ArrayLike, grooves: GrooveRange
) -> tuple[FloatArray, FloatArray]:
    d = np.asarray(pivot_to_spindle_mm, dtype=float)
    if criterion in CLOSED_FORMS:
        return length_and_offset_for_nulls(d, *CLOSED_FORMS[criterion](grooves.inner_mm, grooves.outer_mm))
    if criterion in EXACT_OPTIMA:
        return EXACT_OPTIMA[criterion](d, grooves)
    raise unknown_word("criterion", criterion, CRITERIA)
