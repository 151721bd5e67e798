"""Numbers as people say them, among other words: 'one point two', 'half a degree', '1,2'."""

from __future__ import annotations

import re
import unicodedata

_ONES = (
    *(
        "zero",
        "one",
        "two",
        "three",
        "four",
        "five",
        "six",
        "seven",
        "eight",
        "nine",
        "ten",
        "eleven",
        "twelve",
    ),
    *("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
_NUMBER = {
    **{word: float(value) for value, word in enumerate(_ONES)},
    "nought": 0.0, "naught": 0.0, "oh": 0.0,
    "twenty": 20.0, "thirty": 30.0, "forty": 40.0, "fifty": 50.0, "sixty": 60.0, "seventy": 70.0, "eighty": 80.0,
    "ninety": 90.0,
}  # fmt: skip
_PRONOUN_AFTER = (
    "outer",
    "inner",
    "outermost",
    "innermost",
    "outside",
    "inside",
    "the",
    "this",
    "that",
    "other",
)
"""Words after which 'one' is no number."""
_NO_DECIMALS_AFTER = ("outer", "inner", "outermost", "innermost", "outside", "inside")
"""Words after which 'point' is a place on the sheet."""

_TOKEN = re.compile(r"\d+(?:\.\d+)?|[a-z]+|[+-]|[.,;!?\n]")
_MINUS = dict.fromkeys(map(ord, "\u2212\u2010\u2011\u2012\u2013\u2014"), "-")

Token = str | float


def spoken_tokens(text: str) -> list[Token]:
    """Return the words, numbers, signs and ends of sentences of a text, in lower case.

    Numbers in words and with a decimal comma become numbers; a minus that is said becomes '-'. A sign is a
    token of its own; hyphens inside words part them.
    """
    plain = (
        unicodedata.normalize("NFKC", text).translate(_MINUS).lower().replace("'", "").replace("\u2019", "")
    )
    plain = re.sub(r"(?<=\d)\s*,\s*(?=\d)", ".", plain)
    plain = re.sub(r"(?<=[a-z])-(?=[a-z])", " ", plain)
    raw = _TOKEN.findall(plain)
    tokens: list[Token] = []
    index = 0
    while index < len(raw):
        previous = raw[index - 1] if index else ""
        value, used = _number_at(raw, index, previous)
        if used:
            tokens.append(value)
            index += used
        else:
            tokens.append({"minus": "-", "plus": "+"}.get(raw[index], raw[index]))
            index += 1
    return tokens


def _number_at(raw: list[str], index: int, previous: str) -> tuple[float, int]:
    """Return the number that starts here and how many words it takes; 0 words where there is none."""
    whole, used = _whole_at(raw, index, previous)
    if not used and raw[index] in ("half", "quarter"):
        return (0.5 if raw[index] == "half" else 0.25), 1
    rest = index + used
    if raw[rest : rest + 1] == ["point"] and (used or previous not in _NO_DECIMALS_AFTER):
        digits, more = _digits_at(raw, rest + 1)
        if more:
            return whole + float(f"0.{digits}"), used + 1 + more
    if used and raw[rest : rest + 3] == ["and", "a", "half"]:
        return whole + 0.5, used + 3
    if used and raw[rest : rest + 3] == ["and", "a", "quarter"]:
        return whole + 0.25, used + 3
    if used and raw[rest : rest + 1] == ["quarters"]:
        return whole / 4.0, used + 1
    return whole, used


def _whole_at(raw: list[str], index: int, previous: str) -> tuple[float, int]:
    word = raw[index]
    if word[0].isdigit():
        return float(word), 1
    if word not in _NUMBER or (word == "one" and previous in _PRONOUN_AFTER):
        return 0.0, 0
    value, used = _NUMBER[word], 1
    following = raw[index + 1] if index + 1 < len(raw) else ""
    if value >= 20.0 and 0.0 < _NUMBER.get(following, 0.0) < 10.0:
        value, used = value + _NUMBER[following], 2
    if raw[index + used : index + used + 1] == ["hundred"]:
        return _with_hundreds(raw, index, value, used + 1)
    return value, used


def _with_hundreds(raw: list[str], index: int, value: float, used: int) -> tuple[float, int]:
    """Return 'one hundred (and) twenty one' as a number."""
    rest = index + used
    skip = 1 if raw[rest : rest + 1] == ["and"] else 0
    if raw[rest + skip : rest + skip + 1] and raw[rest + skip] in _NUMBER:
        below, more = _whole_at(raw, rest + skip, "")
        if below < 100.0:
            return 100.0 * value + below, used + skip + more
    return 100.0 * value, used


def _digits_at(raw: list[str], index: int) -> tuple[str, int]:
    """Return the digits that follow a point, said one by one or written."""
    digits, used = "", 0
    while index + used < len(raw):
        word = raw[index + used]
        if word.isdigit() and not (digits and len(word) > 1):
            digits += word
        elif word in _NUMBER and _NUMBER[word] < 10.0:
            digits += str(int(_NUMBER[word]))
        else:
            break
        used += 1
    return digits, used
