"""The first bench book: the counter, trial entries and own glasses."""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0001"
down_revision = None
Words = sqlmodel.sql.sqltypes.AutoString


def _counter() -> None:
    counter = op.create_table(
        "counter",
        sa.Column("name", Words(length=32), nullable=False),
        sa.Column("last", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("name"),
    )
    op.bulk_insert(counter, [{"name": "feed", "last": 0}])


def _trial_entry() -> None:
    op.create_table(
        "trial_entry",
        sa.Column("id", Words(length=36), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("kind", Words(length=40), nullable=False),
        sa.Column("subject", Words(length=36), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("device", Words(length=36), nullable=False),
        sa.Column("at_ms", sa.BigInteger(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("digest", Words(length=64), nullable=False),
        sa.Column("received_ms", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("seq"),
    )
    op.create_index("ix_trial_entry_subject", "trial_entry", ["subject"])
    op.create_index("ix_trial_entry_kind", "trial_entry", ["kind"])


def _own_glass() -> None:
    lengths = {"name": 120, "family": 80, "period": 80, "region": 80, "source": 400, "note": 2000, "surface": 20, "replaces": 36}
    op.create_table(
        "own_glass",
        sa.Column("id", Words(length=36), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("at_ms", sa.BigInteger(), nullable=False),
        sa.Column("device", Words(length=36), nullable=False),
        *(sa.Column(name, Words(length=length), nullable=False) for name, length in lengths.items()),
        sa.Column("amounts", sa.Text(), nullable=False),
        sa.Column("digest", Words(length=64), nullable=False),
        sa.Column("received_ms", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("seq"),
    )
    op.create_index("ix_own_glass_name", "own_glass", ["name"])


def upgrade() -> None:
    _counter()
    _trial_entry()
    _own_glass()
