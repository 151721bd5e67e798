"""The two ways in which a request can fail, and the exit code that each has on the command line."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class BenchError(Exception):
    """A request that failed in a way the user can act on. The text is one complete sentence."""

    exit_code = 1


class InputError(BenchError, ValueError):
    """What was given is wrong: the text says what, the value, what is allowed, the nearest that works."""

    exit_code = 2


class CannotBeDoneError(BenchError):
    """What was given is right, yet the job can't be done with it: the text says what would help."""

    exit_code = 1


def nearest(word: str, allowed: Iterable[str]) -> str | None:
    """Return the allowed word most like `word`, or None where nothing is close."""
    close = difflib.get_close_matches(word.lower(), list(allowed), n=1, cutoff=0.6)
    return close[0] if close else None


def unknown_word(what: str, word: str, allowed: Iterable[str]) -> InputError:
    """Return the error for a word that is not in a fixed list, with the nearest that is."""
    choices = list(allowed)
    near = nearest(word, choices)
    hint = f"; did you mean '{near}'?" if near else ""
    return InputError(f"{what}: '{word}' is not known; allowed: {', '.join(choices)}{hint}")
