"""The user's own catalogue of decks, arms and cartridges, read from CSV with a report of what was refused."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from groovewright.job.checks import Check
from groovewright.job.keys import SECTION_KEYS
from groovewright.job.records import RECORDS, Record
from groovewright.quantities import InputError, nearest, unknown_word
from groovewright.store.opening import Store
from groovewright.store.plain import json_text
from groovewright.store.tables import catalogue
from groovewright.store.words import folded

SECTIONS = {"deck": "deck", "arm": "arm", "cartridge": "cartridge_in"}
"""What a line may be about (its column `what`), and the section whose keys it may have."""

LARGEST_CATALOGUE = 20_000_000
"""Bytes of a CSV file."""

DELIMITERS = (",", ";", "\t")


@dataclass(frozen=True)
class Refused:
    """A line that was not taken: its number in the file, the name that it gives, and why."""

    line: int
    name: str
    why: str


@dataclass(frozen=True)
class CatalogueReport:
    """What became of a CSV file: how many entries are new, put in place of older ones, the same as before."""

    added: int
    replaced: int
    unchanged: int
    refused: tuple[Refused, ...]


@dataclass(frozen=True)
class Entry:
    """One deck, arm or cartridge of a catalogue."""

    line: int
    kind: str
    name: str
    values: Mapping[str, Any]


def import_catalogue(store: Store, content: bytes, name: str) -> CatalogueReport:
    """Take the lines of a CSV file into the catalogue, all that are right in one transaction.

    Raises
    ------
    InputError
        The file as a whole can't be used: empty, not text, too large, a column that is not known.
    """
    entries, refused = read_catalogue(content, name)
    counts = {"added": 0, "replaced": 0, "unchanged": 0}
    now = store.time()
    with store.writing() as connection:
        for entry in entries:
            counts[_keep(connection, entry, name, now)] += 1
    return CatalogueReport(**counts, refused=tuple(refused))


def _keep(connection: Connection, entry: Entry, source: str, now: str) -> str:
    row = {"kind": entry.kind, "folded": folded(entry.name), "name": entry.name}
    body = json_text(entry.values)
    same = (catalogue.c.kind == row["kind"], catalogue.c.folded == row["folded"])
    before = connection.execute(select(catalogue.c.body).where(*same)).scalar()
    if before == body:
        return "unchanged"
    connection.execute(delete(catalogue).where(*same))
    connection.execute(insert(catalogue).values(**row, imported=now, source=source, body=body))
    return "added" if before is None else "replaced"


def read_catalogue(content: bytes, name: str) -> tuple[list[Entry], list[Refused]]:
    """Return the entries of a CSV file, and the lines that were refused. Errors as `import_catalogue`."""
    reader, delimiter = _reader(content, name)
    entries: dict[tuple[str, str], Entry] = {}
    refused: list[Refused] = []
    for line, cells in _rows(reader, name):
        given = cells.get("name", "")
        try:
            entry = _entry(line, cells, decimal_comma=delimiter == ";")
            earlier = entries.get((entry.kind, folded(entry.name)))
            if earlier is not None:
                raise InputError(f"'{entry.name}' stands in line {earlier.line} already")
            entries[entry.kind, folded(entry.name)] = entry
        except InputError as error:
            refused.append(Refused(line, given, str(error)))
    return list(entries.values()), refused


def _reader(content: bytes, name: str) -> tuple[csv.DictReader[str], str]:
    if len(content) > LARGEST_CATALOGUE:
        raise InputError(f"{name} has {len(content):,} bytes; a catalogue has at most {LARGEST_CATALOGUE:,}")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            f"{name} is not text (byte {error.start} is not UTF-8); save it as CSV in UTF-8"
        ) from None
    heading = text.lstrip().partition("\n")[0]
    if not heading.strip():
        raise InputError(f"{name} is empty; its first line names the columns: what,name,...")
    delimiter = max(DELIMITERS, key=heading.count)
    reader = csv.DictReader(io.StringIO(text, newline=""), delimiter=delimiter, restkey="too many cells")
    known = {"what", *(key for section in SECTIONS.values() for key in SECTION_KEYS[section])}
    columns = [(column or "").strip() for column in reader.fieldnames or ()]
    for column in columns:
        if column not in known:
            near = nearest(column, known) if column else None
            hint = f"; did you mean '{near}'?" if near else f"; known are {', '.join(sorted(known))}"
            raise InputError(f"{name}: there is no column '{column}'{hint}")
    missing = [column for column in ("what", "name") if column not in columns]
    if missing or len(set(columns)) < len(columns):
        fault = f"the column '{missing[0]}' is missing" if missing else "a column stands there twice"
        raise InputError(f"{name}: {fault}; the first line names the columns: what,name,...")
    reader.fieldnames = columns
    return reader, delimiter


def _rows(reader: csv.DictReader[str], name: str) -> Iterator[tuple[int, dict[str, str]]]:
    try:
        for cells in reader:
            clean = {
                column: value.strip() if isinstance(value, str) else str(value or "")
                for column, value in cells.items()
            }
            if any(clean.values()):
                yield reader.line_num, clean
    except csv.Error as error:
        raise InputError(f"{name}, line {reader.line_num}: {error}") from None


def _entry(line: int, cells: dict[str, str], *, decimal_comma: bool) -> Entry:
    kind = cells.pop("what")
    if kind not in SECTIONS:
        raise unknown_word("what", kind, SECTIONS)
    if "too many cells" in cells:
        raise InputError("the line has more cells than the first line names columns")
    keys = SECTION_KEYS[SECTIONS[kind]]
    values = {}
    for key, cell in cells.items():
        if cell and key not in keys:
            raise InputError(f"a {kind} has no '{key}'")
        if cell:
            values[key] = _value(keys[key], cell, key, decimal_comma=decimal_comma)
    if not folded(cells["name"]):
        raise InputError("the name is missing")
    record_of(kind, values)
    return Entry(line, kind, values["name"], values)


def _value(check: Check, cell: str, key: str, *, decimal_comma: bool) -> Any:
    """Return the checked value of a cell: as a number, as a text, or as a list of numbers, what fits first."""
    reasons = []
    for value in _readings(cell.replace(",", ".") if decimal_comma else cell, cell):
        try:
            return check(value, key)
        except InputError as error:
            reasons.append(error)
    raise reasons[0]


def _readings(number: str, cell: str) -> list[Any]:
    parts = number.split()
    try:
        numbers = [float(part) for part in parts]
    except ValueError:
        return [cell]
    return [numbers[0], cell, numbers] if len(parts) == 1 else [numbers, cell]


def record_of(kind: str, values: Mapping[str, Any]) -> Record:
    """Return the record of a catalogue entry.

    Raises
    ------
    InputError
        Values don't go together.
    """
    exact = {key: tuple(value) if isinstance(value, list) else value for key, value in values.items()}
    kind_of_record: Callable[..., Record] = RECORDS[SECTIONS[kind]]
    return kind_of_record(**exact)
