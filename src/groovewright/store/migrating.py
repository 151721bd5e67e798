"""Bringing a record up to date with Alembic: everything in one transaction, one bench at a time."""

from __future__ import annotations

from importlib import resources

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, text

from groovewright.quantities import CannotBeDoneError
from groovewright.store.tables import LATEST_VERSION

ADVISORY_LOCK = 0x67726F6F
"""The number of PostgreSQL's lock that keeps two benches from migrating at once."""


def config(connection: Connection | None = None) -> Config:
    """Return Alembic's settings: the migrations of this package, on an open connection."""
    settings = Config()
    settings.set_main_option("script_location", str(resources.files("groovewright.store") / "migrations"))
    settings.set_main_option("path_separator", "os")
    settings.attributes["connection"] = connection
    return settings


def revisions() -> tuple[str, ...]:
    """Return all revisions that this program knows, oldest first."""
    scripts = ScriptDirectory.from_config(config()).walk_revisions()
    return tuple(script.revision for script in scripts)[::-1]


def upgrade(engine: Engine, place: str) -> None:
    """Bring the record to the newest revision; what another bench did meanwhile counts.

    Raises
    ------
    CannotBeDoneError
        The record's revision is not known: a newer program made it.
    """
    from groovewright.store.opening import version_of

    with engine.connect() as connection:
        connection.execution_options(writes=True)
        with connection.begin():
            if engine.dialect.name == "postgresql":
                connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": ADVISORY_LOCK})
            revision = version_of(connection)
            if revision is not None and revision not in revisions():
                raise CannotBeDoneError(
                    f"the record {place} was made by a newer groovewright (version {revision}, this one "
                    f"knows up to {LATEST_VERSION}); update groovewright. Nothing was changed"
                )
            if revision != LATEST_VERSION:
                command.upgrade(config(connection), "head")
