"""The number of the entry that an own glass came in, so that it can be handed on as it was made; unknown of those taken in before."""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    op.add_column("own_glass", sa.Column("entry", sqlmodel.sql.sqltypes.AutoString(length=36), nullable=True))
