"""An own glass may say what it was made of."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    op.add_column("own_glass", sa.Column("made", sa.Text(), nullable=True))
