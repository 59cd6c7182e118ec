"""What the start of a test names stands in columns of its own: session, glass, piece."""

import json

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0007"
down_revision = "0006"
LENGTHS = {"session": 36, "glass": 120, "piece": 80}
FIELDS = {"session": "session", "glass": "glass_key", "piece": "piece"}
INDEXED = {"trial_entry": ("session", "glass", "piece"), "bench_entry": ("session",)}


def _fill(name: str, kind: str) -> None:
    """The starts that are here already."""
    connection = op.get_bind()
    table = sa.table(name, *(sa.column(one) for one in ("id", "kind", "body", *LENGTHS)))
    for number, body in connection.execute(sa.select(table.c.id, table.c.body).where(table.c.kind == kind)).all():
        told = json.loads(body)
        values = {column: told.get(field) for column, field in FIELDS.items()}
        connection.execute(sa.update(table).where(table.c.id == number).values(**values))


def upgrade() -> None:
    for name, kind in (("trial_entry", "trial.started"), ("bench_entry", "measure.started")):
        for column, length in LENGTHS.items():
            op.add_column(name, sa.Column(column, sqlmodel.sql.sqltypes.AutoString(length=length), nullable=True))
        _fill(name, kind)
        for column in INDEXED[name]:
            op.create_index(f"ix_{name}_{column}", name, [column, "seq"])
