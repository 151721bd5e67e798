"""The one next move: adjust, look again or stop."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from groovewright.geometry import null_radii_mm
from groovewright.geometry.constrained import best_offset_for_length, worst_error_per_radius
from groovewright.geometry.headshell import length_and_offset, screw_moves_mm, yaw_and_slopes
from groovewright.quantities import FloatArray
from groovewright.squaring.estimate import START_REACH, Estimate, estimate
from groovewright.squaring.policy import STOP_PROBABILITY, Goal, choose, next_look
from groovewright.squaring.record import Move, Steps, Workpiece
from groovewright.squaring.within import probability_within

BELIEVABLE = 1.25 * START_REACH
"""A cartridge farther off than this, in mm or degrees, was misread."""


@dataclass(frozen=True)
class Advice:
    """The next move and how sure it is. Slide forward and turn clockwise are positive.

    `verdict` is 'adjust', 'look-again' or 'stop'; `reason` is a key of `REASONS`. The predicted yaws are
    those after the move. `within_at_90_percent_deg` is the tolerance that could be claimed now.
    `null_inner_mm` and `null_outer_mm` are the nulls after the move: those of the aim unless the slots end
    before it (`reachable` is False then, and the probability still speaks of the aim).
    """

    verdict: str
    reason: str
    slide_mm: float
    slide_sd_mm: float
    turn_deg: float
    turn_sd_deg: float
    outer_screw_mm: float
    inner_screw_mm: float
    yaw_outer_deg: float
    yaw_outer_sd_deg: float
    yaw_inner_deg: float
    yaw_inner_sd_deg: float
    predicted_outer_deg: float
    predicted_outer_sd_deg: float
    predicted_inner_deg: float
    predicted_inner_sd_deg: float
    probability_within_tolerance: float
    probability_after_move: float
    within_at_90_percent_deg: float
    reachable: bool
    null_inner_mm: float
    null_outer_mm: float
    misfits: tuple[tuple[int, str, float], ...]


def advise(work: Workpiece, steps: Steps, goal: Goal) -> Advice:
    """Return what to do next, from all looks and moves so far."""
    known = estimate(work, steps)
    target, reachable = _target(work, steps, known, goal)
    slide, turn = target[1:] - known.state[1:]
    predicted, slopes = yaw_and_slopes(work.aim, work.headshell, target, np.array(work.radii_mm))
    per_move = slopes[:, 1:]
    move_covariance = _move_covariance(known, per_move, reachable)
    hand = np.diag([goal.hand.slide_sd_mm**2, goal.hand.turn_sd_deg**2])
    clumsiness = per_move @ hand @ per_move.T
    miss = known.yaw_deg - predicted
    ahead, in_words = next_look(steps, goal)
    verdict, reason = choose(known.yaw_covariance, miss, clumsiness, ahead, in_words=in_words)
    if isinstance(steps[-1], Move) and steps[-1].touched:
        verdict, reason = "look-again", "unseen-move"
    elif max(abs(slide), abs(turn), *np.abs(known.state[1:])) > BELIEVABLE:
        verdict, reason = "look-again", "not-believable"
    elif verdict == "stop" and not reachable:
        reason = "slot-end"
    outer_screw, inner_screw = screw_moves_mm(work.headshell, slide, known.state[2], turn)
    after = known.yaw_covariance + clumsiness
    nulls = null_radii_mm(
        work.aim.pivot_to_spindle_mm + target[0],
        *length_and_offset(work.aim, work.headshell, target[1], target[2]),
    )
    return Advice(
        verdict=verdict,
        reason=reason,
        slide_mm=float(slide),
        slide_sd_mm=math.sqrt(move_covariance[0, 0]),
        turn_deg=float(turn),
        turn_sd_deg=math.sqrt(move_covariance[1, 1]),
        outer_screw_mm=float(outer_screw),
        inner_screw_mm=float(inner_screw),
        yaw_outer_deg=float(known.yaw_deg[0]),
        yaw_outer_sd_deg=math.sqrt(known.yaw_covariance[0, 0]),
        yaw_inner_deg=float(known.yaw_deg[1]),
        yaw_inner_sd_deg=math.sqrt(known.yaw_covariance[1, 1]),
        predicted_outer_deg=float(predicted[0]),
        predicted_outer_sd_deg=math.sqrt(after[0, 0]),
        predicted_inner_deg=float(predicted[1]),
        predicted_inner_sd_deg=math.sqrt(after[1, 1]),
        probability_within_tolerance=float(
            probability_within(known.yaw_deg, known.yaw_covariance, goal.tolerance_deg)
        ),
        probability_after_move=float(probability_within(predicted, after, goal.tolerance_deg)),
        within_at_90_percent_deg=_tolerance_for(known),
        reachable=reachable,
        null_inner_mm=float(nulls[0]),
        null_outer_mm=float(nulls[1]),
        misfits=known.misfits,
    )


def _tolerance_for(known: Estimate) -> float:
    """Return the tolerance that both yaws keep with 90 % probability, by bisection."""
    low, high = 0.0, float(np.max(np.abs(known.yaw_deg)) + 5.0 * np.sqrt(np.trace(known.yaw_covariance)))
    for _ in range(30):
        middle = 0.5 * (low + high)
        if probability_within(known.yaw_deg, known.yaw_covariance, middle) < STOP_PROBABILITY:
            low = middle
        else:
            high = middle
    return high


def _target(work: Workpiece, steps: Steps, known: Estimate, goal: Goal) -> tuple[FloatArray, bool]:
    """Return the state to move to: both yaws zero, or the best turn where the slots end; and which it is."""
    target = known.state.copy()
    radii = np.array(work.radii_mm)
    for _ in range(20):
        yaw, slopes = yaw_and_slopes(work.aim, work.headshell, target, radii)
        change = np.linalg.solve(slopes[:, 1:], yaw)
        target[1:] -= change
        if np.max(np.abs(change)) < 1e-10:
            break
    slid = sum(step.slide_mm for step in steps if isinstance(step, Move))
    slide = target[1] - known.state[1]
    allowed = min(max(slide, -work.room.back_mm - slid), work.room.forward_mm - slid)
    if allowed == slide:
        return target, True
    target[1] = known.state[1] + allowed
    distance = work.aim.pivot_to_spindle_mm + target[0]
    for _ in range(3):
        # the turn moves the stylus a little, so length and best offset angle are found together
        length, offset = length_and_offset(work.aim, work.headshell, target[1], target[2])
        best = best_offset_for_length(distance, length, goal.grooves, worst_error_per_radius)
        target[2] += float(best - offset)
    return target, False


def _move_covariance(known: Estimate, per_move: FloatArray, reachable: bool) -> FloatArray:
    """Return the covariance of the slide and turn still needed."""
    if reachable:
        inverse = np.linalg.inv(per_move)
        return np.asarray(inverse @ known.yaw_covariance @ inverse.T)
    turn_variance = known.yaw_covariance.mean() / per_move[:, 1].mean() ** 2
    return np.diag([0.0, turn_variance])
