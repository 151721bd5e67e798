"""The player itself, before the cartridge: is it level, does it turn at its speed, are its bearings sound."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from groovewright.mechanics.verdict import Verdict
from groovewright.quantities import RADIANS, FloatArray, InputError, Limits, OtherUnit, Reading

TILT = Limits(
    "tilt of the platter", -10.0, 10.0, "deg", (RADIANS, OtherUnit("mm/m", 180.0 / math.pi / 1000.0))
)
SPEED_TOLERANCE_PERCENT = 0.5
"""Recording speed within +-0.5 % (IEC 60098:2020, 5.6); replay is judged by the same figure."""

TILT_THAT_MATTERS_DEG = 0.25
"""A quarter of a degree, about 4 mm/m (common practice)."""

LAMP_RELATIVE_SD = 0.0004
"""Mains frequency about its nominal value: 0.04 % (common practice, from memory)."""

TIMING_SD_S = 0.3
"""Stopwatch in hand: start and stop together (common practice, from memory)."""

BAR_SD = 0.5 / math.sqrt(3.0)
"""A count of whole bars is uncertain by half a bar either way (uniform, GUM 4.3.7)."""


@dataclass(frozen=True)
class Tilt:
    """Platter tilt in deg: `right_deg` positive with the right side low, `front_deg` with the front low."""

    right_deg: Reading
    front_deg: Reading

    @property
    def size_deg(self) -> float:
        """How far the platter is out of level in its steepest direction."""
        return math.hypot(self.right_deg.value, self.front_deg.value)


def tilt_from_turned_readings(first_deg: Reading, turned_deg: Reading) -> Reading:
    """Return the tilt from two readings, the level turned by half a turn in between: (a - b) / 2.

    The level's own error drops out (common practice). On a platter turn the level, not the platter.
    """
    TILT.check(first_deg.value)
    TILT.check(turned_deg.value)
    return Reading(0.5 * (first_deg.value - turned_deg.value), 0.5 * math.hypot(first_deg.sd, turned_deg.sd))


def side_force_from_tilt_mN(
    force_mN: ArrayLike,
    tilt_across_arm_deg: ArrayLike,
    unbalanced_moment_gmm: ArrayLike = 0.0,
    effective_length_mm: ArrayLike = 230.0,
) -> FloatArray:
    """Return the side force at the stylus because the player leans across the arm. [shape=(...), broadcast]

    A balanced arm is only out of balance by the tracking force itself: F sin(tilt), F by gravity. An arm
    whose force comes from a spring has F = 0 here; one whose mass lies beside the pivot adds its sideways
    moment (g mm). Positive towards the low side.
    """
    force, tilt, moment, length = (
        np.asarray(x, dtype=float)
        for x in (force_mN, tilt_across_arm_deg, unbalanced_moment_gmm, effective_length_mm)
    )
    return np.asarray((force + 9.80665 * moment / length) * np.sin(np.radians(tilt)))


def force_change_from_tilt_mN(force_mN: ArrayLike, tilt_deg: ArrayLike) -> FloatArray:
    """Return what a tilt takes from the force on the record: F (cos(tilt) - 1). [shape=(...), broadcast]"""
    force, tilt = (np.asarray(x, dtype=float) for x in (force_mN, tilt_deg))
    return np.asarray(force * (np.cos(np.radians(tilt)) - 1.0))


def judge_tilt(tilt: Tilt, limit_deg: float = TILT_THAT_MATTERS_DEG) -> Verdict:
    """Return whether the platter is level, and which foot to raise."""
    inside = tilt.right_deg.probability_between(-limit_deg, limit_deg) * tilt.front_deg.probability_between(
        -limit_deg, limit_deg
    )
    if inside >= 0.95:
        return Verdict("level", f"The platter is level within {limit_deg:g} deg.", inside)
    if tilt.size_deg <= limit_deg:
        return Verdict(
            "unsure",
            f"The platter reads as level, {tilt.size_deg:.2f} deg, with a probability of only "
            f"{inside:.0%}; read again with "
            "the level turned round.",
            inside,
        )
    ways = []
    if abs(tilt.right_deg.value) > limit_deg / 2.0:
        ways.append("right" if tilt.right_deg.value > 0.0 else "left")
    if abs(tilt.front_deg.value) > limit_deg / 2.0:
        ways.append("front" if tilt.front_deg.value > 0.0 else "rear")
    sides = " and the ".join(ways)
    return Verdict(
        "tilted", f"The platter is {tilt.size_deg:.2f} deg out of level: raise the {sides} side.", inside
    )


@dataclass(frozen=True)
class BearingCheck:
    """One thing to look at: what to do, what is right, what a fault points to."""

    part: str
    do: str
    right: str
    fault: str


BEARING_CHECKS = (
    BearingCheck(
        "platter bearing",
        "With the motor off and the belt away, give the platter a push.",
        "It runs down smoothly and silently for many turns.",
        "Rubbing or a stop with a jerk: dirt, dry bearing or a bent spindle.",
    ),
    BearingCheck(
        "platter bearing",
        "Rock the platter's edge gently, up and down at opposite sides.",
        "No knock can be felt; a film of oil only.",
        "A knock: worn bearing bush; rumble will show it.",
    ),
    BearingCheck(
        "arm, vertical bearing",
        "Stylus guard on, arm floating level without anti-skating: breathe on the headshell from below.",
        "It rises, swings a few times about one place and settles there.",
        "It stays wherever it is put: friction; it settles in steps: a chipped bearing.",
    ),
    BearingCheck(
        "arm, lateral bearing",
        "Arm floating, anti-skating 0: lift the player's side by a finger's width.",
        "The arm drifts towards the low side at once.",
        "It hesitates: friction or stiff leads; their pull can't be set away.",
    ),
    BearingCheck(
        "arm, play",
        "Hold the headshell with two fingers and push it very lightly fore and aft and round.",
        "No play can be felt.",
        "A click: loose bearing; leave the adjustment to the maker's instructions.",
    ),
)
"""What a bench looks at before the cartridge (common practice)."""


def bars_for_speed(speed_rpm: ArrayLike, flashes_per_second: ArrayLike) -> FloatArray:
    """Return the nearest whole number of bars on a ring: 60 flashes / speed, rounded. [shape=(...)]

    A lamp on the mains flashes twice a period: 100 or 120 in a second.
    """
    speed, flashes = (np.asarray(x, dtype=float) for x in (speed_rpm, flashes_per_second))
    return np.asarray(np.rint(60.0 * flashes / speed))


def standstill_speed_rpm(bars: ArrayLike, flashes_per_second: ArrayLike) -> FloatArray:
    """Return the speed at which a ring of so many bars stands still: 60 flashes / bars. [shape=(...)]"""
    ring, flashes = (np.asarray(x, dtype=float) for x in (bars, flashes_per_second))
    return np.asarray(60.0 * flashes / ring)


@dataclass(frozen=True)
class Drift:
    """How many bars passed a mark in how many seconds; forwards is with the platter."""

    bars_passed: float
    seconds: float
    forwards: bool


def speed_from_drift_percent(
    drift: Drift,
    *,
    bars_on_ring: int,
    flashes_per_second: float,
    nominal_rpm: float,
    lamp_relative_sd: float = LAMP_RELATIVE_SD,
    timing_sd_s: float = TIMING_SD_S,
) -> Reading:
    """Return the speed error in percent of the nominal speed, with its standard uncertainty.

    The ring passes n N / 60 bars in a second, the lamp freezes f of them: N = 60 (f +- bars / seconds) / n,
    plus when the bars drift with the platter (faster).

    Raises
    ------
    InputError
        No time, a negative count, or a drift so fast that it can't have been counted.
    """
    if not (math.isfinite(drift.seconds) and 1.0 <= drift.seconds <= 3600.0):
        raise InputError(f"the count lasted {drift.seconds:g} s; allowed is 1 to 3600 s, a minute is good")
    if not (math.isfinite(drift.bars_passed) and drift.bars_passed >= 0.0):
        raise InputError(
            f"{drift.bars_passed:g} bars passed: count them from 0 up and say which way they went"
        )
    rate = drift.bars_passed / drift.seconds
    if rate > 0.1 * flashes_per_second:
        raise InputError(
            f"{rate:.3g} bars a second is too fast to count and more than 10 % off: is it the ring for "
            f"this lamp and speed?"
        )
    sign = 1.0 if drift.forwards else -1.0
    speed = 60.0 * (flashes_per_second + sign * rate) / bars_on_ring
    rate_sd = math.hypot(BAR_SD / drift.seconds, rate * timing_sd_s / drift.seconds)
    speed_sd = 60.0 * math.hypot(rate_sd, flashes_per_second * lamp_relative_sd) / bars_on_ring
    return Reading(100.0 * (speed / nominal_rpm - 1.0), 100.0 * speed_sd / nominal_rpm)


DRIFTS = ("with", "against", "still")
"""Which way the bars of a stroboscope ring go: with the platter (it is fast), against it, not at all."""


def speed_from_count_percent(
    *, nominal_rpm: float, flashes_per_second: float, bars_passed: float, seconds: float, drift: str
) -> Reading:
    """Return the speed error from the ring that belongs to this speed and lamp; `drift` is one of `DRIFTS`.

    Raises
    ------
    InputError
        Bars passed and yet the drift is 'still', or as in `speed_from_drift_percent`.
    """
    if bars_passed and drift == "still":
        raise InputError(
            f"{bars_passed:g} bars passed, so they drifted; say which way: with the platter or against it"
        )
    return speed_from_drift_percent(
        Drift(bars_passed, seconds, drift != "against"),
        bars_on_ring=int(bars_for_speed(nominal_rpm, flashes_per_second)),
        flashes_per_second=flashes_per_second,
        nominal_rpm=nominal_rpm,
    )


def judge_speed(error_percent: Reading, tolerance_percent: float = SPEED_TOLERANCE_PERCENT) -> Verdict:
    """Return the verdict on a speed error, with the probability of being within the tolerance."""
    inside = error_percent.probability_between(-tolerance_percent, tolerance_percent)
    shown = f"{error_percent.value:+.2f} %, standard uncertainty {error_percent.sd:.2f} %"
    context = f"records are cut within {tolerance_percent:g} % (IEC 60098:2020, 5.6)"
    if inside >= 0.95:
        return Verdict("on-speed", f"The speed is right: {shown}; {context}.", inside)
    if abs(error_percent.value) <= tolerance_percent:
        return Verdict("unsure", f"Not certain: {shown}; {context}; count for longer.", inside)
    code, word = ("too-fast", "fast") if error_percent.value > 0.0 else ("too-slow", "slow")
    return Verdict(code, f"The platter turns too {word}: {shown}; {context}.", inside)


def wow_from_eccentricity_percent(eccentricity_mm: ArrayLike, radius_mm: ArrayLike) -> FloatArray:
    """Return the peak speed deviation of a record that is off-centre: 100 e / r. [shape=(...), broadcast]"""
    eccentricity, radius = (np.asarray(x, dtype=float) for x in (eccentricity_mm, radius_mm))
    return np.asarray(100.0 * eccentricity / radius)


def once_per_turn_hz(speed_rpm: ArrayLike) -> FloatArray:
    """Return the frequency of what happens once in a turn: n / 60. [shape=(...)]"""
    return np.asarray(np.asarray(speed_rpm, dtype=float) / 60.0)
