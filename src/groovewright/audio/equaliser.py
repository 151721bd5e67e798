"""The replay equaliser: its time constants and its complex gain."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.audio.bands import Law, Replay

BASS_S, MIDDLE_S, TREBLE_S = 3180e-6, 318e-6, 75e-6
"""IEC 60098: time constants of the recording characteristic, undone at replay."""
SUBSONIC_S = 7950e-6
"""IEC 98, amendment 4 (1976): the additional replay high-pass at 20 Hz."""
REFERENCE_HZ = 1000.0


def replay_gain(frequency_hz: ArrayLike) -> NDArray[np.complex128]:
    """Return the equaliser's gain from cartridge voltage to output, 1 in magnitude at 1 kHz. [shape=(...)]

    H(s) = (1 + s 318 us) / ((1 + s 3180 us)(1 + s 75 us)), IEC 60098.
    """
    return _curve(frequency_hz) / abs(complex(_curve(REFERENCE_HZ)))


def _curve(frequency_hz: ArrayLike) -> NDArray[np.complex128]:
    s = 2j * np.pi * np.asarray(frequency_hz, dtype=float)
    return np.asarray((1.0 + s * MIDDLE_S) / ((1.0 + s * BASS_S) * (1.0 + s * TREBLE_S)))


def gain_between(frequency_hz: ArrayLike, replay: Replay) -> NDArray[np.complex128]:
    """Return the gain of what stood between cartridge and file, 1 in magnitude at 1 kHz. [shape=(...)]"""
    frequency = np.asarray(frequency_hz, dtype=float)
    if replay is Replay.NONE:
        return np.ones(frequency.shape, dtype=complex)
    if replay is Replay.EQUALISED:
        return replay_gain(frequency)
    s = 2j * np.pi * np.maximum(frequency, 1e-9)
    at_1_khz = 2j * np.pi * REFERENCE_HZ * SUBSONIC_S
    high_pass = s * SUBSONIC_S / (1.0 + s * SUBSONIC_S)
    return np.asarray(replay_gain(frequency) * high_pass / abs(at_1_khz / (1.0 + at_1_khz)))


def cut_velocity(frequency_hz: ArrayLike, law: Law) -> NDArray[np.float64]:
    """Return the recorded velocity of a sweep or noise, relative to 1 kHz. [shape=(...)]"""
    frequency = np.asarray(frequency_hz, dtype=float)
    if law is Law.EQUALISED:
        return np.asarray(1.0 / np.abs(replay_gain(frequency)))
    if law is Law.CONSTANT_AMPLITUDE:
        return np.asarray(frequency / REFERENCE_HZ)
    return np.ones_like(frequency)


def expected_gain(
    frequency_hz: ArrayLike, law: Law, replay: Replay, pace: float = 1.0
) -> NDArray[np.float64]:
    """Return the magnitude that an ideal cartridge would give in the file, relative to 1 kHz. [shape=(...)]

    At `pace` times the nominal speed what is heard at f was cut at f / pace, and passes faster.
    """
    heard = np.asarray(frequency_hz, dtype=float)
    return np.asarray(np.abs(gain_between(heard, replay)) * cut_velocity(heard / pace, law) * pace)
