"""What a list shows of a job and a search finds it by: computed from its events, kept beside them."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from sqlalchemy import ColumnElement, Connection, Insert, delete, insert, update
from sqlalchemy.dialects import postgresql, sqlite

from groovewright.job import Described, Event, Log, Redone, Undone, effective
from groovewright.job.kept import Kept
from groovewright.job.records import Arm, Cartridge, Deck, Job, Record
from groovewright.job.wear import Play, look_on, usual_life
from groovewright.store.tables import job, job_word, seen
from groovewright.store.words import folded, words


@dataclass(frozen=True)
class Header:
    """What is known of a job at a glance; empty texts where nothing was said.

    `kept_at` is where the cartridge that came off lies; `stylus_due` the day (year-month-day) on which the
    stylus that went in should be looked at.
    """

    title: str = ""
    customer: str = ""
    deck: str = ""
    arm: str = ""
    cartridge_out: str = ""
    cartridge_in: str = ""
    kept_at: str = ""
    stylus_due: str = ""


SEEN_FIELDS = {
    "customer": "customer",
    "deck": "deck",
    "arm": "arm",
    "cartridge_out": "cartridge",
    "cartridge_in": "cartridge",
}
"""The fields of a header that name something which comes again, and what kind it is."""

FOUND_BY = ("title", *SEEN_FIELDS)
"""The fields whose words find a job."""


def may_change_header(event: Event) -> bool:
    """Return whether an event can change what a header says."""
    return isinstance(event, Described | Undone | Redone)


def header_of(log: Log) -> Header:
    """Return the header of a job's events."""
    said: dict[str, Record] = {
        event.section: event.record for event in effective(log) if isinstance(event, Described)
    }
    about, deck, arm = said.get("job"), said.get("deck"), said.get("arm")
    out, going_in, kept = said.get("cartridge_out"), said.get("cartridge_in"), said.get("kept")
    return Header(
        title=_line(about.title) if isinstance(about, Job) else "",
        customer=_line(about.owner) if isinstance(about, Job) else "",
        deck=_line(deck.name) if isinstance(deck, Deck) else "",
        arm=_line(arm.name) if isinstance(arm, Arm) else "",
        cartridge_out=_line(out.name) if isinstance(out, Cartridge) else "",
        cartridge_in=_line(going_in.name) if isinstance(going_in, Cartridge) else "",
        kept_at=_line(kept.place) if isinstance(kept, Kept) else "",
        stylus_due=_stylus_due(going_in, said.get("play")),
    )


def _line(text: str) -> str:
    """Return a text as one line without control characters, which not every database takes."""
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())


def _stylus_due(cartridge: Record | None, play: Record | None) -> str:
    if not isinstance(cartridge, Cartridge) or not isinstance(play, Play):
        return ""
    life = usual_life(cartridge.stylus)
    day = look_on(play, life) if life else None
    return day.isoformat() if day else ""


def header_words(header: Header) -> frozenset[str]:
    """Return the words by which a job is found."""
    return words(getattr(header, field) for field in FOUND_BY)


def keep_header(connection: Connection, number: int, old: Header, new: Header) -> None:
    """Write what changed from one header of a job to the next, with its words and the names seen."""
    if new == old:
        return
    connection.execute(update(job).where(job.c.number == number).values(**asdict(new)))
    before, after = header_words(old), header_words(new)
    if before - after:
        gone = job_word.c.word.in_(sorted(before - after))
        connection.execute(delete(job_word).where(job_word.c.job_number == number, gone))
    if after - before:
        rows = [{"word": word, "job_number": number} for word in sorted(after - before)]
        connection.execute(insert(job_word), rows)
    count_names(connection, number, header_names(old), header_names(new))


def header_names(header: Header) -> dict[tuple[str, str], str]:
    """Return the names of a header by kind and folded name."""
    named = ((kind, getattr(header, field)) for field, kind in SEEN_FIELDS.items())
    return {(kind, folded(name)): name for kind, name in named if folded(name)}


def count_names(
    connection: Connection,
    number: int,
    old: dict[tuple[str, str], str],
    new: dict[tuple[str, str], str],
) -> None:
    """Count a job for the names that it has now and no longer for those it had.

    In the order of the keys, so that two benches never wait for each other in a circle.
    """
    for key in sorted({*old, *new}):
        if key in new and key not in old:
            connection.execute(_one_more(connection, key, new[key], number))
        elif key in new and new[key] != old[key]:
            connection.execute(update(seen).where(*_is(key)).values(name=new[key], last_job=number))
        elif key not in new:
            connection.execute(update(seen).where(*_is(key)).values(jobs=seen.c.jobs - 1))
            connection.execute(delete(seen).where(*_is(key), seen.c.jobs <= 0))


def _is(key: tuple[str, str]) -> tuple[ColumnElement[bool], ColumnElement[bool]]:
    return (seen.c.kind == key[0], seen.c.folded == key[1])


def _one_more(connection: Connection, key: tuple[str, str], name: str, number: int) -> Insert:
    values = {"kind": key[0], "folded": key[1], "name": name, "jobs": 1, "last_job": number}
    again = {"name": name, "jobs": seen.c.jobs + 1, "last_job": number}
    if connection.dialect.name == "postgresql":
        return postgresql.insert(seen).values(values).on_conflict_do_update(index_elements=KEY, set_=again)
    return sqlite.insert(seen).values(values).on_conflict_do_update(index_elements=KEY, set_=again)


KEY = ("kind", "folded")
"""What makes a name seen the same name."""
