"""What the measures mean in plain words, each with the probability of being within tolerance, and the next
move.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum

from groovewright.audio.assess import Listening
from groovewright.audio.distortion import Ladder
from groovewright.audio.identity import CANNOT_TELL, CORRECT, Identity
from groovewright.quantities import Reading


class State(Enum):
    """How a finding stands."""

    RIGHT = "right"
    LOOK = "look"
    WRONG = "wrong"
    UNKNOWN = "can't tell"


@dataclass(frozen=True)
class Tolerance:
    """What counts as right, and as still fair; common practice unless the source says otherwise."""

    key: str
    low: float
    high: float
    fair_low: float
    fair_high: float
    source: str = "common practice"


TOLERANCES = {
    tolerance.key: tolerance
    for tolerance in (
        Tolerance("balance_db", -1.0, 1.0, -2.0, 2.0),
        Tolerance("crosstalk_l_to_r_db", -200.0, -25.0, -200.0, -20.0),
        Tolerance("crosstalk_r_to_l_db", -200.0, -25.0, -200.0, -20.0),
        Tolerance("azimuth_deg", -0.5, 0.5, -1.0, 1.0),
        Tolerance(
            "speed_error_percent", -0.3, 0.3, -0.5, 0.5, "IEC 60098:2020, 5.6 allows 0.5 % in recording"
        ),
        Tolerance("flutter_weighted_two_sigma_percent", 0.0, 0.15, 0.0, 0.2),
        Tolerance("eccentricity_mm", 0.0, 0.1, 0.0, 0.2),
        Tolerance("resonance_lateral_hz", 8.0, 12.0, 7.0, 14.0),
        Tolerance("resonance_vertical_hz", 8.0, 12.0, 7.0, 14.0),
        Tolerance("thd_percent", 0.0, 1.0, 0.0, 3.0),
        Tolerance("tracking_error_deg", 0.0, 2.5, 0.0, 3.5),
        Tolerance("response_left_db", -2.0, 2.0, -3.5, 3.5),
        Tolerance("response_right_db", -2.0, 2.0, -3.5, 3.5),
        Tolerance("hum_db", -200.0, -55.0, -200.0, -45.0),
        Tolerance("rumble_weighted_db", -200.0, -50.0, -200.0, -40.0),
    )
}


@dataclass(frozen=True)
class Verdict:
    """One finding.

    Parameters
    ----------
    key : str
        The measure that it stands on.
    state : State
    text : str
        Plain words, with the number.
    move : str
        What to do; empty where nothing.
    probability : float or None
        That the true value is within tolerance.
    """

    key: str
    state: State
    text: str
    move: str = ""
    probability: float | None = None


def verdicts(listening: Listening) -> tuple[Verdict, ...]:
    """Return all findings in the order in which they should be put right."""
    numbers = {
        key: measure.value
        for key, measure in listening.measures.items()
        if isinstance(measure.value, Reading)
    }
    return judged(listening.identity, numbers, listening.ladders)


def judged(
    identity: Identity, numbers: Mapping[str, Reading], ladders: Sequence[Ladder]
) -> tuple[Verdict, ...]:
    """Return the findings of measures by their key, as `verdicts` does of a recording just heard."""
    found = _wires(identity)
    found += [_judged(key, numbers[key], words) for key, words in WORDS.items() if key in numbers]
    found += [_of_ladder(ladder) for ladder in ladders]
    return tuple(found)


def next_move(found: tuple[Verdict, ...]) -> str:
    """Return the one move to make now: the first wrong finding's, else the first doubtful one's."""
    for state in (State.WRONG, State.LOOK):
        for verdict in found:
            if verdict.state is state and verdict.move:
                return verdict.move
    if all(verdict.state is State.UNKNOWN for verdict in found):
        return "Nothing could be proved: record a test record with tones, with a band list."
    return "Nothing: keep this recording with the job."


def _wires(identity: Identity) -> list[Verdict]:
    out = []
    for key, word, why, right in (
        ("leads", identity.leads, identity.leads_why, "Left is left and right is right"),
        ("polarity", identity.polarity, identity.polarity_why, "Both coils are the same way round"),
    ):
        if word == CORRECT:
            out.append(Verdict(key, State.RIGHT, f"{right} ({why})."))
        elif word == CANNOT_TELL:
            out.append(Verdict(key, State.UNKNOWN, f"{key.capitalize()} can't be told: {why}."))
        else:
            move = next(move for move in identity.re_plug if ("exchanged" in move) == (key == "leads"))
            text = "Left and right are exchanged" if key == "leads" else "One of the two coils is reversed"
            out.append(Verdict(key, State.WRONG, f"{text} ({why}).", move))
    return out


def _judged(key: str, reading: Reading, words: Callable[[Reading], tuple[str, str]]) -> Verdict:
    tolerance = TOLERANCES[key]
    probability = reading.probability_between(tolerance.low, tolerance.high)
    text, move = words(reading)
    if probability >= 0.5:
        return Verdict(key, State.RIGHT, text, "", probability)
    fair = reading.probability_between(tolerance.fair_low, tolerance.fair_high)
    return Verdict(key, State.LOOK if fair >= 0.5 else State.WRONG, text, move, probability)


def _pm(reading: Reading, unit: str, digits: int) -> str:
    """Return value and 95 % interval; an interval that would print as 0 is left out."""
    half = 1.959964 * reading.sd
    spread = f" ± {half:.{digits}f}" if half >= 0.5 * 10.0**-digits else ""
    return f"{reading.value:.{digits}f}{spread} {unit}"


def _size(reading: Reading, unit: str, digits: int) -> str:
    return _pm(Reading(abs(reading.value), reading.sd), unit, digits)


def _azimuth(reading: Reading) -> tuple[str, str]:
    way = "clockwise" if reading.value > 0.0 else "counter-clockwise"
    other = "counter-clockwise" if reading.value > 0.0 else "clockwise"
    size = _size(reading, "degrees", 2)
    text = f"Seen from the front the cartridge leans {size} {way}."
    return (
        text,
        f"Turn the cartridge {abs(reading.value):.1f} degrees {other}, from the front; record again.",
    )


def _balance(reading: Reading) -> tuple[str, str]:
    louder = "Left" if reading.value > 0.0 else "Right"
    text = f"{louder} is louder by {_size(reading, 'dB', 2)}."
    if abs(reading.value) < max(0.005, reading.sd):
        text = "Both channels are equally loud, as well as can be told."
    return text, "Swap the two channels at the amplifier: if the louder side stays, the amplifier does it."


def _crosstalk(way: str) -> Callable[[Reading], tuple[str, str]]:
    def words(reading: Reading) -> tuple[str, str]:
        return (
            f"Crosstalk {way}: {_pm(reading, 'dB', 1)}.",
            "Put the lean right first; what is left is the cartridge's or the wiring's.",
        )

    return words


def _speed(reading: Reading) -> tuple[str, str]:
    way = "fast" if reading.value > 0.0 else "slow"
    size = _size(reading, "%", 3)
    text = f"The platter runs {size} {way}, by the recorder's clock."
    return text, f"Adjust the speed: it is {abs(reading.value):.2f} % {way}."


def _flutter(reading: Reading) -> tuple[str, str]:
    return (
        f"Wow and flutter, weighted, two-sigma: {_pm(reading, '%', 3)}.",
        "Look at belt, bearing and motor; the spectrum shows at which rate the speed swings.",
    )


def _off_centre(reading: Reading) -> tuple[str, str]:
    return (
        f"The record is {_pm(reading, 'mm', 3)} off centre.",
        "Shift the record on the spindle, or use another pressing: this is not the player's fault.",
    )


def _resonance(motion: str) -> Callable[[Reading], tuple[str, str]]:
    def words(reading: Reading) -> tuple[str, str]:
        low = reading.value < 10.0
        move = "Less mass at the headshell raises it." if low else "More mass at the headshell lowers it."
        return f"Arm and cartridge resonate at {_pm(reading, 'Hz', 2)} ({motion}).", move

    return words


def _thd(reading: Reading) -> tuple[str, str]:
    return (
        f"Harmonics of the groove's motion: {_pm(reading, '%', 2)}.",
        "Check tracking force and the stylus for dirt, then the alignment.",
    )


def _tracking(reading: Reading) -> tuple[str, str]:
    return (
        f"The second harmonic would fit a tracking error of {_pm(reading, 'degrees', 2)}; "
        "which side can't be told.",
        "Square the cartridge with the protractor: the recording tells the size, not the side.",
    )


def _response(side: str) -> Callable[[Reading], tuple[str, str]]:
    def words(reading: Reading) -> tuple[str, str]:
        move = "Compare with the match stage: the load shapes the top, the equaliser the rest."
        return f"The {side} channel's response strays by {_pm(reading, 'dB', 1)} at most.", move

    return words


def _hum(reading: Reading) -> tuple[str, str]:
    return (
        f"Hum: {_pm(reading, 'dB', 1)} against the reference.",
        "Look for the cause named with the hum figure, earth lead first. "
        "Mains parts only by a qualified person.",
    )


def _rumble(reading: Reading) -> tuple[str, str]:
    return (
        f"Rumble, weighted: {_pm(reading, 'dB', 1)} against the reference.",
        "Check the player's footing and its bearing.",
    )


WORDS: dict[str, Callable[[Reading], tuple[str, str]]] = {
    "azimuth_deg": _azimuth,
    "balance_db": _balance,
    "crosstalk_l_to_r_db": _crosstalk("left into right"),
    "crosstalk_r_to_l_db": _crosstalk("right into left"),
    "speed_error_percent": _speed,
    "flutter_weighted_two_sigma_percent": _flutter,
    "eccentricity_mm": _off_centre,
    "resonance_lateral_hz": _resonance("sideways"),
    "resonance_vertical_hz": _resonance("up and down"),
    "thd_percent": _thd,
    "tracking_error_deg": _tracking,
    "response_left_db": _response("left"),
    "response_right_db": _response("right"),
    "hum_db": _hum,
    "rumble_weighted_db": _rumble,
}


def _of_ladder(ladder: Ladder) -> Verdict:
    left, right = ladder.left_breaks_cm_per_s, ladder.right_breaks_cm_per_s
    top = ladder.levels_cm_per_s[-1]
    key = "tracking_ability"
    at = f"{ladder.frequency_hz:g} Hz {ladder.channel.value}"
    if left is None and right is None:
        return Verdict(key, State.RIGHT, f"{at}: both channels follow up to {top:g} cm/s.")
    said = " and ".join(
        f"{name} {'follows all' if level is None else f'breaks up at {level:g} cm/s'}"
        for name, level in (("left", left), ("right", right))
    )
    share = ladder.side_force_share or 0.0
    if abs(share) < 0.02:
        move = (
            "Both break up together: raise the tracking force within the maker's limits, or accept the limit."
        )
    else:
        way = "more" if share > 0.0 else "less"
        move = (
            f"Try {way} anti-skating, by about {100.0 * abs(share):.0f} % of the tracking force "
            "(common practice), and record the ladder again."
        )
    return Verdict(key, State.LOOK, f"{at}: {said}.", move)
