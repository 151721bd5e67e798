"""A job is an append-only log of events: what was said, observed and done. Undo is an event too.

Each event has a plain form, a dictionary of text, numbers, lists and None, in which it can be kept and
sent; `from_plain(to_plain(event)) == event`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from groovewright.job.heard import ListenClosed, Listened, listened_of, plain_of_listened
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

    `reading_sd_deg` is the standard uncertainty of this look; None stands for that of the aim. `read_from` says
    what it was read from, such as a photograph's flag; empty: by eye.
    """

    outer: float | str | None = None
    inner: float | str | None = None
    reading_sd_deg: float | None = None
    read_from: str = ""


@dataclass(frozen=True)
class Moved:
    """The cartridge was moved in its slots, as intended; both 0: nothing was touched."""

    slide_mm: float
    turn_deg: float


@dataclass(frozen=True)
class Checked:
    """A point of the mounting list was ticked (a key of `MOUNT_CHECKS`)."""

    what: str


@dataclass(frozen=True)
class Unchecked:
    """A tick on the mounting list was taken away: it was ticked by mistake, or has to be done again."""

    what: str


@dataclass(frozen=True)
class Weighed:
    """A gauge reading of the tracking force, and how far the pan stood above the record's surface."""

    force_gf: float
    above_record_mm: float = 0.0


@dataclass(frozen=True)
class GaugeChecked:
    """A check mass of known weight was put on the gauge."""

    true_gf: float
    read_gf: float


@dataclass(frozen=True)
class WeightTurned:
    """The counterweight was wound in (positive, towards the bearing: more force) or out.

    Readings of the force before it no longer speak of what is set now.
    """

    turns: float


@dataclass(frozen=True)
class CrosstalkRead:
    """Crosstalk of a test record: left into right and right into left, in dB, with standard uncertainty."""

    left_to_right_db: float
    right_to_left_db: float
    sd_db: float = 0.5


@dataclass(frozen=True)
class RakeRead:
    """The stylus rake angle, positive as IEC 60098 counts it, from a side view."""

    rake_deg: float
    sd_deg: float = 0.5
    vertical_tracking_deg: float | None = None
    read_from: str = ""


@dataclass(frozen=True)
class LeanRead:
    """The body's lean, positive clockwise seen from the front, from its reflection in a mirror or record."""

    lean_deg: float
    sd_deg: float = 0.5
    read_from: str = ""


@dataclass(frozen=True)
class AntiskatingSet:
    """Anti-skating as it was set, in the device's own words, and the force that it stands for if known."""

    setting: str
    force_mN: float | None = None


@dataclass(frozen=True)
class SpeedCounted:
    """Bars of a stroboscope ring that drifted past a mark: with the platter, against it, or not at all."""

    speed: str
    bars: float
    seconds: float = 60.0
    drift: str = "still"
    flash_hz: float = 100.0


@dataclass(frozen=True)
class TiltRead:
    """A level on the platter: positive where the right side, the front is low."""

    right_deg: float
    front_deg: float
    sd_deg: float = 0.1


@dataclass(frozen=True)
class Undone:
    """The last step that still counts was taken back."""


@dataclass(frozen=True)
class Redone:
    """The last step that was taken back counts again."""


Step = (
    Looked
    | Moved
    | Checked
    | Unchecked
    | Weighed
    | GaugeChecked
    | WeightTurned
    | CrosstalkRead
    | RakeRead
    | LeanRead
    | AntiskatingSet
    | SpeedCounted
    | TiltRead
    | Listened
    | ListenClosed
)
Event = Described | Step | Undone | Redone
Log = tuple[Event, ...]

STEP_KINDS: dict[str, type[Step]] = {
    "look": Looked,
    "moved": Moved,
    "checked": Checked,
    "unchecked": Unchecked,
    "weighed": Weighed,
    "gauge_checked": GaugeChecked,
    "weight_turned": WeightTurned,
    "crosstalk": CrosstalkRead,
    "rake": RakeRead,
    "lean": LeanRead,
    "antiskating": AntiskatingSet,
    "speed": SpeedCounted,
    "tilt": TiltRead,
    "listened": Listened,
    "listen_closed": ListenClosed,
}
"""The steps of work, by the name that a job file gives them."""

MOUNT_CHECKS = {
    "guard-on": "Stylus guard on, amplifier muted or off.",
    "found-noted": "As found: force, anti-skating, height and lead order written down or photographed.",
    "leads-off": "Leads off the old cartridge by the clips, with tweezers, never by the wire.",
    "old-off": "Two screws out, old cartridge off and put away with its screws.",
    "new-on": "New cartridge on with both screws, just loose enough that it can be moved.",
    "leads-on": "Leads back colour by colour: white left signal, blue left return, red right signal, "
    "green right return; the letters on the cartridge win.",
}
"""The mounting list in the order of the work (common practice)."""

KINDS: dict[str, type[Event]] = {"described": Described, **STEP_KINDS, "undone": Undone, "redone": Redone}
"""All events by the name of their plain form."""


def to_plain(event: Event) -> dict[str, Any]:
    """Return the plain form of an event."""
    kind = next(name for name, event_type in KINDS.items() if type(event) is event_type)
    if isinstance(event, Listened):
        return {"kind": kind, **plain_of_listened(event)}
    return {"kind": kind, **asdict(event, dict_factory=_with_lists)}


def _with_lists(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    return {key: list(value) if isinstance(value, tuple) else value for key, value in pairs}


def _with_tuples(values: Mapping[str, Any]) -> dict[str, Any]:
    return {key: tuple(value) if isinstance(value, list) else value for key, value in values.items()}


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
            record = _with_tuples(dict(values["record"]))
            if "grooves" in record:
                record["grooves"] = GrooveRange(**record["grooves"])
            return Described(values["section"], RECORDS[values["section"]](**record))
        return step_of_values(kind, values) if kind in STEP_KINDS else KINDS[kind](**values)
    except InputError:
        raise
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(f"event '{kind}' can't be read: {error}") from None


def step_of_values(kind: str, values: Mapping[str, Any]) -> Step:
    """Return the step of a plain form's values; `kind` is a key of `STEP_KINDS`.

    Raises
    ------
    InputError
        The findings of a recording are not in order.
    TypeError
        A value is missing, or has no place.
    """
    return listened_of(values, "listened") if kind == "listened" else STEP_KINDS[kind](**values)


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
