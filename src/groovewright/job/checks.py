"""Checks of one value that a person, a file or another program gave, whatever the key."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from groovewright.quantities import InputError, Limits, unknown_word

Check = Callable[[object, str], Any]
"""(value, where it stands) to the checked value; raises InputError with `where` in front."""


def number(limits: Limits) -> Check:
    """Return the check for a number within limits."""

    def check(value: object, where: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InputError(f"{where} is {value!r}, not a number; {limits.allowed()}")
        return limits.check(value, where)

    return check


def text(value: object, where: str) -> str:
    """Check a text: at most 500 characters, whatever the script."""
    if not isinstance(value, str):
        raise InputError(f"{where} is {value!r}, not a text; write it in quotation marks")
    if len(value) > 500:
        raise InputError(f"{where} has {len(value)} characters; allowed are 500")
    return value


def choice(words: tuple[str, ...]) -> Check:
    """Return the check for a word from a list."""

    def check(value: object, where: str) -> str:
        if not isinstance(value, str) or value not in words:
            raise unknown_word(where, str(value), words)
        return value

    return check


def list_of(one: Check) -> Check:
    """Return the check for a list, each entry by its own check."""

    def check(value: object, where: str) -> tuple[float, ...]:
        if not isinstance(value, list):
            raise InputError(f"{where} is {value!r}, not a list; write it in brackets, such as [33.333, 45]")
        return tuple(one(entry, where) for entry in value)

    return check


def flag(value: object, where: str) -> bool:
    """Check a yes or no."""
    if not isinstance(value, bool):
        raise InputError(f"{where} is {value!r}; allowed are true and false")
    return value


def iso_date(value: object, where: str) -> str:
    """Check a day: a date of TOML, or a text such as '2026-03-14'."""
    try:
        return date.fromisoformat(value.isoformat() if isinstance(value, date) else str(value)).isoformat()
    except ValueError:
        raise InputError(f"{where} is {value!r}; write the day as year-month-day: 2026-03-14") from None
