"""The job file that a person writes: TOML, read into the same events as everything else."""

from __future__ import annotations

import re
import tomllib
from dataclasses import MISSING, fields
from typing import Any

from groovewright.job.events import STEP_KINDS, Described, Event, Log, step_of_values
from groovewright.job.keys import SECTION_KEYS, STEP_KEYS, checked
from groovewright.job.records import RECORDS
from groovewright.quantities import InputError, nearest

LARGEST_FILE = 1_000_000
"""Bytes. A job written by hand is a few thousand."""


def log_from_toml(content: bytes, name: str) -> Log:
    """Return the events of a job file; `name` is what errors call the file.

    The sections come first, in the order of the file, then every `[[step]]` in order.

    Raises
    ------
    InputError
        The file is empty, binary, cut off or too large, or says something that is not allowed; the text
        names the line, section and key.
    """
    document = _parse(content, name)
    for section in document:
        if section != "step" and section not in SECTION_KEYS:
            near = nearest(section, [*SECTION_KEYS, "step"])
            hint = f"did you mean [{near}]?" if near else f"known are {', '.join(SECTION_KEYS)} and [[step]]"
            raise InputError(f"{name}: there is no section [{section}]; {hint}")
    events: list[Event] = []
    for section, values in document.items():
        if section != "step":
            events.append(_described(section, values, f"{name}{_line_of(content, section)}, [{section}]"))
    steps = document.get("step", [])
    if not isinstance(steps, list):
        raise InputError(f"{name}: steps are written as [[step]], with two brackets, one for each step")
    events += [_step(step, f"{name}, step {number}") for number, step in enumerate(steps, 1)]
    return tuple(events)


def _described(section: str, values: object, where: str) -> Described:
    result = checked(SECTION_KEYS[section], values, where)
    try:
        return Described(section, RECORDS[section](**result))
    except InputError as error:
        # what single keys allow, but not together
        raise InputError(f"{where}: {error}") from None


def _parse(content: bytes, name: str) -> dict[str, Any]:
    if not content.strip():
        raise InputError(f"{name} is empty; a job needs at least [arm] with pivot_to_spindle_mm")
    if len(content) > LARGEST_FILE:
        raise InputError(f"{name} has {len(content):,} bytes; a job file has at most {LARGEST_FILE:,}")
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise InputError(
            f"{name} is not text (byte {error.start} is not UTF-8); a job file is TOML text"
        ) from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(
            f"{name} can't be read as TOML: {error}; is it cut off, or a quotation mark missing?"
        ) from None
    except RecursionError:
        raise InputError(f"{name} can't be read as TOML: it is nested too deeply") from None


def _line_of(content: bytes, section: str) -> str:
    """Return ', line N' of a section's heading, or nothing where it has none of its own."""
    for number, line in enumerate(content.decode("utf-8-sig").splitlines(), 1):
        if re.match(rf"\s*\[\s*{re.escape(section)}\s*\]", line):
            return f", line {number}"
    return ""


def _step(step: object, where: str) -> Event:
    if not isinstance(step, dict) or len(step) != 1:
        raise InputError(
            f"{where}: one step is one line such as 'look = {{ outer = 0.2, inner = -1.1 }}'; this one has "
            f"{len(step) if isinstance(step, dict) else 'no'} keys"
        )
    ((kind, values),) = step.items()
    if kind not in STEP_KEYS:
        near = nearest(kind, STEP_KEYS)
        hint = f"did you mean '{near}'?" if near else f"known are {', '.join(STEP_KEYS)}"
        raise InputError(f"{where}: there is no step '{kind}'; {hint}")
    result = checked(STEP_KEYS[kind], values, f"{where}, {kind}")
    try:
        return step_of_values(kind, result)
    except InputError as error:
        # what single keys allow, but not together
        raise InputError(f"{where}, {error}") from None
    except TypeError:
        step_type = STEP_KINDS[kind]
        missing = [
            entry.name for entry in fields(step_type) if entry.default is MISSING and entry.name not in result
        ]
        raise InputError(
            f"{where}, {kind}: {' and '.join(missing)} missing; 0 where there was none"
        ) from None
