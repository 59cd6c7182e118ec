"""Passes of devices, one-time invitations, and wrong codes that were tried."""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0005"
down_revision = "0004"
Words = sqlmodel.sql.sqltypes.AutoString


def upgrade() -> None:
    op.create_table(
        "device_pass",
        sa.Column("id", Words(length=36), nullable=False),
        sa.Column("name", Words(length=80), nullable=False),
        sa.Column("kind", Words(length=10), nullable=False),
        sa.Column("role", Words(length=10), nullable=False),
        sa.Column("seal", Words(length=64), nullable=False),
        sa.Column("made_ms", sa.BigInteger(), nullable=False),
        sa.Column("seen_ms", sa.BigInteger(), nullable=False),
        sa.Column("revoked_ms", sa.BigInteger(), nullable=True),
        sa.Column("agent", Words(length=200), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("seal"),
    )
    op.create_table(
        "invite",
        sa.Column("id", Words(length=36), nullable=False),
        sa.Column("seal", Words(length=64), nullable=False),
        sa.Column("role", Words(length=10), nullable=False),
        sa.Column("until_ms", sa.BigInteger(), nullable=False),
        sa.Column("used_ms", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("seal"),
    )
    op.create_table(
        "join_miss",
        sa.Column("id", Words(length=36), nullable=False),
        sa.Column("at_ms", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("ix_join_miss_at_ms", "join_miss", ["at_ms"])
