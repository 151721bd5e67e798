"""Events as a person at the bench reads them: for undo, for the history, for what the other bench wrote."""

from __future__ import annotations

from groovewright.job import Described, Event, Log, Redone, Undone, effective
from groovewright.job.events import (
    MOUNT_CHECKS,
    STEP_KINDS,
    AntiskatingSet,
    Checked,
    Moved,
    Unchecked,
    Weighed,
)
from groovewright.job.heard import ListenClosed, Listened
from groovewright.web.fields import STEP_FIELDS

SECTION_NAMES = {
    "job": "Job",
    "deck": "Player",
    "arm": "Arm",
    "cartridge_out": "Comes out",
    "cartridge_in": "Goes in",
    "phono": "Phono input",
    "found": "As found",
    "aim": "Aim",
    "kept": "What came off, put away",
    "play": "Hours of play",
}

STEP_NAMES = {
    "look": "look at the sheet",
    "moved": "move",
    "checked": "tick",
    "unchecked": "tick taken away",
    "weighed": "weighing",
    "gauge_checked": "check of the gauge",
    "weight_turned": "turn of the counterweight",
    "crosstalk": "crosstalk",
    "rake": "rake angle",
    "lean": "lean of the body",
    "antiskating": "anti-skating",
    "tilt": "level of the platter",
    "speed": "speed",
    "listened": "recording",
}


def event_words(event: Event) -> str:
    """Return an event in a few words."""
    if isinstance(event, Described):
        name = getattr(event.record, "name", "") or getattr(event.record, "title", "")
        return f"{SECTION_NAMES[event.section].lower()} described{f': {name}' if name else ''}"
    if isinstance(event, Undone):
        return "undo"
    if isinstance(event, Redone):
        return "redo"
    if isinstance(event, Checked):
        return f"ticked: {MOUNT_CHECKS.get(event.what, event.what)}"
    if isinstance(event, Listened):
        return f"recording heard{' (as found)' if event.as_found else ''}: {event.file}"
    if isinstance(event, ListenClosed):
        return f"no further recording: {event.why}"
    if isinstance(event, Unchecked):
        return f"tick taken away: {MOUNT_CHECKS.get(event.what, event.what)}"
    kind = next(name for name, kind_of in STEP_KINDS.items() if type(event) is kind_of)
    if isinstance(event, Moved) and event.slide_mm == 0.0 and event.turn_deg == 0.0:
        return "left as it was"
    said = [
        f"{field.label.lower()} {_value(value)}{_unit(value, field.unit)}"
        for key, field in STEP_FIELDS[kind].items()
        if (value := getattr(event, key)) is not None and (value != 0.0 or _matters(event, key))
    ]
    source = getattr(event, "read_from", "")
    return f"{STEP_NAMES[kind]}{f' ({source})' if source else ''}: {', '.join(said)}"


def _matters(event: Event, key: str) -> bool:
    return not isinstance(event, Weighed | AntiskatingSet) or key in ("force_gf", "setting")


def _value(value: float | str) -> str:
    return f"{value:g}".replace("-", "−") if isinstance(value, float | int) else value.replace("-", " ")


def _unit(value: float | str, unit: str) -> str:
    if isinstance(value, str) or not unit:
        return ""
    return unit if unit == "°" else f" {unit}"


def to_undo(log: Log) -> Event | None:
    """Return the step that an undo takes back; None where nothing is left."""
    counting = effective(log)
    return counting[-1] if counting else None


def to_redo(log: Log) -> Event | None:
    """Return the step that a redo brings back; None where there is none."""
    counting, again = effective(log), effective((*log, Redone()))
    return again[-1] if len(again) > len(counting) else None
