"""The other machines that this one exchanges with."""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0006"
down_revision = "0005"
Words = sqlmodel.sql.sqltypes.AutoString


def upgrade() -> None:
    op.create_table(
        "peer",
        sa.Column("id", Words(length=36), nullable=False),
        sa.Column("address", Words(length=300), nullable=False),
        sa.Column("name", Words(length=120), nullable=False),
        sa.Column("token", Words(length=200), nullable=False),
        sa.Column("trust", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("last_ms", sa.BigInteger(), nullable=False),
        sa.Column("last_told", Words(length=600), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("address"),
    )
