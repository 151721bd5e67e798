"""A job is an append-only log of events: what was said, observed and done. Undo is an event too.

Each event has a plain form, a dictionary of text, numbers, lists and None, in which it can be kept and
sent; `from_plain(to_plain(event)) == event`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from groovewright.job.records import RECORDS, Record
from groovewright.quantities import GrooveRange, InputError, unknown_word


@dataclass(frozen=True)
class Described:
    """Something was described, or described anew: `section` names what (a key of `RECORDS`)."""

    section: str
    record: Record


@dataclass(frozen=True)
class Looked:
    """A look at both points of the sheet: degrees, a word, or None where it was not read.

    `reading_sd_deg` is the standard uncertainty of this look; None stands for that of the aim.
    """

    outer: float | str | None
    inner: float | str | None
    reading_sd_deg: float | None = None


@dataclass(frozen=True)
class Moved:
    """The cartridge was moved in its slots, as intended; both 0: nothing was touched."""

    slide_mm: float
    turn_deg: float


@dataclass(frozen=True)
class Undone:
    """The last step that still counts was taken back."""


@dataclass(frozen=True)
class Redone:
    """The last step that was taken back counts again."""


Event = Described | Looked | Moved | Undone | Redone
Log = tuple[Event, ...]

STEP_KINDS: dict[str, type[Looked | Moved]] = {"look": Looked, "moved": Moved}
"""The steps of work, by the name that a job file gives them."""

KINDS: dict[str, type[Event]] = {"described": Described, **STEP_KINDS, "undone": Undone, "redone": Redone}
"""All events by the name of their plain form."""


def to_plain(event: Event) -> dict[str, Any]:
    """Return the plain form of an event."""
    kind = next(name for name, event_type in KINDS.items() if type(event) is event_type)
    return {"kind": kind, **asdict(event)}


def from_plain(plain: Mapping[str, Any]) -> Event:
    """Return the event of a plain form.

    Raises
    ------
    InputError
        The kind or a key is not known.
    """
    values = dict(plain)
    kind = str(values.pop("kind", ""))
    if kind not in KINDS:
        raise unknown_word("event kind", kind, KINDS)
    try:
        if kind == "described":
            record = dict(values["record"])
            if "grooves" in record:
                record["grooves"] = GrooveRange(**record["grooves"])
            return Described(values["section"], RECORDS[values["section"]](**record))
        return KINDS[kind](**values)
    except (KeyError, TypeError) as error:
        raise InputError(f"event '{kind}' can't be read: {error}") from None


def effective(log: Iterable[Event]) -> Log:
    """Return the events that count, with everything that was undone left out.

    A new step after an undo ends what could be done again.
    """
    counting: list[Event] = []
    taken_back: list[Event] = []
    for event in log:
        if isinstance(event, Undone):
            if counting:
                taken_back.append(counting.pop())
        elif isinstance(event, Redone):
            if taken_back:
                counting.append(taken_back.pop())
        else:
            counting.append(event)
            taken_back.clear()
    return tuple(counting)
