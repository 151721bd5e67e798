"""The versioned JSON form of a record, written out whole. See docs/records.md."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, select

from groovewright.store.log import job_row
from groovewright.store.opening import Store
from groovewright.store.plain import plain_of
from groovewright.store.tables import catalogue as catalogue_table
from groovewright.store.tables import event as event_table
from groovewright.store.tables import job as job_table

FORMAT = "groovewright-record"
FORMAT_VERSION = 1


def export_text(store: Store, jobs: Sequence[int] | None = None) -> Iterator[str]:
    """Yield the parts of the JSON text of some jobs, or of everything with the catalogue.

    One job stands on a line. The same record always gives the same text.

    Raises
    ------
    InputError
        One of the jobs is not there.
    """
    with store.reading() as connection:
        yield f'{{"format": "{FORMAT}", "version": {FORMAT_VERSION},\n"jobs": ['
        every = select(job_table.c.number).order_by(job_table.c.number)
        numbers = [row[0] for row in connection.execute(every)] if jobs is None else jobs
        for place, number in enumerate(numbers):
            yield (",\n" if place else "\n") + _dumped(_exported_job(connection, number))
        yield '\n],\n"catalogue": ['
        entries = _exported_catalogue(connection) if jobs is None else []
        for place, entry in enumerate(entries):
            yield (",\n" if place else "\n") + _dumped(entry)
        yield "\n]}\n"


def _dumped(value: Mapping[str, Any]) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _exported_job(connection: Connection, number: int) -> dict[str, Any]:
    row = job_row(connection, number)
    events = connection.execute(
        select(event_table).where(event_table.c.job_number == number).order_by(event_table.c.sequence)
    ).mappings()
    return {
        "uid": row["uid"],
        "number": row["number"],
        "created": row["created"],
        "changed": row["changed"],
        "anonymised": row["anonymised"],
        "events": [
            {
                "sequence": kept["sequence"],
                "at": kept["at"],
                "bench": kept["bench"],
                "version": kept["version"],
                "event": plain_of(kept["body"]),
            }
            for kept in events
        ],
    }


def _exported_catalogue(connection: Connection) -> list[dict[str, Any]]:
    order = (catalogue_table.c.kind, catalogue_table.c.folded)
    return [
        {
            "kind": row["kind"],
            "imported": row["imported"],
            "source": row["source"],
            "values": plain_of(row["body"]),
        }
        for row in connection.execute(select(catalogue_table).order_by(*order)).mappings()
    ]
