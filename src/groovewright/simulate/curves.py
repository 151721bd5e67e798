"""How records are cut and replayed over frequency, for the forward model: not the instruments' own code."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from groovewright.audio import Law
from groovewright.quantities import FloatArray


def equaliser_curve(
    frequency_hz: FloatArray, subsonic: bool = False, *, bass: float = 1.0, treble: float = 1.0
) -> NDArray[np.complex128]:
    """Return the replay curve from its corner frequencies 50.05, 500.5 and 2122 Hz (IEC 60098), 1 at 1
    kHz; `bass` and `treble` stretch the time constants of 318 and 75 us.
    """

    def curve(f: FloatArray) -> NDArray[np.complex128]:
        corners = 1.0 / (2.0 * np.pi * np.array([3180e-6, bass * 318e-6, treble * 75e-6]))
        gain = (1.0 + 1j * f / corners[1]) / (1.0 + 1j * f / corners[0]) / (1.0 + 1j * f / corners[2])
        if subsonic:
            high = 2.0 * np.pi * 7950e-6 * f
            gain = gain * 1j * high / (1.0 + 1j * high)
        return np.asarray(gain)

    return np.asarray(curve(frequency_hz) / np.abs(curve(np.array(1000.0))))


def cut_gain(frequency_hz: FloatArray, law: Law) -> FloatArray:
    """Return the recorded velocity relative to 1 kHz. [shape=(...)]"""
    if law is Law.EQUALISED:
        return np.asarray(1.0 / np.abs(equaliser_curve(frequency_hz)))
    if law is Law.CONSTANT_AMPLITUDE:
        return frequency_hz / 1000.0
    return np.ones_like(frequency_hz)
