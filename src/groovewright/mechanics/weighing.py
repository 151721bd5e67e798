"""How heavy: gauge readings to a tracking force with uncertainty, and what to turn.

Forces are set in gf and computed in mN; 1 gf = 9.80665 mN. A turn of the counterweight is positive when it
goes **in, towards the bearing**, which adds force.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from groovewright.mechanics.resonance import EFFECTIVE_LENGTH
from groovewright.mechanics.verdict import Verdict
from groovewright.quantities import MN_PER_GF, InputError, Limits, OtherUnit, Reading

FORCE_MN = Limits(
    "tracking force",
    0.25 * MN_PER_GF,
    10.0 * MN_PER_GF,
    "mN",
    (OtherUnit("gf", MN_PER_GF), OtherUnit("N", 1000.0)),
)
FORCE_GF = Limits(
    "tracking force", 0.25, 10.0, "gf", (OtherUnit("mN", 1.0 / MN_PER_GF), OtherUnit("kilograms", 1000.0))
)
"""From the lightest cartridges to heads of early coarse-groove players (common practice)."""

GAUGE_REPEATABILITY_GF = 0.02
GAUGE_RESOLUTION_GF = 0.01
GAUGE_GAIN_SD = 0.01
"""A small digital gauge: repeatability, display step, and the relative spread of its scale where no check
mass was put on it (common practice, from memory)."""

SLOPE_SD_GF_PER_MM = 0.02
"""Change of force with height where the arm's is not known: 200 g whose middle lies within about 5 mm of the
bearing's height, on 229 mm (`balance.force_slope_gf_per_mm`; the two figures are from memory)."""

ON_TARGET_FRACTION = 0.25
"""On target: within a quarter of the half-width of the maker's range (our own choice)."""


@dataclass(frozen=True)
class Gauge:
    """How well a gauge reads, in mN; gain is the true force over the reading.

    `gain_sd` is the relative uncertainty of a gain that wasn't checked.
    """

    repeatability_mN: float = GAUGE_REPEATABILITY_GF * MN_PER_GF
    resolution_mN: float = GAUGE_RESOLUTION_GF * MN_PER_GF
    gain: float = 1.0
    gain_sd: float = GAUGE_GAIN_SD
    checked: bool = False

    def __post_init__(self) -> None:
        for name in ("repeatability_mN", "resolution_mN"):
            value = getattr(self, name)
            if not (math.isfinite(value) and 0.0 <= value <= 20.0):
                raise InputError(f"the gauge's {name[:-3]} is {value:g} mN; allowed is 0 to 20 mN")


@dataclass(frozen=True)
class ForceRange:
    """The maker's range, in mN. The target is its middle to start with (common practice) unless given."""

    low_mN: float
    high_mN: float
    target_mN: float

    @property
    def half_width_mN(self) -> float:
        """Half of what the range spans."""
        return 0.5 * (self.high_mN - self.low_mN)


@dataclass(frozen=True)
class GaugeHeight:
    """Where the gauge's pan stands against the record surface (positive higher), and the arm's slope.

    `slope_mN_per_mm` is the change of force for a rise of 1 mm; None where nobody measured it: the interval
    widens instead.
    """

    above_record_mm: float = 0.0
    slope_mN_per_mm: float | None = None


AT_RECORD_HEIGHT = GaugeHeight()


@dataclass(frozen=True)
class Weighed:
    """The answer: the force, the turn still needed (None: not known), and the verdict."""

    force_mN: Reading
    force_range: ForceRange
    turn_turns: float | None
    turn_sentence: str
    verdict: Verdict

    @property
    def force_gf(self) -> Reading:
        """The force in gf."""
        return Reading(self.force_mN.value / MN_PER_GF, self.force_mN.sd / MN_PER_GF)


def force_range_mN(low: float, high: float, unit_mN: float, target: float | None = None) -> ForceRange:
    """Return the maker's range; the figures count in a unit of `unit_mN` (1 for mN, 9.80665 for gf).

    Raises
    ------
    InputError
        Out of limits (another unit is guessed), reversed, or the target lies outside the maker's range.
    """
    limits = FORCE_MN if unit_mN == 1.0 else FORCE_GF
    limits.check(low, "maker's range, lower end")
    limits.check(high, "maker's range, upper end")
    if low >= high:
        raise InputError(
            f"the maker's range {low:g}:{high:g} {limits.unit} is not LOW:HIGH; "
            + (
                f"try {high:g}:{low:g}"
                if low > high
                else f"a single figure leaves no room, try {0.9 * low:g}:{1.1 * low:g}"
            )
        )
    aim = 0.5 * (low + high) if target is None else target
    if not low <= aim <= high:
        raise InputError(
            f"the target of {aim:g} {limits.unit} lies outside the maker's range of {low:g} to {high:g} "
            f"{limits.unit}, which always wins; the nearest inside is {low if aim < low else high:g} "
            f"{limits.unit}"
        )
    return ForceRange(low * unit_mN, high * unit_mN, aim * unit_mN)


def check_unit_of_readings(values: Sequence[float], force_range: ForceRange, unit_mN: float) -> None:
    """Raise where a reading can't be in the unit of the range but fits it in the other one.

    Raises
    ------
    InputError
        Out of limits, or off the range by the factor between gf and mN.
    """
    limits, other, factor = (
        (FORCE_MN, "gf", MN_PER_GF) if unit_mN == 1.0 else (FORCE_GF, "mN", 1.0 / MN_PER_GF)
    )
    low, high = force_range.low_mN / unit_mN, force_range.high_mN / unit_mN
    for value in values:
        converted = value * factor
        looks_right = low / 3.0 <= value <= 3.0 * high
        if not looks_right and low / 2.0 <= converted <= 2.0 * high:
            raise InputError(
                f"a reading of {value:g} {limits.unit} can't belong to a range of {low:g} to {high:g} "
                f"{limits.unit}. "
                f"Is {value:g} in {other}? That would be {converted:.3g} {limits.unit}"
            )
        if value < 0.0 or not math.isfinite(value) or value > limits.high:
            limits.check(value, "reading")


def gauge_from_check_mass(
    gauge: Gauge, *, true_mN: float, read_mN: Sequence[float], true_sd_mN: float = 0.0
) -> Gauge:
    """Return the gauge with its gain from a mass that is known: gain = true / mean of what it read.

    Raises
    ------
    InputError
        Nothing was read, or the gauge is off by more than a fifth: a defect or a unit, not a calibration.
    """
    if not read_mN or true_mN <= 0.0 or min(read_mN) <= 0.0:
        raise InputError("a check mass needs its true figure and at least one reading, both above 0")
    read = _mean(read_mN, gauge)
    gain = true_mN / read.value
    if not 0.8 <= gain <= 1.25:
        raise InputError(
            f"the gauge reads {read.value / true_mN:.3g} times the check mass; that is no calibration. "
            f"Allowed is 0.8 "
            "to 1.25: look at the unit of the display and at the battery"
        )
    gain_sd = math.hypot(read.sd / read.value, true_sd_mN / true_mN)
    return Gauge(gauge.repeatability_mN, gauge.resolution_mN, gain, gain_sd, True)


def _mean(values_mN: Sequence[float], gauge: Gauge) -> Reading:
    """Return the mean: repeatability averages out, the display's step (uniform, GUM 4.3.7) does not.

    Where the readings scatter more than chance allows once in twenty times (chi-square with n - 1 degrees of
    freedom, the quantile after E. B. Wilson and M. M. Hilferty, PNAS 17, 684, 1931), their scatter counts.
    """
    count, repeatability = len(values_mN), gauge.repeatability_mN
    mean = math.fsum(values_mN) / count
    if count > 1:
        scatter = math.sqrt(math.fsum((value - mean) ** 2 for value in values_mN) / (count - 1))
        step = 2.0 / (9.0 * (count - 1))
        if scatter > repeatability * (1.0 - step + 1.645 * math.sqrt(step)) ** 1.5:
            repeatability = scatter
    return Reading(mean, math.hypot(repeatability / math.sqrt(count), gauge.resolution_mN / math.sqrt(12.0)))


def force_from_readings(
    readings_mN: Sequence[float], gauge: Gauge, height: GaugeHeight = AT_RECORD_HEIGHT
) -> Reading:
    """Return the tracking force on the record, in mN.

    F = gain x mean - slope x (pan above record). Readings that scatter more than the gauge's
    repeatability explains widen the interval. An arm whose slope isn't known keeps the mean
    and gets the interval of a usual arm for each mm of height.
    """
    if not readings_mN:
        raise InputError("no gauge reading was given; give at least one, better three")
    mean = _mean(readings_mN, gauge)
    value = gauge.gain * mean.value
    slope = 0.0 if height.slope_mN_per_mm is None else height.slope_mN_per_mm
    slope_sd = SLOPE_SD_GF_PER_MM * MN_PER_GF if height.slope_mN_per_mm is None else 0.0
    sd = math.sqrt(
        (gauge.gain * mean.sd) ** 2 + (value * gauge.gain_sd) ** 2 + (slope_sd * height.above_record_mm) ** 2
    )
    return Reading(value - slope * height.above_record_mm, sd)


def force_per_turn_mN(
    *, thread_pitch_mm: float, counterweight_mass_g: float, effective_length_mm: float
) -> float:
    """Return what one turn of a threaded counterweight changes: m_w g p / L, in mN for each turn."""
    Limits("thread pitch", 0.2, 5.0, "mm").check(thread_pitch_mm)
    Limits("counterweight mass", 10.0, 500.0, "g", (OtherUnit("kilograms", 1000.0),)).check(
        counterweight_mass_g
    )
    EFFECTIVE_LENGTH.check(effective_length_mm)
    return counterweight_mass_g * MN_PER_GF * thread_pitch_mm / effective_length_mm


def force_per_turn_measured_mN(before_mN: Reading, after_mN: Reading, turns_in: float) -> Reading:
    """Return what one turn changes, from two weighings with a counted turn in between (in: positive)."""
    if turns_in == 0.0:
        raise InputError("the turn between the two weighings is 0; turn at least half a turn")
    change = after_mN.value - before_mN.value
    return Reading(change / turns_in, math.hypot(after_mN.sd, before_mN.sd) / abs(turns_in))


def judge_force(
    force_mN: Reading,
    force_range: ForceRange,
    *,
    turn_mN: float | None = None,
    on_target_fraction: float = ON_TARGET_FRACTION,
) -> Weighed:
    """Return the verdict on a force against the maker's range and the target, and the turn still needed.

    Nothing outside the maker's range is ever blessed, however near. Where what is still missing is less
    than twice what can be read, the advice is to stop.
    """
    inside = force_mN.probability_between(force_range.low_mN, force_range.high_mN)
    missing = force_range.target_mN - force_mN.value
    turns, turn_sentence = _turn(missing, turn_mN)
    margin = max(on_target_fraction * force_range.half_width_mN, 2.0 * force_mN.sd)
    shown = f"{force_mN.value / MN_PER_GF:.2f} gf ({force_mN.value:.1f} mN)"
    limits = f"{force_range.low_mN / MN_PER_GF:.3g} to {force_range.high_mN / MN_PER_GF:.3g} gf"
    move = f"{'add' if missing > 0.0 else 'take off'} {abs(missing) / MN_PER_GF:.2f} gf: {turn_sentence}"
    if force_mN.value < force_range.low_mN:
        verdict = Verdict("too-light", f"Too light: {shown}, the maker asks for {limits}; {move}.", inside)
    elif force_mN.value > force_range.high_mN:
        verdict = Verdict("too-heavy", f"Too heavy: {shown}, the maker allows {limits}; {move}.", inside)
    elif inside < 0.95:
        verdict = Verdict(
            "unsure",
            f"Not certain: {shown} reads as inside the maker's {limits}, with a probability of only "
            f"{inside:.0%}; {move}, "
            "or weigh more often.",
            inside,
        )
    elif abs(missing) <= margin:
        verdict = Verdict(
            "right", f"The force is right: {shown}, within the maker's {limits}. Stop here.", inside
        )
    else:
        verdict = Verdict("adjust", f"Within the maker's {limits} at {shown}; for the target {move}.", inside)
    return Weighed(force_mN, force_range, turns, turn_sentence, verdict)


def _turn(missing_mN: float, turn_mN: float | None) -> tuple[float | None, str]:
    if turn_mN is None:
        return None, "turns unknown, needs the counterweight's thread and mass, or the change for one turn"
    if not (math.isfinite(turn_mN) and turn_mN > 0.0):
        raise InputError(
            f"the change for one turn is {turn_mN:g} mN; it counts positive for a turn in, towards the "
            f"bearing"
        )
    turns = missing_mN / turn_mN
    if abs(turns) < 0.01:
        return turns, "no turn that a hand could make"
    way = "in (towards the bearing)" if turns > 0.0 else "out (away from the bearing)"
    return turns, f"wind the counterweight {abs(turns):.2g} turn {way}"


def judge_drift(as_found_mN: Reading, as_left_mN: Reading) -> Verdict:
    """Return whether two weighings of the same setting differ by more than what can be read (95 %)."""
    change = as_left_mN.value - as_found_mN.value
    sd = math.hypot(as_found_mN.sd, as_left_mN.sd)
    shown = f"{change / MN_PER_GF:+.2f} gf, standard uncertainty {sd / MN_PER_GF:.2f} gf"
    if abs(change) > 1.96 * sd:
        return Verdict(
            "drifted",
            f"The force has changed between as found and as left ({shown}): look for a counterweight "
            f"that creeps on its "
            "thread, a pulling lead or a sticking bearing.",
        )
    return Verdict("steady", f"As found and as left agree within what can be read ({shown}).")
