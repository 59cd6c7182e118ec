"""One table for the entries of finds, sessions and measured tests."""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0003"
down_revision = "0002"
Words = sqlmodel.sql.sqltypes.AutoString


def upgrade() -> None:
    op.create_table(
        "bench_entry",
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
    op.create_index("ix_bench_entry_subject", "bench_entry", ["subject"])
    op.create_index("ix_bench_entry_kind", "bench_entry", ["kind"])
