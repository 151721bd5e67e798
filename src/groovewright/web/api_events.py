"""The plain form of every event as a JSON schema, for the API's own description."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields
from typing import Any

from groovewright.audio import NUMBER_KEYS, WORD_KEYS, Channel
from groovewright.job.events import MOUNT_CHECKS, STEP_KINDS
from groovewright.job.heard import CURVE_SERIES, MOST_POINTS, CrosstalkHeard, LadderHeard
from groovewright.job.heard_keys import LONGEST_LIST, MOST_ENTRIES, WORDS
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


def _listened() -> dict[str, Any]:
    """Return the schema of what a recording's findings hold; docs/job.md says what it means."""
    number, word = {"type": "number"}, {"type": "string", "maxLength": 500}
    series = {"type": "array", "items": number, "maxItems": MOST_POINTS}
    keys = (*WORD_KEYS, *NUMBER_KEYS)
    findings = {key: {"enum": list(words)} for key, words in WORDS.items()}
    curves = [
        _object(
            {"kind": {"const": kind}, "band": word, "channel": word, **dict.fromkeys(names, series)},
            ["kind", names[0]],
        )
        for kind, names in CURVE_SERIES.items()
    ]
    rungs = {field.name: _type(str(field.type)) for field in fields(LadderHeard)}
    rungs |= {"bands": _array(word), "channel": {"enum": [channel.value for channel in Channel]}}
    return {
        "bands_from": {"enum": ["list", "found"]},
        "band_list": {"type": "string", "maxLength": LONGEST_LIST},
        "findings": _object(findings | {key: _sd_or(number, key) for key in _numbers()}, []),
        "measured_in": _object({key: _array(word) for key in keys}, []),
        "notes": _object(dict.fromkeys(keys, word), []),
        "withheld": _object(dict.fromkeys(keys, word), []),
        "warnings": _array(word),
        "crosstalk": _array(_points(number)),
        "tracking_ability": _array(_object(rungs, ["frequency_hz", "channel", "bands", "levels_cm_per_s"])),
        "curves": _array({"anyOf": curves}),
    }


def _numbers() -> tuple[str, ...]:
    return (*NUMBER_KEYS, *(f"{key}_sd" for key in NUMBER_KEYS))


def _sd_or(number: dict[str, Any], key: str) -> dict[str, Any]:
    return {**number, "minimum": 0} if key.endswith("_sd") else number


def _points(number: dict[str, Any]) -> dict[str, Any]:
    names = [field.name for field in fields(CrosstalkHeard)]
    return _object({name: _sd_or(number, name) for name in names}, names)


def _array(items: dict[str, Any]) -> dict[str, Any]:
    return {"type": "array", "items": items, "maxItems": MOST_ENTRIES}


def event_schema() -> dict[str, Any]:
    """Return the schema of one event: every step, every section described, undo and redo."""
    steps = []
    for kind, step in STEP_KINDS.items():
        properties = _schema_of([field.name for field in fields(step)], step)
        if kind in ("checked", "unchecked"):
            properties = {"what": {"enum": list(MOUNT_CHECKS)}}
        if kind == "listened":
            properties |= _listened()
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
