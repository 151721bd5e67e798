"""A step as the lines of a job file, to be added at its end."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from groovewright.job.document import log_from_toml
from groovewright.job.events import Step, to_plain
from groovewright.job.heard import Listened, plain_of_listened
from groovewright.quantities import InputError


def step_toml(event: Step) -> str:
    """Return the step as TOML text that `log_from_toml` reads back to the same event."""
    if isinstance(event, Listened):
        return _listened(event)
    plain = to_plain(event)
    kind = plain.pop("kind")
    usual = {field.name: field.default for field in fields(event)}
    said = {key: value for key, value in plain.items() if value is not None and value != usual[key]}
    return f"[[step]]\n{kind} = {_value(said)}\n"


def _listened(event: Listened) -> str:
    plain = plain_of_listened(event)
    lines = ["[[step]]", "[step.listened]"]
    for key, value in plain.items():
        if key == "band_list" and value:
            lines.append(f"{key} = {_long_text(value)}")
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            lines += [f"{key} = [", *(f"  {_value(entry)}," for entry in value), "]"]
        elif value not in ("", [], {}):
            lines.append(f"{key} = {_value(value)}")
    return "\n".join(lines) + "\n"


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float | int):
        short = f"{value:g}"
        return short if float(short) == value else repr(float(value))
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, Mapping):
        inner = ", ".join(f"{key} = {_value(entry)}" for key, entry in value.items() if entry is not None)
        return f"{{ {inner} }}" if inner else "{}"
    return f"[{', '.join(_value(entry) for entry in value)}]"


def _text(value: str) -> str:
    # JSON's escapes are TOML's too, but for the delete character
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _long_text(value: str) -> str:
    """Return a text whose lines stay lines where TOML can hold it as it is."""
    plain = all(letter.isprintable() or letter == "\n" for letter in value)
    return f"'''\n{value}'''" if plain and "'''" not in value and not value.endswith("'") else _text(value)


def with_step(content: bytes, name: str, event: Step) -> bytes:
    """Return a job file with the step added at its end; everything in it stays as it was written.

    Raises
    ------
    InputError
        The file is not a job file, or writes its steps in a way that nothing can be added to.
    """
    before = log_from_toml(content, name)
    end = "" if content.endswith(b"\n") else "\n"
    added = content + f"{end}\n{step_toml(event)}".encode()
    try:
        after = log_from_toml(added, name)
    except InputError:
        after = ()
    if after != (*before, event):
        raise InputError(f"{name}: nothing can be added to its steps; write each under its own [[step]]")
    return added
