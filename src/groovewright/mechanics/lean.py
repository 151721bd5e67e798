"""How upright: from crosstalk readings to a lean angle, beside electrical crosstalk that no leaning removes.

Seen from the front (the viewer looks towards the pivot), the spindle to the left::

        inner wall, left channel  \\         /  outer wall, right channel
                                   \\   |   /
                                    \\  |  /        lean positive: clockwise, top to the right (outwards)
                                     \\ | /
                                      \\|/

With x to the right and z up the left channel is motion along (1, 1) / sqrt 2, the right one along (1, -1) /
sqrt 2 (equal outputs in phase are lateral motion; IEC 60098:2020, 6.2). A cartridge that leans clockwise by
a turns both axes: its left coil gives cos a L + sin a R, its right coil cos a R - sin a L. So the crosstalk
of pure lean is **-k tan a from left into right** (out of phase) and **+tan a / k from right into left** (in
phase), k the ratio of the coils, right over left; each reading is referred to the channel that was cut.
Electrical crosstalk (shared flux, capacitance) adds a complex number to each. What can and can't be told
apart: docs/mechanics.md.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from groovewright.mechanics.clearance import HOLE_SPACING_MM
from groovewright.quantities import FloatArray, Limits, OtherUnit

CROSSTALK_DB = Limits(
    "crosstalk",
    -120.0,
    -6.0,
    "dB",
    (OtherUnit("dB of separation, without its minus sign", -1.0),),
)


def crosstalk_of_lean(lean_deg: ArrayLike, coil_ratio: ArrayLike = 1.0) -> tuple[FloatArray, FloatArray]:
    """Return the signed crosstalk of a lean, left into right and right into left. [each shape=(...)]

    -k tan(a) and tan(a) / k, k the right coil's output over the left one's. Derived in the module docstring.
    """
    tangent = np.tan(np.radians(np.asarray(lean_deg, dtype=float)))
    ratio = np.asarray(coil_ratio, dtype=float)
    return np.asarray(-ratio * tangent), np.asarray(tangent / ratio)


def crosstalk_of_lean_db(lean_deg: ArrayLike) -> FloatArray:
    """Return the crosstalk of pure lean with equal coils in dB: 20 log10 |tan a|. [shape=(...)]"""
    return np.asarray(20.0 * np.log10(np.abs(crosstalk_of_lean(lean_deg)[1])))


def polar(level_db: float, phase_deg: float) -> complex:
    """Return a crosstalk ratio as a complex number from its level and phase."""
    CROSSTALK_DB.check(level_db)
    return complex(10.0 ** (level_db / 20.0) * np.exp(1j * np.radians(phase_deg)))


def shim_for_lean_mm(lean_deg: ArrayLike, hole_spacing_mm: ArrayLike = HOLE_SPACING_MM) -> FloatArray:
    """Return the shim under one screw that corrects a lean: spacing x tan(a). [shape=(...), broadcast]

    Positive: between headshell and cartridge at the screw nearer to the spindle; negative: at the other
    one. Where the headshell or the arm tube can be turned, turn it by `lean_deg` counter-clockwise seen
    from the front instead.
    """
    tangent = np.tan(np.radians(np.asarray(lean_deg, dtype=float)))
    return np.asarray(np.asarray(hole_spacing_mm, dtype=float) * tangent)
