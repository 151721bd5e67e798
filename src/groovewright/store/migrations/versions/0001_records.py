"""Jobs, their events, the words to find them by, names seen, the catalogue."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision: str | None = None
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Make the tables of the first version."""
    key = sa.String().with_variant(sa.String(collation="C"), "postgresql")
    op.create_table(
        "job",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("uid", sa.String(32), nullable=False, unique=True),
        sa.Column("created", sa.String(32), nullable=False),
        sa.Column("changed", key, nullable=False),
        sa.Column("anonymised", sa.String(32)),
        sa.Column("last_sequence", sa.Integer, nullable=False),
        *(
            sa.Column(name, sa.Text, nullable=False)
            for name in ("title", "customer", "deck", "arm", "cartridge_out", "cartridge_in", "kept_at")
        ),
        sa.Column("stylus_due", key, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("job_by_change", "job", ["changed", "number"])
    op.create_index("job_by_stylus_due", "job", ["stylus_due", "number"])
    op.create_table(
        "event",
        sa.Column("job_number", sa.Integer, sa.ForeignKey("job.number"), primary_key=True),
        sa.Column("sequence", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("bench", sa.Text, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
    )
    op.create_table(
        "job_word",
        sa.Column("word", key, primary_key=True),
        sa.Column("job_number", sa.Integer, sa.ForeignKey("job.number"), primary_key=True),
        sqlite_with_rowid=False,
    )
    op.create_index("job_word_by_job", "job_word", ["job_number", "word"])
    op.create_table(
        "seen",
        sa.Column("kind", sa.String(16), primary_key=True),
        sa.Column("folded", key, primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("jobs", sa.Integer, nullable=False),
        sa.Column("last_job", sa.Integer, nullable=False),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "catalogue",
        sa.Column("kind", sa.String(16), primary_key=True),
        sa.Column("folded", key, primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("imported", sa.String(32), nullable=False),
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
    )
