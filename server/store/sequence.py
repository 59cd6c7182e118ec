"""The one counter that numbers what arrives, taken inside the writing transaction."""

from sqlalchemy import text
from sqlmodel import Field, Session, SQLModel


class Counter(SQLModel, table=True):
    """One row a name; `last` is the number given out last."""

    name: str = Field(primary_key=True, max_length=32)
    last: int = 0


def next_numbers(session: Session, count: int, name: str = "feed") -> int:
    """The first of so many next numbers, gapless: an aborted transaction gives them back."""
    row = session.execute(
        text("UPDATE counter SET last = last + :count WHERE name = :name RETURNING last"), {"name": name, "count": count}
    ).one()
    return row[0] - count + 1


def next_number(session: Session, name: str = "feed") -> int:
    """The next number."""
    return next_numbers(session, 1, name)
