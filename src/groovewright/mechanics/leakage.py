"""How likely a crosstalk reading is, with electrical crosstalk beside the lean's.

Its level is usual within a range, its phase anything, or exactly in or out of phase; it is nearly the same in both
directions, or independent. What may be assumed of it is here; `azimuth` weighs the lean with it.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray, InputError

ELECTRICAL_DB = (-40.0, -25.0)
"""Electrical crosstalk of a cartridge in mid-band, every level equally likely (common practice)."""

RING_TAIL_DB = 0.02
"""How soft the ends of that range are where the phase is known (our own choice)."""

RECIPROCITY_SPREAD = 0.3
"""Leakage is the same both ways (reciprocity) to within about 30 % (the figure is from memory)."""

RECIPROCITY_WEIGHT = 0.1
"""How far reciprocity is trusted before any reading (our own choice; see docs/mechanics.md)."""

SIGNED_PHASE_WEIGHT = 0.3
"""How likely an electrical phase of exactly 0 or 180 degrees is held, against any phase (our own choice)."""

_NOISE_Z = np.linspace(-3.0, 3.0, 13)
_NOISE_W = np.exp(-0.5 * _NOISE_Z**2) / np.exp(-0.5 * _NOISE_Z**2).sum()
_PHASE_COS = np.cos((np.arange(36) + 0.5) * np.pi / 36.0)
HERMITE_Z, HERMITE_W = (np.asarray(part) for part in np.polynomial.hermite_e.hermegauss(5))
HERMITE_W = HERMITE_W / HERMITE_W.sum()
"""Places and weights that average over a standard normal number (Gauss and Hermite, five points)."""
DB_PER_NEPER = 20.0 / math.log(10.0)


def complex_likelihood(
    angles_deg: FloatArray,
    left_to_right: complex,
    right_to_left: complex,
    ratio: float,
    noise: float,
    amplitudes: tuple[float, float],
) -> FloatArray:
    """Return the likelihood of complex crosstalk over the lean: independent and reciprocal leakage, mixed."""
    tangent = np.tan(np.radians(angles_deg))
    first = left_to_right + ratio * tangent
    second = right_to_left - tangent / ratio
    left = _smoothed_density(np.abs(first), abs(left_to_right) * noise, amplitudes)
    right = _smoothed_density(np.abs(second), abs(right_to_left) * noise, amplitudes)
    middle = np.abs(0.5 * (first + second))
    reading = noise**2 * (abs(left_to_right) ** 2 + abs(right_to_left) ** 2)
    variance = reading + 0.5 * (RECIPROCITY_SPREAD * middle) ** 2
    agreement = np.exp(-0.5 * np.abs(second - first) ** 2 / variance) / (2.0 * np.pi * variance)
    shared = agreement * _smoothed_density(middle, 0.5 * math.sqrt(reading), amplitudes)
    signed = _signed_likelihood(first, abs(left_to_right) * noise, amplitudes) * _signed_likelihood(
        second, abs(right_to_left) * noise, amplitudes
    )
    any_phase = (1.0 - RECIPROCITY_WEIGHT) * left * right + RECIPROCITY_WEIGHT * shared
    return np.asarray((1.0 - SIGNED_PHASE_WEIGHT) * any_phase + SIGNED_PHASE_WEIGHT * signed)


def _signed_likelihood(
    rest: NDArray[np.complexfloating[Any, Any]], sd: float, amplitudes: tuple[float, float]
) -> FloatArray:
    """Return the density of electrical crosstalk that is exactly in or out of phase, seen through the noise."""
    low, high = amplitudes
    across = np.exp(-0.5 * (rest.imag / sd) ** 2) / (math.sqrt(2.0 * math.pi) * sd)
    along = np.zeros(rest.shape)
    for shift, weight in zip(HERMITE_Z, HERMITE_W, strict=True):
        part = np.maximum(np.abs(rest.real + shift * sd), 1e-9)
        outside = np.maximum(low / part, part / high).clip(1.0)
        along += weight * outside ** (-DB_PER_NEPER / RING_TAIL_DB) / (2.0 * part * math.log(high / low))
    return np.asarray(across * along)


def any_phase_likelihood(
    level_db: float, sd_db: float, grid: FloatArray, amplitudes: tuple[float, float]
) -> FloatArray:
    """Return the density of a reading over the lean's crosstalk u, any electrical phase, with level moments.

    The electrical part is x e^(i psi) + u for a true crosstalk of magnitude x and phase psi: integrate its
    density over psi and over the noise. [shape=(3, grid)]: powers 0, 1, 2 of its level in dB.
    """
    low, high = amplitudes
    x = 10.0 ** ((level_db + sd_db * _NOISE_Z) / 20.0)
    square = (x**2)[:, None, None] + grid**2 + 2.0 * x[:, None, None] * _PHASE_COS[None, :, None] * grid
    inside = (square >= low**2) & (square <= high**2)
    density = np.where(inside, 1.0 / (np.maximum(square, 1e-12) * math.log(high / low)), 0.0)
    weights = (_NOISE_W * x**2)[:, None, None] * density / _PHASE_COS.size
    return _moments(weights, np.sqrt(square), (0, 1))


def signed_phase_likelihood(
    level_db: float, sd_db: float, grid: FloatArray, amplitudes: tuple[float, float]
) -> FloatArray:
    """Return the same as `any_phase_likelihood` for an electrical part in phase or out of phase with the channel."""
    low, high = amplitudes
    x = 10.0 ** ((level_db + sd_db * _NOISE_Z) / 20.0)
    part = np.abs(np.stack([x[:, None] + grid, grid - x[:, None]]))
    inside = (part >= low) & (part <= high)
    density = np.where(inside, 1.0 / (2.0 * np.maximum(part, 1e-9) * math.log(high / low)), 0.0)
    return _moments((_NOISE_W * x)[None, :, None] * density, part, (0, 1))


def _moments(weights: FloatArray, amplitude: FloatArray, axes: tuple[int, ...]) -> FloatArray:
    level = 20.0 * np.log10(np.maximum(amplitude, 1e-9))
    return np.stack([(weights * level**power).sum(axis=axes) for power in range(3)])


def _smoothed_density(amplitude: FloatArray, sd: float, amplitudes: tuple[float, float]) -> FloatArray:
    """Return the density of electrical crosstalk in the complex plane, its edges smoothed by the noise.

    1 / (2 pi |e|^2 ln(high / low)) on the ring between both amplitudes: log-uniform amplitude, any phase;
    beyond it the density falls by 1/e every `RING_TAIL_DB`.
    """
    low, high = amplitudes
    shifted = np.maximum(np.abs(amplitude + sd * HERMITE_Z[:, None]), 1e-9)
    outside = np.maximum(low / shifted, shifted / high).clip(1.0)
    density = outside ** (-DB_PER_NEPER / RING_TAIL_DB) / (2.0 * np.pi * shifted**2 * math.log(high / low))
    return np.asarray(HERMITE_W @ density)


def amplitude_range(electrical_db: tuple[float, float]) -> tuple[float, float]:
    """Return a range of electrical crosstalk in dB as amplitudes.

    Raises
    ------
    InputError
        It is no range within -100 to -6 dB.
    """
    low, high = electrical_db
    if not -100.0 <= low < high <= -6.0:
        raise InputError(
            f"electrical crosstalk {low:g}:{high:g} dB is not LOW:HIGH within -100 to -6 dB; -40:-25 is usual"
        )
    return 10.0 ** (low / 20.0), 10.0 ** (high / 20.0)
