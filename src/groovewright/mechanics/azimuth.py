"""How upright: from crosstalk readings to a lean angle, beside electrical crosstalk that no leaning removes.

The signs are those of `lean`; what electrical crosstalk may be is in `leakage`. What can and can't be told
apart: docs/mechanics.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.mechanics.leakage import (
    DB_PER_NEPER,
    ELECTRICAL_DB,
    HERMITE_W,
    HERMITE_Z,
    SIGNED_PHASE_WEIGHT,
    amplitude_range,
    any_phase_likelihood,
    complex_likelihood,
    signed_phase_likelihood,
)
from groovewright.mechanics.lean import CROSSTALK_DB
from groovewright.quantities import FloatArray, InputError, Limits, Reading

CROSSTALK_SD_DB = Limits("standard uncertainty of a crosstalk reading", 0.02, 3.0, "dB")

BALANCE_DB = Limits("channel balance, right over left", -6.0, 6.0, "dB")

USUAL_LEAN_DEG = 3.0
RARE_LEAN = 0.03
LEAN_TAIL_DEG = 1.5
LARGEST_LEAN_DEG = 12.0
"""Before any reading: leans up to 3 degrees are equally likely; just beyond, 0.03 of that, falling by 1/e
for every 1.5 degrees (our own choice; about 1.5 % of all)."""

BALANCE_SD_DB = 0.5
"""Coils of one cartridge: spread of the ratio of their outputs (common practice, from memory)."""

SLIT_DEG = 0.3
"""Gaps in a 95 % set narrower than this are closed: they would mean nothing to a person."""


@dataclass(frozen=True)
class AzimuthEstimate:
    """A lean angle as far as the readings know it.

    Parameters
    ----------
    size_deg : Reading
        How far it leans, whichever way.
    lean_deg : Reading
        The lean with its sign; where the side isn't known its mean is 0 and its uncertainty holds both sides.
    intervals_deg : tuple of (low, high)
        The set that holds the truth with 95 % probability (highest density): two intervals where either
        side fits.
    side_known : bool
        Whether one side has at least 97.5 % probability.
    probability_clockwise : float
        That the lean is positive.
    electrical_db : tuple of two Reading, or None
        The electrical crosstalk left into right and right into left that remains with the cartridge upright.
    """

    size_deg: Reading
    lean_deg: Reading
    intervals_deg: tuple[tuple[float, float], ...]
    side_known: bool
    probability_clockwise: float
    electrical_db: tuple[Reading, Reading] | None

    @property
    def best_deg(self) -> float:
        """The lean where the side is known, its size where it isn't."""
        return self.lean_deg.value if self.side_known else self.size_deg.value

    @property
    def sd_deg(self) -> float:
        """Standard uncertainty of `best_deg`."""
        return self.lean_deg.sd if self.side_known else self.size_deg.sd

    def covers(self, lean_deg: float) -> bool:
        """Return whether the 95 % set holds this lean."""
        return any(low <= lean_deg <= high for low, high in self.intervals_deg)


def azimuth_from_magnitudes(
    *,
    left_to_right_db: float,
    right_to_left_db: float,
    sd_db: float,
    balance_db: Reading | None = None,
    electrical_db: tuple[float, float] = ELECTRICAL_DB,
) -> AzimuthEstimate:
    """Return what two crosstalk magnitudes say about the lean: its size, never its side.

    A posterior on a grid of angles. The electrical crosstalk of each direction is unknown: amplitude from
    `electrical_db`, phase anything, or 0 or 180 degrees (`SIGNED_PHASE_WEIGHT`); both are
    integrated out, with the coil ratio and the reading noise. `balance_db` is the right coil over the left
    one, if measured.

    Raises
    ------
    InputError
        A reading is out of range (a missing minus sign is guessed).
    """
    for value in (left_to_right_db, right_to_left_db):
        CROSSTALK_DB.check(value)
    CROSSTALK_SD_DB.check(sd_db)
    amplitudes = amplitude_range(electrical_db)
    angles = np.linspace(0.0, LARGEST_LEAN_DEG, 361)
    tangent = np.tan(np.radians(angles))
    grid = np.linspace(0.0, 2.0 * tangent[-1], 400)
    posterior = np.zeros_like(angles)
    moments = np.zeros((2, 3, angles.size))
    for likelihood, share in (
        (any_phase_likelihood, 1.0 - SIGNED_PHASE_WEIGHT),
        (signed_phase_likelihood, SIGNED_PHASE_WEIGHT),
    ):
        first = share * likelihood(left_to_right_db, sd_db, grid, amplitudes)
        second = likelihood(right_to_left_db, sd_db, grid, amplitudes)
        for ratio, weight in _ratios(balance_db):
            one = np.stack([np.interp(ratio * tangent, grid, row) for row in first])
            two = np.stack([np.interp(tangent / ratio, grid, row) for row in second])
            posterior += weight * one[0] * two[0]
            moments[0] += weight * one * two[0]
            moments[1] += weight * one[0] * two
    prior = _prior(angles)
    posterior, moments = posterior * prior, moments * prior
    _refuse_if_empty(posterior, (left_to_right_db, right_to_left_db), electrical_db)
    mirrored = np.concatenate([posterior[:0:-1], posterior])
    signed = np.concatenate([-angles[:0:-1], angles])
    return _estimate(signed, mirrored, (_level(moments[0]), _level(moments[1])))


def azimuth_from_complex(
    *,
    left_to_right: complex,
    right_to_left: complex,
    sd_db: float,
    balance_db: Reading | None = None,
    electrical_db: tuple[float, float] = ELECTRICAL_DB,
) -> AzimuthEstimate:
    """Return the lean, with its side, from crosstalk ratios whose phase is known.

    Lean is antisymmetric, electrical crosstalk is nearly the same both ways (reciprocity): their difference
    is the lean. Half of the weight trusts that to `RECIPROCITY_SPREAD`, the other half takes both
    directions as independent; the readings decide. `sd_db` counts for amplitude, and the same relative
    amount for phase.
    """
    CROSSTALK_SD_DB.check(sd_db)
    for number in (left_to_right, right_to_left):
        CROSSTALK_DB.check(20.0 * math.log10(max(abs(number), 1e-9)))
    angles = np.linspace(-LARGEST_LEAN_DEG, LARGEST_LEAN_DEG, 2401)
    posterior = np.zeros_like(angles)
    noise = sd_db / DB_PER_NEPER
    for ratio, weight in _ratios(balance_db):
        posterior += weight * complex_likelihood(
            angles, left_to_right, right_to_left, ratio, noise, amplitude_range(electrical_db)
        )
    posterior *= _prior(angles)
    _refuse_if_empty(posterior, (left_to_right, right_to_left), electrical_db)
    estimate = _estimate(angles, posterior, None)
    lean = math.tan(math.radians(estimate.lean_deg.value))
    spread = math.radians(estimate.lean_deg.sd)
    first, second = (
        Reading(20.0 * math.log10(max(abs(rest), 1e-4)), DB_PER_NEPER * spread / max(abs(rest), spread))
        for rest in (left_to_right + lean, right_to_left - lean)
    )
    return replace(estimate, electrical_db=(first, second))


def azimuth_from_two_settings(
    *,
    before_db: tuple[float, float],
    after_db: tuple[float, float],
    leaned_deg: float,
    sd_db: float,
    balance_db: Reading | None = None,
    electrical_db: tuple[float, float] = ELECTRICAL_DB,
) -> AzimuthEstimate:
    """Return the lean **before** the change, with its side, from magnitudes at two settings.

    Between the pairs (left into right, right into left) the cartridge was leaned by `leaned_deg` (clockwise
    positive). A known step D in the complex plane and two distances fix the point that they were measured
    from, but for the sign of its imaginary part: Re x = (m1^2 - m2^2 + D^2) / (2 D). So two settings give
    back the phase, and the rest is as in `azimuth_from_complex`, averaged over the reading noise.

    Raises
    ------
    InputError
        A reading is out of range, or the change of lean is too small to tell anything.
    """
    for value in (*before_db, *after_db):
        CROSSTALK_DB.check(value)
    CROSSTALK_SD_DB.check(sd_db)
    if not 0.2 <= abs(leaned_deg) <= 5.0:
        raise InputError(f"the change of lean is {leaned_deg:g} deg; allowed is 0.2 to 5 deg either way")
    angles = np.linspace(-LARGEST_LEAN_DEG, LARGEST_LEAN_DEG, 601)
    step = math.tan(math.radians(leaned_deg))
    amplitudes = amplitude_range(electrical_db)
    levels = np.array([*before_db, *after_db])
    balance = _balance(balance_db)
    posterior = np.zeros_like(angles)
    for draw in _noise_draws():
        ratio = float(10.0 ** ((balance.value + balance.sd * draw[4]) / 20.0))
        m = 10.0 ** ((levels + sd_db * draw[:4]) / 20.0)
        first, one = _point_from_two_distances(m[0], m[2], ratio * step)
        second, two = _point_from_two_distances(m[1], m[3], -step / ratio)
        for other in (second, second.conjugate()):
            likelihood = complex_likelihood(angles, first, other, ratio, sd_db / DB_PER_NEPER, amplitudes)
            posterior += one * two * likelihood
    posterior *= _prior(angles)
    _refuse_if_empty(posterior, before_db, electrical_db)
    return _estimate(angles, posterior, None)


def _point_from_two_distances(near: float, far: float, step: float) -> tuple[complex, float]:
    """Return x with |x| = near and |x - step| = far (upper half plane), and its weight dRe dIm / (dm1 dm2).

    Distances that can't meet give the nearest point on the real axis, with a weight too small to count beside
    possible ones. The weight's singularity at the axis is held at a tenth of the distance.
    """
    real = (near**2 - far**2 + step**2) / (2.0 * step)
    possible = abs(real) <= near
    real = math.copysign(min(abs(real), near), real)
    imaginary = math.sqrt(max(near**2 - real**2, 0.0))
    weight = near**2 * far**2 / (abs(step) * max(imaginary, 0.1 * near))
    return complex(real, imaginary), weight if possible else 1e-6 * weight


def _noise_draws() -> FloatArray:
    """Return fixed standard normal draws for four readings and the coil ratio, in pairs of opposite sign."""
    half = np.random.default_rng(20240229).standard_normal((40, 5))
    return np.concatenate([half, -half])


def _refuse_if_empty(
    posterior: FloatArray, readings: tuple[complex, complex], electrical_db: tuple[float, float]
) -> None:
    if not posterior.sum() > 0.0:
        raise InputError(
            f"crosstalk of {readings[0]:.4g} and {readings[1]:.4g} fits no lean with electrical crosstalk of "
            f"{electrical_db[0]:g} to {electrical_db[1]:g} dB; look for a lead that is off or a mono switch"
        )


def _balance(balance_db: Reading | None) -> Reading:
    if balance_db is None:
        return Reading(0.0, BALANCE_SD_DB)
    BALANCE_DB.check(balance_db.value)
    return balance_db


def _ratios(balance_db: Reading | None) -> list[tuple[float, float]]:
    balance = _balance(balance_db)
    decibels = balance.value + balance.sd * HERMITE_Z
    return [(float(10.0 ** (d / 20.0)), float(w)) for d, w in zip(decibels, HERMITE_W, strict=True)]


def _prior(angles_deg: FloatArray) -> FloatArray:
    beyond = np.clip(np.abs(angles_deg) - USUAL_LEAN_DEG, 0.0, None)
    return np.where(beyond > 0.0, RARE_LEAN * np.exp(-beyond / LEAN_TAIL_DEG), 1.0)


def _level(moments: FloatArray) -> Reading:
    total, first, second = moments.sum(axis=1)
    mean = first / total
    return Reading(float(mean), math.sqrt(max(float(second / total - mean**2), 0.0)))


def _estimate(
    angles_deg: FloatArray, posterior: FloatArray, electrical: tuple[Reading, Reading] | None
) -> AzimuthEstimate:
    mass = posterior / posterior.sum()

    def moments(values: FloatArray) -> Reading:
        mean = float(mass @ values)
        return Reading(mean, math.sqrt(max(float(mass @ (values - mean) ** 2), 0.0)))

    clockwise = float(mass[angles_deg > 0.0].sum() + 0.5 * mass[angles_deg == 0.0].sum())
    return AzimuthEstimate(
        size_deg=moments(np.abs(angles_deg)),
        lean_deg=moments(angles_deg),
        intervals_deg=_highest_density(angles_deg, mass),
        side_known=max(clockwise, 1.0 - clockwise) >= 0.975,
        probability_clockwise=clockwise,
        electrical_db=electrical,
    )


def _highest_density(
    angles_deg: FloatArray, mass: FloatArray, probability: float = 0.95
) -> tuple[tuple[float, float], ...]:
    """Return the smallest set of grid cells that has this probability with its slits closed, as intervals."""
    order = np.argsort(mass)[::-1]
    before = np.concatenate([[0.0], np.cumsum(mass)])
    cell = float(angles_deg[1] - angles_deg[0])
    few, many = 0, int(np.searchsorted(np.cumsum(mass[order]), probability)) + 1
    starts, stops = _runs(order[:many], SLIT_DEG / cell)
    while many - few > 1:
        count = (few + many) // 2
        trial = _runs(order[:count], SLIT_DEG / cell)
        if float((before[trial[1] + 1] - before[trial[0]]).sum()) >= probability:
            many, (starts, stops) = count, trial
        else:
            few = count
    return tuple(
        (float(angles_deg[start] - 0.5 * cell), float(angles_deg[stop] + 0.5 * cell))
        for start, stop in zip(starts, stops, strict=True)
    )


def _runs(cells: NDArray[np.intp], slit: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return first and last cell of each run of neighbours; gaps of up to `slit` cells are closed."""
    inside = np.sort(cells)
    breaks = np.flatnonzero(np.diff(inside) > slit)
    return inside[np.concatenate([[0], breaks + 1])], inside[np.concatenate([breaks, [inside.size - 1]])]
