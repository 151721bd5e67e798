"""Help at a distance: two readings as a short text that can be read over the telephone, and back.

The owner's guide composes the text; `readings_from_text` also takes it as a person says it. In degrees + is
front in; a word stands for the interval that `groovewright.squaring.words` gives it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.quantities import InputError
from groovewright.report.spoken_numbers import Token, spoken_tokens
from groovewright.squaring import parse_yaw

LARGEST_TEXT = 2000
"""Characters. What the guide composes has about 130."""

_MARKERS = {"outer": "outer", "outermost": "outer", "inner": "inner", "innermost": "inner"}
_PLACES = ("point", "dot", "grid", "null", "one")
_WAYS = {
    "in": 1, "inward": 1, "inwards": 1, "inside": 1, "clockwise": 1,
    "out": -1, "outward": -1, "outwards": -1, "outside": -1, "anticlockwise": -1, "counterclockwise": -1,
}  # fmt: skip
_SQUARE = ("square", "straight", "parallel", "aligned")
_SLIGHT = ("slightly", "little", "bit", "tiny", "touch")
_FAR = ("far", "lot", "much", "very", "well")
_UNSURE = ("not", "isnt", "no", "never", "nor", "neither", "or", "maybe", "perhaps", "unsure", "cant", "cannot",
           "between")  # fmt: skip
_OTHER_UNITS = ("mm", "millimetre", "millimetres", "millimeter", "millimeters", "cm", "inch", "inches")
_EXAMPLE = "write it as 'Outer point: out 0.5 degrees. Inner point: in 1.2 degrees.'"


@dataclass(frozen=True)
class DistantReadings:
    """What the owner read: degrees (+ is front in), a word, or None where nothing is said of a point.

    Parameters
    ----------
    moved_as_told : bool or None
        Whether the last advice was carried out before; None where the text does not say.
    sheet_radii_mm : (outer, inner) or None
        The whole millimetres that name the sheet; None where the text does not say.
    """

    outer: float | str | None
    inner: float | str | None
    moved_as_told: bool | None = None
    sheet_radii_mm: tuple[int, int] | None = None


def distant_text(readings: DistantReadings) -> str:
    """Return the text that the guide composes, with its check number."""
    parts = []
    if readings.sheet_radii_mm is not None:
        parts.append("Sheet {} and {}.".format(*readings.sheet_radii_mm))
    for name, said in (("Outer", readings.outer), ("Inner", readings.inner)):
        if said is not None:
            parts.append(f"{name} point: {_said(said)}.")
    if readings.moved_as_told is not None:
        parts.append(f"Moved as told: {'yes' if readings.moved_as_told else 'no'}.")
    parts.append(f"Check {check_number(readings):02d}.")
    return " ".join(parts)


def _said(said: float | str) -> str:
    if isinstance(said, str):
        return said.replace("-", " ").replace("_", " ")
    tenths = _tenths(said)
    if tenths == 0:
        return "0.0 degrees"
    return f"{'in' if said > 0 else 'out'} {tenths / 10.0:.1f} degrees"


def _tenths(degrees: float) -> int:
    """Return the whole tenths of a degree that are said, halves up; the guide's script does the same."""
    return math.floor(abs(degrees) * 10.0 + 0.5)


def check_number(readings: DistantReadings) -> int:
    """Return two digits that change with every single wrong digit or sign.

    The characters of the canonical text, each weighted by its place counted from 1, modulo 97. One wrong
    character changes the sum by its difference times its place; 97, a prime greater than either, can't
    divide that.
    """
    canonical = _canonical(readings)
    return sum(place * ord(character) for place, character in enumerate(canonical, 1)) % 97


def _canonical(readings: DistantReadings) -> str:
    def reading(said: float | str | None) -> str:
        if said is None:
            return ""
        if isinstance(said, str):
            return said.strip().lower().replace(" ", "-").replace("_", "-")
        return str(_tenths(said) if said > 0 else -_tenths(said))

    moved = {True: "y", False: "n", None: ""}[readings.moved_as_told]
    sheet = "" if readings.sheet_radii_mm is None else "{},{}".format(*readings.sheet_radii_mm)
    return "/".join((sheet, reading(readings.outer), reading(readings.inner), moved))


def readings_from_text(text: str) -> DistantReadings:
    """Return the readings of a pasted text: what the guide composes, or plain words.

    Raises
    ------
    InputError
        A reading is missing, said twice or unclear, or the check number does not fit.
    """
    if not text.strip():
        raise InputError(f"the text is empty; {_EXAMPLE}")
    if len(text) > LARGEST_TEXT:
        raise InputError(
            f"the text has {len(text)} characters; allowed are {LARGEST_TEXT}: paste the readings only"
        )
    tokens = spoken_tokens(text)
    check, tokens = _taken(tokens, "check")
    sheet, tokens = _sheet(tokens)
    moved, tokens = _moved(tokens)
    said = {name: _reading(name, part) for name, part in _by_point(tokens).items()}
    if not said:
        raise InputError(f"the text names neither the outer nor the inner point; {_EXAMPLE}")
    readings = DistantReadings(said.get("outer"), said.get("inner"), moved, sheet)
    if check is not None and check != check_number(readings):
        raise InputError(
            f"the check number {check:g} does not fit '{distant_text(readings)}': something was misheard or left "
            "out; ask for the readings once more"
        )
    return readings


def _taken(tokens: list[Token], word: str) -> tuple[float | None, list[Token]]:
    """Return the number after a word (and 'number', 'is'), and the tokens without them."""
    for index, token in enumerate(tokens):
        if token != word:
            continue
        end = index + 1
        while end < len(tokens) and tokens[end] in ("number", "is", "digits"):
            end += 1
        pair = tokens[end : end + 2]
        if len(pair) == 2 and all(isinstance(digit, float) and digit < 10.0 for digit in pair):
            return 10.0 * float(pair[0]) + float(pair[1]), tokens[:index] + tokens[end + 2 :]
        if pair and isinstance(pair[0], float):
            return pair[0], tokens[:index] + tokens[end + 1 :]
    return None, tokens


def _sheet(tokens: list[Token]) -> tuple[tuple[int, int] | None, list[Token]]:
    """Return the two radii of 'sheet 121 and 66', and the tokens without them."""
    for index, token in enumerate(tokens):
        after = tokens[index + 1 : index + 4]
        if token != "sheet" or len(after) < 2 or not isinstance(after[0], float):
            continue
        second = after[1] if isinstance(after[1], float) else after[-1]
        used = 2 if isinstance(after[1], float) else 3
        if isinstance(second, float) and (used == 2 or after[1] == "and"):
            return (round(after[0]), round(second)), tokens[:index] + tokens[index + 1 + used :]
    return None, tokens


def _moved(tokens: list[Token]) -> tuple[bool | None, list[Token]]:
    """Return whether the text says that it was moved as told, and the tokens without that sentence."""
    for index, token in enumerate(tokens):
        if token not in ("moved", "touched", "move"):
            continue
        start = index
        while start > 0 and not _parts(tokens[start - 1]):
            start -= 1
        end = index
        while end < len(tokens) and not _parts(tokens[end]):
            end += 1
        sentence = tokens[start:end]
        denied = any(
            word in ("not", "no", "nothing", "havent", "didnt", "hasnt", "never", "un") for word in sentence
        )
        told = any(word in ("told", "said", "advised", "yes", "asked", "written") for word in sentence)
        if denied or told:
            return not denied, [*tokens[:start], *tokens[end:]]
        raise InputError(
            "the text says that it was moved, but not how; say 'moved as told: yes', or 'not moved'"
        )
    return None, tokens


_ENDS = (".", ";", "!", "?", "\n")


def _parts(token: Token) -> bool:
    """Return whether a sentence about moving can't go on over this token."""
    return token == "," or token in _ENDS or token in _MARKERS or token in _WAYS or token in _SQUARE


def _by_point(tokens: list[Token]) -> dict[str, list[Token]]:
    """Return the tokens that belong to each point that is named."""
    starts: list[tuple[int, str]] = []
    for index, token in enumerate(tokens):
        name = _MARKERS.get(str(token))
        if token in ("outside", "inside") and any(
            following in _PLACES for following in tokens[index + 1 : index + 2]
        ):
            name = "outer" if token == "outside" else "inner"
        if name is not None:
            if name in (known for _, known in starts):
                raise InputError(f"the {name} point is named twice; say each point once: {_EXAMPLE}")
            starts.append((index, name))
    ends = [*(start for start, _ in starts[1:]), len(tokens)]
    return {name: tokens[start + 1 : ends[k]] for k, (start, name) in enumerate(starts)}


def _reading(name: str, tokens: list[Token]) -> float | str:
    """Return one point's reading from its own words, up to the end of the sentence that holds it."""
    words = _first_sentence(tokens)
    where = f"the {name} point"
    for word in words:
        if word in _UNSURE:
            raise InputError(f"{where} says '{word}', so it is unclear; say what it is: {_EXAMPLE}")
        if word in _OTHER_UNITS:
            raise InputError(
                f"{where} is given in {word}; the way the front points is wanted in degrees or words"
            )
    numbers = _signed_numbers(words)
    ways = {_WAYS[str(word)] for word in words if word in _WAYS}
    if "counter" in words or "anti" in words:
        ways = {-1}
    square = any(word in _SQUARE for word in words)
    if len(ways) > 1 or (ways and square):
        raise InputError(f"{where} is said to point more than one way; say in, out or square: {_EXAMPLE}")
    if len(numbers) > 1:
        shown = " and ".join(f"{value:g}" for value, _ in numbers)
        raise InputError(f"{where} has more than one number ({shown}); say one: {_EXAMPLE}")
    if numbers:
        return _degrees(where, *numbers[0], ways.pop() if ways else 0, square=square)
    return _in_words(where, words, ways.pop() if ways else 0, square=square)


def _first_sentence(tokens: list[Token]) -> list[Token]:
    kept: list[Token] = []
    for token in tokens:
        if token == ",":
            continue
        if token in _ENDS:
            if any(
                isinstance(word, float) or word in _WAYS or word in _SQUARE or word in _UNSURE
                for word in kept
            ):
                break
            continue
        kept.append(token)
    return kept


def _signed_numbers(words: list[Token]) -> list[tuple[float, str]]:
    """Return each number with the sign in front of it, or ''."""
    found = []
    for index, word in enumerate(words):
        if isinstance(word, float):
            before = words[index - 1] if index else ""
            found.append((word, str(before) if before in ("+", "-") else ""))
    return found


def _degrees(where: str, value: float, sign: str, way: int, *, square: bool) -> float:
    if value == 0.0:
        if way:
            raise InputError(f"{where} points {'in' if way > 0 else 'out'} by 0 degrees; say square if it is")
        return 0.0
    if square:
        raise InputError(
            f"{where} is said to be square and {value:g} degrees off; say one of them: {_EXAMPLE}"
        )
    if sign and way:
        raise InputError(f"{where} has a sign and a word for the way; leave one out: {_EXAMPLE}")
    if not sign and not way:
        raise InputError(f"{where} is {value:g} degrees, but which way? Say in or out: {_EXAMPLE}")
    degrees = value * (way if way else (1.0 if sign == "+" else -1.0))
    parse_yaw(degrees, 0.0, where)
    return degrees


def _in_words(where: str, words: list[Token], way: int, *, square: bool) -> str:
    if square:
        return "square"
    if not way:
        raise InputError(
            f"{where} has no reading; say in, out or square, and by how many degrees: {_EXAMPLE}"
        )
    plain = "in" if way > 0 else "out"
    if any(word in _SLIGHT for word in words):
        return f"slightly-{plain}"
    return f"far-{plain}" if any(word in _FAR for word in words) else plain
