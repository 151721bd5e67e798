"""Where the cartridge is, from all looks and moves so far.

The unknowns are the error of the pivot-to-spindle distance and, for every distinct state of the cartridge,
its slide and turn against the aim. Numbers read are normal observations of the yaw, moves are normal
observations of the difference between two states, and words are intervals. The posterior is found by
Gauss-Newton iterations over the whole history at once; intervals enter by expectation propagation (T. P.
Minka, "Expectation Propagation for Approximate Bayesian Inference", UAI 2001), which replaces each by the
normal observation that has the same effect on mean and variance. Derivation: docs/squaring.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from groovewright.geometry.headshell import yaw_and_slopes
from groovewright.quantities import FloatArray
from groovewright.squaring.record import Look, Move, Steps, Workpiece, YawReading

START_SD = 30.0
"""How little is known before the first look: standard deviation of slide in mm and turn in degrees."""

START_REACH = 12.0
"""A cartridge lies within this many mm along its slots and degrees of turn (common practice)."""

FARTHEST = 25.0
"""Where readings ask for more than this many mm or degrees they are misread; the geometry ends there."""

SMALLEST_SD = 1e-4
"""Uncertainties below this count as this, to keep the equations well-conditioned."""

ITERATIONS = 30
CONVERGED = 1e-9


@dataclass(frozen=True)
class Estimate:
    """What is known after the last step.

    Parameters
    ----------
    state : [shape=(3,)]
        Error of the pivot-to-spindle distance in mm, slide in mm, turn in degrees (see `geometry.headshell`).
    state_covariance : [shape=(3, 3)]
    yaw_deg : [shape=(2,)]
        At the outer and the inner null.
    yaw_covariance : [shape=(2, 2)]
    misfits : tuple of (int, str, float)
        Readings that don't fit the rest: number of the look, 'outer' or 'inner', size in standard deviations.
    """

    state: FloatArray
    state_covariance: FloatArray
    yaw_deg: FloatArray
    yaw_covariance: FloatArray
    misfits: tuple[tuple[int, str, float], ...]


@dataclass(frozen=True)
class _Sight:
    """A yaw reading with its place: which state, which null, which look."""

    reading: YawReading
    state: int
    null: int
    look: int


MISFIT_LIMIT = 4.0
"""Readings farther from what the others predict than this many standard deviations are named."""


def estimate(work: Workpiece, steps: Steps) -> Estimate:
    """Return the posterior of the cartridge's state after all steps."""
    sights, moves = _places(steps)
    states = len(moves) + 1
    unknowns = np.zeros(1 + 2 * states)
    for number, move in enumerate(moves):
        unknowns[3 + 2 * number :] += np.resize(
            (move.slide_mm, move.turn_deg), len(unknowns) - 3 - 2 * number
        )
    fixed_rows, fixed_right = _fixed_equations(work, moves, states)
    intervals = [s for s in sights if s.reading.high_deg > s.reading.low_deg]
    numbers = [s for s in sights if s.reading.high_deg == s.reading.low_deg]
    # two more intervals: the first state lies within the slots' reach
    sites = np.zeros((len(intervals) + 2, 2))
    for _ in range(ITERATIONS):
        number_rows, number_right = _sight_equations(work, numbers, unknowns, states)
        interval_rows, bounds = _interval_rows(work, intervals, unknowns, states)
        rows = np.vstack([fixed_rows, number_rows])
        right = np.concatenate([fixed_right, number_right])
        solution, covariance, renewed = _propagate_expectations(rows, right, interval_rows, bounds, sites)
        solution = np.clip(solution, -FARTHEST, FARTHEST)
        change = max(np.abs(solution - unknowns).max(), np.abs(renewed - sites).max())
        unknowns, sites = solution, renewed
        if change < CONVERGED:
            break
    last = [0, 2 * states - 1, 2 * states]
    state, state_covariance = unknowns[last], covariance[np.ix_(last, last)]
    yaw, slopes = yaw_and_slopes(work.aim, work.headshell, state, np.array(work.radii_mm))
    return Estimate(
        state,
        state_covariance,
        yaw,
        slopes @ state_covariance @ slopes.T,
        _misfits(numbers, number_rows, number_right, unknowns, covariance),
    )


def _places(steps: Steps) -> tuple[list[_Sight], list[Move]]:
    """Return the readings with their places, and the moves that made a new state."""
    sights: list[_Sight] = []
    moves: list[Move] = []
    look_number = 0
    for step in steps:
        if isinstance(step, Look):
            look_number += 1
            for null, reading in enumerate((step.outer, step.inner)):
                if reading is not None:
                    sights.append(_Sight(reading, len(moves), null, look_number))
        elif step.touched:
            moves.append(step)
    return sights, moves


def _fixed_equations(work: Workpiece, moves: list[Move], states: int) -> tuple[FloatArray, FloatArray]:
    """Return whitened rows and right sides of what does not depend on the unknowns: start and moves."""
    size = 1 + 2 * states
    rows, right = np.zeros((3 + 2 * len(moves), size)), np.zeros(3 + 2 * len(moves))
    rows[0, 0] = 1.0 / max(work.pivot_to_spindle_sd_mm, SMALLEST_SD)
    rows[1, 1] = rows[2, 2] = 1.0 / START_SD
    for number, move in enumerate(moves):
        for axis, (step, sd) in enumerate(
            ((move.slide_mm, move.hand.slide_sd_mm), (move.turn_deg, move.hand.turn_sd_deg))
        ):
            row, weight = 3 + 2 * number + axis, 1.0 / max(sd, SMALLEST_SD)
            before = 1 + 2 * number + axis
            rows[row, before], rows[row, before + 2] = -weight, weight
            right[row] = weight * step
    return rows, right


def _linearised(
    work: Workpiece, sights: list[_Sight], unknowns: FloatArray, states: int
) -> tuple[FloatArray, FloatArray]:
    """Return the rows and constants with yaw = rows @ unknowns + constants near the present unknowns."""
    rows = np.zeros((len(sights), 1 + 2 * states))
    if not sights:
        return rows, np.zeros(0)
    places = np.array([[0, 1 + 2 * s.state, 2 + 2 * s.state] for s in sights])
    radii = np.array([work.radii_mm[s.null] for s in sights])
    yaw, slopes = yaw_and_slopes(work.aim, work.headshell, unknowns[places], radii)
    np.put_along_axis(rows, places, slopes, axis=1)
    return rows, yaw - rows @ unknowns


def _sight_equations(
    work: Workpiece, numbers: list[_Sight], unknowns: FloatArray, states: int
) -> tuple[FloatArray, FloatArray]:
    """Return whitened rows and right sides of the yaws that were read as numbers."""
    rows, constants = _linearised(work, numbers, unknowns, states)
    weights = 1.0 / np.maximum([s.reading.sd_deg for s in numbers], SMALLEST_SD)
    values = np.array([s.reading.low_deg for s in numbers])
    return rows * weights[:, None], (values - constants) * weights


def _interval_rows(
    work: Workpiece, intervals: list[_Sight], unknowns: FloatArray, states: int
) -> tuple[FloatArray, FloatArray]:
    """Return rows and bounds (low, high, sd) of everything that is known as an interval."""
    rows, constants = _linearised(work, intervals, unknowns, states)
    start = np.zeros((2, 1 + 2 * states))
    start[0, 1] = start[1, 2] = 1.0
    bounds = [
        (s.reading.low_deg - constant, s.reading.high_deg - constant, s.reading.sd_deg)
        for s, constant in zip(intervals, constants, strict=True)
    ]
    bounds += [(-START_REACH, START_REACH, 0.0)] * 2
    return np.vstack([rows, start]), np.array(bounds)


def _propagate_expectations(
    rows: FloatArray, right: FloatArray, interval_rows: FloatArray, bounds: FloatArray, sites: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return mean and covariance with every interval replaced by its site, and the new sites.

    A site holds the precision and precision-times-mean that an interval adds along its row.
    """
    all_rows = np.vstack([rows, interval_rows * np.sqrt(sites[:, :1])])
    _, triangle = np.linalg.qr(np.column_stack([all_rows, _site_right(right, sites)]))
    size = rows.shape[1]
    inverse = np.linalg.inv(triangle[:size, :size])
    mean, covariance = inverse @ triangle[:size, size], inverse @ inverse.T
    means = interval_rows @ mean
    variances = np.einsum("ij,jk,ik->i", interval_rows, covariance, interval_rows)
    renewed = np.array(
        [
            _renewed_site(*values)
            for values in zip(means, variances, sites[:, 0], sites[:, 1], *bounds.T, strict=True)
        ]
    )
    return mean, covariance, renewed


def _site_right(right: FloatArray, sites: FloatArray) -> FloatArray:
    precision = sites[:, 0]
    safe = np.where(precision > 0.0, precision, 1.0)
    return np.concatenate([right, np.where(precision > 0.0, sites[:, 1] / np.sqrt(safe), 0.0)])


def _renewed_site(
    mean: float, variance: float, precision: float, shift: float, low: float, high: float, sd: float
) -> tuple[float, float]:
    """Return a site's new precision and precision-times-mean from the moments of a truncated normal."""
    cavity_precision = 1.0 / variance - precision
    if cavity_precision <= 0.0:
        return precision, shift
    cavity_mean = (mean / variance - shift) / cavity_precision
    spread2 = 1.0 / cavity_precision + sd**2
    spread = math.sqrt(spread2)
    a, b = (low - cavity_mean) / spread, (high - cavity_mean) / spread
    mass = _normal_mass(a, b)
    if mass < 1e-290:
        # far outside: pull to the nearer end, as the limit of the truncated moments does
        end = low if a > 0.0 else high
        return 1.0 / max(sd, 0.1) ** 2, end / max(sd, 0.1) ** 2
    pull = (_density(a) - _density(b)) / mass
    squeeze = pull**2 + (b * _density(b) - a * _density(a)) / mass
    squeeze = min(squeeze, 1.0 - 1e-9)
    if squeeze <= 1e-12:
        return 0.0, 0.0
    new_precision = squeeze / (spread2 * (1.0 - squeeze) + sd**2 * squeeze)
    new_mean = cavity_mean + pull * spread / squeeze
    return new_precision, new_precision * new_mean


def _density(z: float) -> float:
    return math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)


def _normal_mass(a: float, b: float) -> float:
    """Return the standard normal mass between a and b, without cancellation in the tails."""
    if a > 0.0:
        return 0.5 * (math.erfc(a / math.sqrt(2.0)) - math.erfc(b / math.sqrt(2.0)))
    if b < 0.0:
        return 0.5 * (math.erfc(-b / math.sqrt(2.0)) - math.erfc(-a / math.sqrt(2.0)))
    return 1.0 - 0.5 * (math.erfc(-a / math.sqrt(2.0)) + math.erfc(b / math.sqrt(2.0)))


def _misfits(
    numbers: list[_Sight], rows: FloatArray, right: FloatArray, unknowns: FloatArray, covariance: FloatArray
) -> tuple[tuple[int, str, float], ...]:
    """Return the readings that lie far from what all others predict (leave-one-out residuals)."""
    residual = right - rows @ unknowns
    leverage = np.einsum("ij,jk,ik->i", rows, covariance, rows)
    size = np.abs(residual) / np.sqrt(np.maximum(1.0 - leverage, 1e-6))
    return tuple(
        (sight.look, ("outer", "inner")[sight.null], float(amount))
        for sight, amount in zip(numbers, size, strict=True)
        if amount > MISFIT_LIMIT
    )
