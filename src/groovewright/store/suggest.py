"""Names that came before: customers, decks, arms and cartridges from earlier jobs and the catalogue."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Table, select

from groovewright.job import Described, effective
from groovewright.job.records import Record
from groovewright.quantities import unknown_word
from groovewright.store.catalogue import record_of
from groovewright.store.header import SEEN_FIELDS
from groovewright.store.listing import matching
from groovewright.store.log import read_job
from groovewright.store.opening import Store
from groovewright.store.plain import plain_of
from groovewright.store.tables import catalogue, seen
from groovewright.store.words import folded, words

KINDS = ("customer", "deck", "arm", "cartridge")
"""What names are kept of."""

JOBS_LOOKED_AT = 30
"""Newest jobs with the words of a name that are looked at for exactly that name."""


@dataclass(frozen=True)
class Suggestion:
    """A name that came before, in how many jobs (0: only in the catalogue), and the newest of them."""

    kind: str
    name: str
    jobs: int
    last_job: int | None
    in_catalogue: bool


def suggest(store: Store, kind: str, text: str = "", limit: int = 10) -> tuple[Suggestion, ...]:
    """Return names of a kind with a word that begins like `text`: newest job first, then the catalogue.

    Raises
    ------
    InputError
        The kind is not one of `KINDS`.
    """
    _known(kind)
    begun = folded(text)
    with store.reading() as connection:
        jobs = connection.execute(
            select(seen).where(_alike(seen, kind, begun)).order_by(seen.c.last_job.desc()).limit(limit)
        ).mappings()
        found = {
            row["folded"]: Suggestion(kind, row["name"], row["jobs"], row["last_job"], False) for row in jobs
        }
        own = connection.execute(
            select(catalogue.c.folded, catalogue.c.name)
            .where(_alike(catalogue, kind, begun))
            .order_by(catalogue.c.folded)
            .limit(limit)
        )
        for key, name in own:
            earlier = found.get(key)
            found[key] = Suggestion(
                kind, name, earlier.jobs if earlier else 0, earlier.last_job if earlier else None, True
            )
    return tuple(found.values())[:limit]


def _alike(table: Table, kind: str, begun: str) -> ColumnElement[bool]:
    of_kind: ColumnElement[bool] = table.c.kind == kind
    if not begun:
        return of_kind
    name: ColumnElement[Any] = table.c.folded
    starts = name.startswith(begun, autoescape=True)
    return of_kind & (starts | name.contains(f" {begun}", autoescape=True))


def remembered(store: Store, kind: str, name: str) -> Record | None:
    """Return what was last said about a deck, an arm or a cartridge; None where it never came.

    From the newest job that names it, else from the catalogue. Of a customer nothing but the name is kept.

    Raises
    ------
    InputError
        The kind is not one of `KINDS`.
    """
    _known(kind)
    wanted, key = sorted(words([name])), folded(name)
    if kind == "customer" or not key:
        return None
    fields = [field for field, of_kind in SEEN_FIELDS.items() if of_kind == kind]
    numbers: list[int] = []
    if wanted:
        with store.reading() as connection:
            numbers = matching(connection, wanted, limit=JOBS_LOOKED_AT)
    for number in numbers:
        job = read_job(store, number)
        sections = [field for field in fields if folded(getattr(job.header, field)) == key]
        described = [event for event in effective(job.log) if isinstance(event, Described)]
        for event in reversed(described):
            if event.section in sections:
                return event.record
    return _from_catalogue(store, kind, key)


def _from_catalogue(store: Store, kind: str, key: str) -> Record | None:
    with store.reading() as connection:
        body = connection.execute(
            select(catalogue.c.body).where(catalogue.c.kind == kind, catalogue.c.folded == key)
        ).scalar()
    return None if body is None else record_of(kind, plain_of(body))


def _known(kind: str) -> None:
    if kind not in KINDS:
        raise unknown_word("kind", kind, KINDS)
