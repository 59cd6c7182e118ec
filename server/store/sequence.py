"""The one counter that numbers what arrives, taken inside the writing transaction."""

from sqlalchemy import text
from sqlmodel import Field, Session, SQLModel


class Counter(SQLModel, table=True):
    """One row a name; `last` is the number given out last."""

    name: str = Field(primary_key=True, max_length=32)
    last: int = 0


def next_number(session: Session, name: str = "feed") -> int:
    """The next number, gapless: an aborted transaction gives its number back."""
    row = session.execute(
        text("UPDATE counter SET last = last + 1 WHERE name = :name RETURNING last"), {"name": name}
    ).one()
    return row[0]
