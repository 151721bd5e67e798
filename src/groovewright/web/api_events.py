"""The plain form of every event as a JSON schema, for the API's own description."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields
from typing import Any

from groovewright.job.events import MOUNT_CHECKS, STEP_KINDS
from groovewright.job.keys import SECTION_KEYS
from groovewright.job.records import RECORDS

_PLAIN = {"float": "number", "str": "string", "bool": "boolean", "None": "null"}


def _schema_of(names: Iterable[str], record: type[Any]) -> dict[str, Any]:
    """Return the properties of a record: the types that its fields are written with."""
    written = {field.name: str(field.type) for field in fields(record)}
    return {name: _type(written[name]) for name in names}


def _type(written: str) -> dict[str, Any]:
    if written == "GrooveRange":
        return {"type": "string", "description": "lp, lp-din, lp-jis, 25cm, 17cm or INNER:OUTER in mm"}
    if written.startswith("tuple"):
        return {"type": "array", "items": {"type": "number"}, "maxItems": 50}
    return {"type": [_PLAIN[part.strip()] for part in written.split("|")]}


def _object(properties: dict[str, Any], required: list[str]) -> dict[str, Any]:
    return {"type": "object", "properties": properties, "required": required, "additionalProperties": False}


def event_schema() -> dict[str, Any]:
    """Return the schema of one event: every step, every section described, undo and redo."""
    steps = []
    for kind, step in STEP_KINDS.items():
        properties = _schema_of([field.name for field in fields(step)], step)
        if kind in ("checked", "unchecked"):
            properties = {"what": {"enum": list(MOUNT_CHECKS)}}
        steps.append(_object({"kind": {"const": kind}, **properties}, ["kind"]))
    sections = [
        _object(
            {
                "kind": {"const": "described"},
                "section": {"const": section},
                "record": _object(_schema_of(keys, RECORDS[section]), []),
            },
            ["kind", "section", "record"],
        )
        for section, keys in SECTION_KEYS.items()
    ]
    again = [_object({"kind": {"const": kind}}, ["kind"]) for kind in ("undone", "redone")]
    return {"anyOf": [*steps, *sections, *again]}
