"""From the two columns of the file to sideways and up-and-down motion: gains, lean and crosstalk taken out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.audio.crosstalk import Separation
from groovewright.audio.identity import REVERSED, SWAPPED, Identity
from groovewright.quantities import FloatArray


@dataclass(frozen=True)
class Wires:
    """What stands between the walls' motions and the columns.

    Parameters
    ----------
    swapped : bool
        Left and right are exchanged.
    reversed_coil : bool
    gain : float
        Left over right, at equal recorded velocity.
    left_to_right, right_to_left : float
        Crosstalk in phase, gains taken out.
    """

    swapped: bool = False
    reversed_coil: bool = False
    gain: float = 1.0
    left_to_right: float = 0.0
    right_to_left: float = 0.0

    def motions(self, columns: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return lateral and vertical motion. [columns: shape=(2, n); each shape=(n,)]

        A decibel of balance or three degrees of lean would show some 6 % of one motion in the other, and near the
        other's resonance that is not little.
        """
        one, other = columns[::-1] if self.swapped else columns
        left, right = one / self.gain, (-other if self.reversed_coil else other)
        left, right = left - self.right_to_left * right, right - self.left_to_right * left
        return left + right, left - right


def wires_from(identity: Identity, separations: Sequence[Separation]) -> Wires:
    """Return the wires as far as the tones tell, from the pair of tones nearest to 1 kHz."""
    swapped, reversed_coil = identity.leads == SWAPPED, identity.polarity == REVERSED
    if not separations:
        return Wires(swapped, reversed_coil)
    best = min(separations, key=lambda entry: abs(math.log(entry.frequency_hz / 1000.0)))
    return Wires(
        swapped,
        reversed_coil,
        float(10.0 ** (best.balance_db.value / 20.0)),
        float(np.real(best.left_to_right.value)),
        float(np.real(best.right_to_left.value)),
    )
