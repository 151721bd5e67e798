"""Adjust, look again or stop: the choice with the least expected effort."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from groovewright.quantities import LP, FloatArray, GrooveRange, Limits
from groovewright.squaring.estimate import SMALLEST_SD
from groovewright.squaring.record import Hand, Look, Steps, YawReading
from groovewright.squaring.within import probability_within
from groovewright.squaring.words import WORDS

TOLERANCE = Limits("tolerance", 0.001, 10.0, "deg")

STOP_PROBABILITY = 0.9
"""Both yaws within tolerance with at least this probability: stop."""

LOOK_COST = 1.0
MOVE_COST = 0.25
"""What one look, and one move before it, cost. Chosen so that looks are few; with more weight on moves they
become fewer at the price of more looks (docs/squaring.md)."""

HOPELESS_COST = 100.0
"""Where the job is expected to take more than this, in looks, another try isn't worth it."""

PLAIN_TO_SEE = 25.0
WORTH_MOVING = 0.1
"""Within tolerance, yet worth a move: 5 standard deviations of what can be read and set, and this share of
the tolerance."""

CHANCE_ALONE = 2.0
"""The mean of chi-square with two degrees of freedom: what two yaws show by chance alone."""

LOOKS_AHEAD = (1, 2, 4, 8)
"""How many looks in a row are weighed against a move."""

REASONS = {
    "within-tolerance": "both yaws are within tolerance with at least 90 % probability",
    "slot-end": "the slots end before the aim; this is the best that they allow",
    "limit-of-reading": "what is left is smaller than readings and hands can tell apart",
    "move-helps-most": "a move now is expected to end the job soonest",
    "look-helps-most": "another look now is expected to end the job soonest",
    "plain-to-see": "within tolerance, yet what is left is plain to see and easily put right",
    "not-believable": "no slot lets a cartridge stand as far off as these readings ask for",
    "unseen-move": "the cartridge was moved and has not been looked at since",
}
"""Why a verdict was given."""

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(12)
_GRID = np.stack(np.meshgrid(_NODES, _NODES), axis=-1).reshape(-1, 2)
_SHARE = np.outer(_WEIGHTS, _WEIGHTS).ravel() / _WEIGHTS.sum() ** 2
"""A grid that averages over two standard normal quantities (Gauss-Hermite)."""


@dataclass(frozen=True)
class Goal:
    """What is aimed at, and with which eyes and hands.

    `reading_sd_deg` is the standard uncertainty of the next look's readings; `grooves` serve to choose the
    best turn where the slots end before the aim is reached.
    """

    tolerance_deg: float = 0.5
    reading_sd_deg: float = 0.3
    hand: Hand = field(default_factory=Hand)
    grooves: GrooveRange = LP

    def __post_init__(self) -> None:
        TOLERANCE.check(self.tolerance_deg)


def choose(
    covariance: FloatArray, miss: FloatArray, clumsiness: FloatArray, goal: Goal, *, in_words: bool
) -> tuple[str, str]:
    """Return verdict and reason: the choice with the least expected cost until the job can stop.

    A look costs 1; a move costs `MOVE_COST` and the looks that must follow. What comes after a try that does
    not end the job is taken as further tries of the same kind (docs/squaring.md).

    Parameters
    ----------
    covariance, miss, clumsiness : [shape=(2, 2), (2,), (2, 2)]
        What is known of the two yaws, their means against the aim, and what one move adds.
    in_words : bool
        The readings are words: a second look at the same state says the same word, and nothing new.
    """
    readable = clumsiness + np.eye(2) * max(goal.reading_sd_deg, SMALLEST_SD) ** 2
    plainness = float(miss @ np.linalg.solve(readable, miss))
    if float(probability_within(miss, covariance, goal.tolerance_deg)) >= STOP_PROBABILITY:
        worth_it = plainness > PLAIN_TO_SEE and np.max(np.abs(miss)) > WORTH_MOVING * goal.tolerance_deg
        return ("adjust", "plain-to-see") if worth_it else ("stop", "within-tolerance")
    ahead = LOOKS_AHEAD[:1] if in_words else LOOKS_AHEAD
    further = _cost_of_tries(covariance, clumsiness, goal, ahead)
    if further > HOPELESS_COST:
        small = plainness < CHANCE_ALONE
        return ("stop", "limit-of-reading") if small else ("adjust", "move-helps-most")
    if not in_words:
        cost_move = _cost_of_moving(covariance + clumsiness, goal, ahead, further)
        if _cost_of_looking(covariance, miss, clumsiness, goal, further) < cost_move:
            return "look-again", "look-helps-most"
    return "adjust", "move-helps-most"


def _cost_of_tries(
    covariance: FloatArray, clumsiness: FloatArray, goal: Goal, ahead: tuple[int, ...]
) -> float:
    """Return the expected cost of moving and looking over and over until the job can stop."""
    settled = clumsiness + _after_looks(covariance + clumsiness, 1, goal)
    return min(
        (MOVE_COST + looks * LOOK_COST) / max(_chance(settled, np.zeros(2), looks, goal), 1e-9)
        for looks in ahead
    )


def _cost_of_moving(moved: FloatArray, goal: Goal, ahead: tuple[int, ...], further: float) -> float:
    """Return the expected cost of one move and some looks, and of further tries where that does not do."""
    return min(
        MOVE_COST + looks * LOOK_COST + (1.0 - _chance(moved, np.zeros(2), looks, goal)) * further
        for looks in ahead
    )


def _cost_of_looking(
    covariance: FloatArray, miss: FloatArray, clumsiness: FloatArray, goal: Goal, further: float
) -> float:
    """Return the expected cost of some looks first, and a better informed move where that does not do."""
    costs = []
    for looks in LOOKS_AHEAD:
        informed = _after_looks(covariance, looks, goal) + clumsiness
        then_move = _cost_of_moving(informed, goal, LOOKS_AHEAD[:1], further)
        costs.append(looks * LOOK_COST + (1.0 - _chance(covariance, miss, looks, goal)) * then_move)
    return min(costs)


def next_look(steps: Steps, goal: Goal) -> tuple[Goal, bool]:
    """Return the goal with what the next look can tell, and whether looks are told in words.

    A word tells as much as 'square' does.
    """
    looks = [step for step in steps if isinstance(step, Look)]
    readings = [reading for reading in (looks[-1].outer, looks[-1].inner) if reading] if looks else []
    if not any(reading.high_deg > reading.low_deg for reading in readings):
        return goal, False
    word_sd = YawReading(*WORDS["square"], goal.reading_sd_deg).as_reading().sd
    return replace(goal, reading_sd_deg=word_sd), True


def _after_looks(covariance: FloatArray, looks: int, goal: Goal) -> FloatArray:
    """Return the covariance of the yaws after some more looks."""
    noise = np.eye(2) * max(goal.reading_sd_deg, SMALLEST_SD) ** 2 / looks
    return np.asarray(covariance - covariance @ np.linalg.solve(covariance + noise, covariance))


def _chance(covariance: FloatArray, miss: FloatArray, looks: int, goal: Goal) -> float:
    """Return the probability that the job can stop after some more looks."""
    after = _after_looks(covariance, looks, goal)
    if float(probability_within(np.zeros(2), after, goal.tolerance_deg)) < STOP_PROBABILITY:
        return 0.0
    root = np.linalg.cholesky(covariance - after + 1e-12 * np.eye(2))
    stops = probability_within(miss + _GRID @ root.T, after, goal.tolerance_deg) >= STOP_PROBABILITY
    return float(_SHARE @ stops)
