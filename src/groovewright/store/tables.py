"""The tables of a record: jobs, their events, the words to find them by, names seen, the catalogue.

The events are the record. Everything in `job` beyond its number, and all of `job_word` and `seen`, is
computed from them, to find things quickly. A change here needs a migration in `migrations/versions`.
"""

from __future__ import annotations

from sqlalchemy import Column, ForeignKey, Index, Integer, MetaData, String, Table, Text

LATEST_VERSION = "0001"
"""The revision of the newest migration: what an opened record has."""

VERSION_TABLE = "record_version"
"""Where a database says which revision it has; its presence marks a database as ours."""

metadata = MetaData()


def key_text() -> String:
    """Return the type of a text that is compared byte by byte, whatever the server's language."""
    return String().with_variant(String(collation="C"), "postgresql")


job = Table(
    "job",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("uid", String(32), nullable=False, unique=True),
    Column("created", String(32), nullable=False),
    Column("changed", key_text(), nullable=False),
    Column("anonymised", String(32)),
    Column("last_sequence", Integer, nullable=False),
    Column("title", Text, nullable=False, default=""),
    Column("customer", Text, nullable=False, default=""),
    Column("deck", Text, nullable=False, default=""),
    Column("arm", Text, nullable=False, default=""),
    Column("cartridge_out", Text, nullable=False, default=""),
    Column("cartridge_in", Text, nullable=False, default=""),
    Column("kept_at", Text, nullable=False, default=""),
    Column("stylus_due", key_text(), nullable=False, default=""),
    Index("job_by_change", "changed", "number"),
    Index("job_by_stylus_due", "stylus_due", "number"),
    sqlite_autoincrement=True,
)
"""One row a job; `changed`, `stylus_due` and the like are ISO 8601 texts, so that they order as they read."""

event = Table(
    "event",
    metadata,
    Column("job_number", ForeignKey("job.number"), primary_key=True),
    Column("sequence", Integer, primary_key=True, autoincrement=False),
    Column("at", String(32), nullable=False),
    Column("bench", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("body", Text, nullable=False),
)
"""One row an event: when, by which bench, and the plain form of `groovewright.job.events` as JSON text."""

job_word = Table(
    "job_word",
    metadata,
    Column("word", key_text(), primary_key=True),
    Column("job_number", ForeignKey("job.number"), primary_key=True),
    Index("job_word_by_job", "job_number", "word"),
    sqlite_with_rowid=False,
)
"""Every word by which a job is found, in the form of `words.folded`."""

seen = Table(
    "seen",
    metadata,
    Column("kind", String(16), primary_key=True),
    Column("folded", key_text(), primary_key=True),
    Column("name", Text, nullable=False),
    Column("jobs", Integer, nullable=False),
    Column("last_job", Integer, nullable=False),
    sqlite_with_rowid=False,
)
"""Every customer, deck, arm and cartridge that a job names, with how many jobs do and the newest of them."""

catalogue = Table(
    "catalogue",
    metadata,
    Column("kind", String(16), primary_key=True),
    Column("folded", key_text(), primary_key=True),
    Column("name", Text, nullable=False),
    Column("imported", String(32), nullable=False),
    Column("source", Text, nullable=False),
    Column("body", Text, nullable=False),
)
"""The user's own catalogue: the values of one deck, arm or cartridge as JSON text."""
