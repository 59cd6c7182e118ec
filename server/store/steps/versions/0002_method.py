"""Own glasses from tables: how they were measured, and of how many analyses."""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.add_column("own_glass", sa.Column("method", sqlmodel.sql.sqltypes.AutoString(length=24), nullable=False, server_default="not stated"))
    op.add_column("own_glass", sa.Column("n", sa.Integer(), nullable=True))
