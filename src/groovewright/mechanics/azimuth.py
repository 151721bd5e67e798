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

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.mechanics.clearance import HOLE_SPACING_MM
from groovewright.mechanics.verdict import Verdict
from groovewright.quantities import FloatArray, InputError, Limits, OtherUnit, Reading

CROSSTALK_DB = Limits(
    "crosstalk",
    -120.0,
    -6.0,
    "dB",
    (OtherUnit("dB of separation, without its minus sign", -1.0),),
)
CROSSTALK_SD_DB = Limits("standard uncertainty of a crosstalk reading", 0.02, 3.0, "dB")

BALANCE_DB = Limits("channel balance, right over left", -6.0, 6.0, "dB")

USUAL_LEAN_DEG = 3.0
RARE_LEAN = 0.03
LEAN_TAIL_DEG = 1.5
LARGEST_LEAN_DEG = 12.0
"""Before any reading: leans up to 3 degrees are equally likely; just beyond, 0.03 of that, falling by 1/e
for every 1.5 degrees (our own choice; about 1.5 % of all)."""

ELECTRICAL_DB = (-40.0, -25.0)
"""Electrical crosstalk of a cartridge in mid-band, every level equally likely (common practice)."""

RING_TAIL_DB = 0.02
"""How soft the ends of that range are where the phase is known (our own choice)."""

BALANCE_SD_DB = 0.5
"""Coils of one cartridge: spread of the ratio of their outputs (common practice, from memory)."""

RECIPROCITY_SPREAD = 0.3
"""Leakage is the same both ways (reciprocity) to within about 30 % (the figure is from memory)."""

RECIPROCITY_WEIGHT = 0.1
"""How far reciprocity is trusted before any reading (our own choice; see docs/mechanics.md)."""

SIGNED_PHASE_WEIGHT = 0.3
"""How likely an electrical phase of exactly 0 or 180 degrees is held, against any phase (our own choice)."""

SLIT_DEG = 0.3
"""Gaps in a 95 % set narrower than this are closed: they would mean nothing to a person."""

_NOISE_Z = np.linspace(-3.0, 3.0, 13)
_NOISE_W = np.exp(-0.5 * _NOISE_Z**2) / np.exp(-0.5 * _NOISE_Z**2).sum()
_PHASE_COS = np.cos((np.arange(36) + 0.5) * np.pi / 36.0)
_HERMITE = np.polynomial.hermite_e.hermegauss(5)
_RATIO_Z = _HERMITE[0]
_RATIO_W = _HERMITE[1] / _HERMITE[1].sum()
_DB = 20.0 / math.log(10.0)


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
    amplitudes = _amplitudes(electrical_db)
    angles = np.linspace(0.0, LARGEST_LEAN_DEG, 361)
    tangent = np.tan(np.radians(angles))
    grid = np.linspace(0.0, 2.0 * tangent[-1], 400)
    posterior = np.zeros_like(angles)
    moments = np.zeros((2, 3, angles.size))
    for likelihood, share in ((_any_phase, 1.0 - SIGNED_PHASE_WEIGHT), (_signed_phase, SIGNED_PHASE_WEIGHT)):
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
    noise = sd_db / _DB
    for ratio, weight in _ratios(balance_db):
        posterior += weight * _complex_likelihood(
            angles, left_to_right, right_to_left, ratio, noise, _amplitudes(electrical_db)
        )
    posterior *= _prior(angles)
    _refuse_if_empty(posterior, (left_to_right, right_to_left), electrical_db)
    estimate = _estimate(angles, posterior, None)
    lean = math.tan(math.radians(estimate.lean_deg.value))
    spread = math.radians(estimate.lean_deg.sd)
    first, second = (
        Reading(20.0 * math.log10(max(abs(rest), 1e-4)), _DB * spread / max(abs(rest), spread))
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
    amplitudes = _amplitudes(electrical_db)
    levels = np.array([*before_db, *after_db])
    balance = _balance(balance_db)
    posterior = np.zeros_like(angles)
    for draw in _noise_draws():
        ratio = float(10.0 ** ((balance.value + balance.sd * draw[4]) / 20.0))
        m = 10.0 ** ((levels + sd_db * draw[:4]) / 20.0)
        first, one = _point_from_two_distances(m[0], m[2], ratio * step)
        second, two = _point_from_two_distances(m[1], m[3], -step / ratio)
        for other in (second, second.conjugate()):
            likelihood = _complex_likelihood(angles, first, other, ratio, sd_db / _DB, amplitudes)
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


def _complex_likelihood(
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
    for shift, weight in zip(_RATIO_Z, _RATIO_W, strict=True):
        part = np.maximum(np.abs(rest.real + shift * sd), 1e-9)
        outside = np.maximum(low / part, part / high).clip(1.0)
        along += weight * outside ** (-_DB / RING_TAIL_DB) / (2.0 * part * math.log(high / low))
    return np.asarray(across * along)


def _refuse_if_empty(
    posterior: FloatArray, readings: tuple[complex, complex], electrical_db: tuple[float, float]
) -> None:
    if not posterior.sum() > 0.0:
        raise InputError(
            f"crosstalk of {readings[0]:.4g} and {readings[1]:.4g} fits no lean with electrical crosstalk of "
            f"{electrical_db[0]:g} to {electrical_db[1]:g} dB; look for a lead that is off or a mono switch"
        )


def judge_azimuth(
    estimate: AzimuthEstimate | None, *, mono: bool = False, worth_deg: float = 0.25
) -> Verdict:
    """Return what to do about the lean. Below `worth_deg` or what can be read: stop."""
    if mono:
        return Verdict(
            "unknown",
            "The lean is unknown, needs a mirror or a ruled glass: a mono cartridge has no crosstalk to read.",
        )
    if estimate is None:
        return Verdict(
            "unknown",
            "The lean is unknown, needs two crosstalk readings, left into right and right into left.",
        )
    worst = max(abs(edge) for pair in estimate.intervals_deg for edge in pair)
    limits = " or ".join(f"{low:+.1f} to {high:+.1f}" for low, high in estimate.intervals_deg)
    if worst <= worth_deg or (
        (estimate.side_known or estimate.lean_deg.sd < 0.5)
        and abs(estimate.lean_deg.value) <= max(worth_deg, estimate.lean_deg.sd)
    ):
        return Verdict("upright", f"Upright as well as can be read or set (95 %: {limits} deg). Stop here.")
    if not estimate.side_known:
        return Verdict(
            "leans-side-unknown",
            f"The lean may be anything in {limits} deg (95 %): these readings can't tell lean from "
            f"electrical crosstalk, nor "
            "one side from the other. Lean the cartridge by 1 deg, either way, and read both again.",
        )
    return _leans(estimate.lean_deg.value, limits)


def judge_lean(lean_deg: Reading, *, worth_deg: float = 0.25) -> Verdict:
    """Return what to do about the body's lean as seen in a mirror. Below `worth_deg` or its uncertainty: stop.

    It is the body that a mirror shows; how its coils stand, only crosstalk tells.
    """
    low, high = lean_deg.interval()
    limits = f"{low:+.1f} to {high:+.1f}"
    if abs(lean_deg.value) <= max(worth_deg, lean_deg.sd):
        return Verdict(
            "upright",
            f"The body stands upright as well as can be seen (95 %: {limits} deg); how the coils stand, a test "
            "recording tells.",
        )
    return _leans(lean_deg.value, limits)


def _leans(lean_deg: float, limits: str) -> Verdict:
    way, turn, screw = (
        ("clockwise", "counter-clockwise", "nearer to")
        if lean_deg > 0.0
        else ("counter-clockwise", "clockwise", "farther from")
    )
    shim = abs(float(shim_for_lean_mm(lean_deg)))
    return Verdict(
        "leans",
        f"It leans {abs(lean_deg):.1f} deg {way} seen from the front (95 %: {limits} deg): turn it {turn}, or put "
        f"{shim:.2f} mm under the screw {screw} the spindle.",
    )


def _amplitudes(electrical_db: tuple[float, float]) -> tuple[float, float]:
    low, high = electrical_db
    if not -100.0 <= low < high <= -6.0:
        raise InputError(
            f"electrical crosstalk {low:g}:{high:g} dB is not LOW:HIGH within -100 to -6 dB; -40:-25 is usual"
        )
    return 10.0 ** (low / 20.0), 10.0 ** (high / 20.0)


def _balance(balance_db: Reading | None) -> Reading:
    if balance_db is None:
        return Reading(0.0, BALANCE_SD_DB)
    BALANCE_DB.check(balance_db.value)
    return balance_db


def _ratios(balance_db: Reading | None) -> list[tuple[float, float]]:
    balance = _balance(balance_db)
    decibels = balance.value + balance.sd * _RATIO_Z
    return [(float(10.0 ** (d / 20.0)), float(w)) for d, w in zip(decibels, _RATIO_W, strict=True)]


def _prior(angles_deg: FloatArray) -> FloatArray:
    beyond = np.clip(np.abs(angles_deg) - USUAL_LEAN_DEG, 0.0, None)
    return np.where(beyond > 0.0, RARE_LEAN * np.exp(-beyond / LEAN_TAIL_DEG), 1.0)


def _moments(weights: FloatArray, amplitude: FloatArray, axes: tuple[int, ...]) -> FloatArray:
    level = 20.0 * np.log10(np.maximum(amplitude, 1e-9))
    return np.stack([(weights * level**power).sum(axis=axes) for power in range(3)])


def _any_phase(
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


def _signed_phase(
    level_db: float, sd_db: float, grid: FloatArray, amplitudes: tuple[float, float]
) -> FloatArray:
    """Return the same as `_any_phase` for an electrical part in phase or out of phase with the channel."""
    low, high = amplitudes
    x = 10.0 ** ((level_db + sd_db * _NOISE_Z) / 20.0)
    part = np.abs(np.stack([x[:, None] + grid, grid - x[:, None]]))
    inside = (part >= low) & (part <= high)
    density = np.where(inside, 1.0 / (2.0 * np.maximum(part, 1e-9) * math.log(high / low)), 0.0)
    return _moments((_NOISE_W * x)[None, :, None] * density, part, (0, 1))


def _smoothed_density(amplitude: FloatArray, sd: float, amplitudes: tuple[float, float]) -> FloatArray:
    """Return the density of electrical crosstalk in the complex plane, its edges smoothed by the noise.

    1 / (2 pi |e|^2 ln(high / low)) on the ring between both amplitudes: log-uniform amplitude, any phase;
    beyond it the density falls by 1/e every `RING_TAIL_DB`.
    """
    low, high = amplitudes
    shifted = np.maximum(np.abs(amplitude + sd * _RATIO_Z[:, None]), 1e-9)
    outside = np.maximum(low / shifted, shifted / high).clip(1.0)
    density = outside ** (-_DB / RING_TAIL_DB) / (2.0 * np.pi * shifted**2 * math.log(high / low))
    return np.asarray(_RATIO_W @ density)


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
