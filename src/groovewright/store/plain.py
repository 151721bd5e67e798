"""Events as the JSON text that is kept: exact there and back, with the version of the form beside it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, NoReturn

from groovewright.job import Event, from_plain, to_plain
from groovewright.quantities import CannotBeDoneError, InputError

EVENT_VERSION = 1
"""The version of the plain form of an event that this program writes, and the newest that it reads."""

LARGEST_EVENT = 256_000
"""Bytes of one event as JSON. A page of notes is a few thousand."""


def body_of(event: Event) -> str:
    """Return the JSON text of an event."""
    return json_text(to_plain(event))


def json_text(plain: Mapping[str, Any]) -> str:
    """Return compact JSON; numbers are written so that they read back exactly.

    Raises
    ------
    InputError
        A number is not finite, a text holds half a character, or it is too large.
    """
    try:
        text = json.dumps(plain, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
        size = len(text.encode())
    except UnicodeEncodeError:
        raise InputError("a text holds half a character (a lone surrogate); type it again") from None
    except ValueError:
        raise InputError("a number is infinite or not a number; only finite ones can be kept") from None
    if size > LARGEST_EVENT:
        raise InputError(f"one event has {size:,} bytes; allowed are {LARGEST_EVENT:,}")
    return text


def plain_of(body: str) -> dict[str, Any]:
    """Return the plain form of a JSON text."""
    plain: dict[str, Any] = _DECODER.decode(body)
    return plain


def event_of(plain: Mapping[str, Any], version: int, where: str) -> Event:
    """Return the event of a plain form that came from JSON.

    Raises
    ------
    CannotBeDoneError
        A newer program wrote it.
    InputError
        The kind or a key is not known.
    """
    if version > EVENT_VERSION:
        raise CannotBeDoneError(
            f"{where} was written by a newer groovewright (event form {version}, this one reads "
            f"{EVENT_VERSION}); update this one. Nothing was changed"
        )
    try:
        return from_plain({key: _with_tuples(value) for key, value in plain.items()})
    except InputError as error:
        raise InputError(f"{where}: {error}") from None


def _with_tuples(value: Any) -> Any:
    """Return the value with tuples where JSON only knows lists: records hold tuples."""
    if isinstance(value, dict):
        return {key: _with_tuples(entry) for key, entry in value.items()}
    return tuple(_with_tuples(entry) for entry in value) if isinstance(value, list) else value


def _refuse(constant: str) -> NoReturn:
    raise InputError(f"'{constant}' is not a number that can be kept; only finite ones can")


_DECODER = json.JSONDecoder(parse_constant=_refuse)
