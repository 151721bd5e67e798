"""Where the two nulls belong: the published closed forms.

All three depend on the groove range alone. With u = 1 / r the tracking error over the radius is, for small
angles, a parabola in u: error / r = (P / 2 L) (u - 1/n1) (u - 1/n2), with P = n1 n2. Distortion by tracking
error is proportional to error / r, so each criterion is a choice of parabola (docs/geometry.md).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from groovewright.quantities import FloatArray

Nulls = tuple[FloatArray, FloatArray]


def lofgren_a_nulls_mm(inner_mm: ArrayLike, outer_mm: ArrayLike) -> Nulls:
    """Return the nulls that make the largest error / r smallest. [each shape=(...), broadcast]

    E. Lofgren 1938 and H. G. Baerwald 1941 (J. SMPE): the Chebyshev parabola in 1 / r, whose nulls lie at
    mean -+ half-range / sqrt(2) of 1 / r.
    """
    inner, outer = (np.asarray(x, dtype=float) for x in (inner_mm, outer_mm))
    mean, half = 0.5 * (1.0 / inner + 1.0 / outer), 0.5 * (1.0 / inner - 1.0 / outer)
    return 1.0 / (mean + half / math.sqrt(2.0)), 1.0 / (mean - half / math.sqrt(2.0))


def lofgren_b_nulls_mm(inner_mm: ArrayLike, outer_mm: ArrayLike) -> Nulls:
    """Return the nulls of the usual least-squares alignment. [each shape=(...), broadcast]

    The form the trade calls Lofgren B: the linear offset stays that of Lofgren A, and the overhang makes
    the integral of (error / r)^2 over r smallest, for small angles. It is off the exact optimum by up to
    0.6 mm in the nulls (J. Audio Eng. Soc. 70(3), 199-207, 2022), see `exact_least_squares`.

    With e / r = 1/2 + P u^2 / 2 - s u (s the linear offset), d/dP of the integral is zero at
    P = (2 s I3 - I2) / I4, In the integral of r^-n over the range.
    """
    inner, outer = (np.asarray(x, dtype=float) for x in (inner_mm, outer_mm))
    offset = 0.5 * np.add(*lofgren_a_nulls_mm(inner, outer))

    def integral(power: int) -> FloatArray:
        return np.asarray((inner ** (1 - power) - outer ** (1 - power)) / (power - 1))

    product = (2.0 * offset * integral(3) - integral(2)) / integral(4)
    root = np.sqrt(offset**2 - product)
    return np.asarray(offset - root), np.asarray(offset + root)


def stevenson_nulls_mm(inner_mm: ArrayLike, outer_mm: ArrayLike) -> Nulls:
    """Return the nulls with no error at the innermost groove. [each shape=(...), broadcast]

    J. K. Stevenson, Wireless World 1966: the inner null is the innermost groove; the outer one makes the
    two remaining maxima of error / r equal: u2 = uo + (3 - 2 sqrt 2) (u1 - uo) (docs/geometry.md).
    """
    inner, outer = (np.asarray(x, dtype=float) for x in (inner_mm, outer_mm))
    u_inner, u_outer = 1.0 / inner, 1.0 / outer
    share = 3.0 - 2.0 * math.sqrt(2.0)
    return np.asarray(inner + 0.0 * outer), 1.0 / (u_outer + share * (u_inner - u_outer))


CLOSED_FORMS: dict[str, Callable[[ArrayLike, ArrayLike], Nulls]] = {
    "lofgren-a": lofgren_a_nulls_mm,
    "lofgren-b": lofgren_b_nulls_mm,
    "stevenson": stevenson_nulls_mm,
}
"""The criteria whose nulls follow from the groove range alone."""
