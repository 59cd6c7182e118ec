"""Everything that has arrived, in the order of arrival, a page at a time: what another machine reads to have it too. Bounded work whatever the size of the book.

A mark names one place in that order by what stands there: number, entry, and when it was received. A book that was set back to an older copy, or another book at
the same address, does not know the mark any more, even where its numbers have grown past it: an entry that came again came at another moment.
"""

import json
from collections.abc import Iterator

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session, func, or_, select

from server.errors import Differs
from server.glass import own
from server.glass.own import OwnGlass
from server.store.log import BenchEntry, Stored
from server.trial.entry import TrialEntry

TABLES = (TrialEntry, BenchEntry, OwnGlass)  # all numbered by the one counter
MOST_ENTRIES, MOST_BYTES = 500, 700_000
LARGEST = 2**31 - 1  # number of arrival, as PostgreSQL's INTEGER takes it
AT_ONCE = 5000  # numbers in one question
GLASS_BYTES = 4000  # an own glass, about


class Mark(BaseModel):
    """A place in the order of arrival; seq 0 is before everything."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    seq: int = Field(default=0, ge=0, le=LARGEST)
    id: str = Field(default="", max_length=64)
    received_ms: int = Field(default=0, ge=0, le=2**53)


START = Mark()


def _number_of(row) -> str:
    return (row.entry or row.id) if isinstance(row, OwnGlass) else row.id


def head(session: Session) -> Mark:
    """The entry that arrived last; START in an empty book."""
    last = [session.exec(select(table).order_by(table.seq.desc()).limit(1)).first() for table in TABLES]
    return max((Mark(seq=row.seq, id=_number_of(row), received_ms=row.received_ms) for row in last if row), key=lambda mark: mark.seq, default=START)


def knows(session: Session, mark: Mark) -> bool:
    """Whether this book has been at that mark: then it holds everything that it held there."""
    if mark.seq == 0:
        return True
    found = (session.exec(select(table).where(table.seq == mark.seq)).first() for table in TABLES)
    row = next((one for one in found if one), None)
    return row is not None and (_number_of(row), row.received_ms) == (mark.id, mark.received_ms)


def _sizes(session: Session, after: int, until: int, limit: int) -> list[tuple[int, int]]:
    """(seq, about how many bytes) of the next entries, in order."""
    found: list[tuple[int, int]] = []
    for table in TABLES:
        size = GLASS_BYTES if table is OwnGlass else func.length(table.body)
        found += session.exec(select(table.seq, size).where(table.seq > after, table.seq <= until).order_by(table.seq).limit(limit)).all()
    return sorted(found)[:limit]


def _end(sizes: list[tuple[int, int]], most_bytes: int) -> int:
    """The number up to which a page goes: at least one entry, and no more bytes than this."""
    total = 0
    for place, (_seq, size) in enumerate(sizes):
        total += size
        if total > most_bytes and place:
            return sizes[place - 1][0]
    return sizes[-1][0]


def _as_json(row: Stored | OwnGlass) -> str:
    """The entry as JSON text on the wire; a body that is stored as JSON is handed on as it stands."""
    if isinstance(row, OwnGlass):
        return json.dumps(own.as_wire(row), ensure_ascii=False)
    told = {name: getattr(row, name) for name in ("id", "kind", "subject", "n", "device", "at_ms")}
    return f'{json.dumps(told)[:-1]}, "body": {row.body}}}'


def page(session: Session, after: Mark = START, until: int = LARGEST, most_entries: int = MOST_ENTRIES, most_bytes: int = MOST_BYTES) -> tuple[list[str], Mark, bool]:
    """(entries as JSON text, mark of the last of them, whether more follow). `until`: number of the last entry wanted. Raises Differs (`unknown_mark`) where the book was set back."""
    if not knows(session, after):
        raise Differs("This bench book is not the one it was: it was set back to an older copy, or is another one. Begin from its start.", code="unknown_mark")
    sizes = _sizes(session, after.seq, until, most_entries + 1)
    if not sizes:
        return [], after, False
    end = _end(sizes[:most_entries], most_bytes)
    rows = [row for table in TABLES for row in session.exec(select(table).where(table.seq > after.seq, table.seq <= end))]
    rows.sort(key=lambda row: row.seq)
    last = rows[-1]
    made = [_as_json(row) for row in rows], Mark(seq=last.seq, id=_number_of(last), received_ms=last.received_ms), sizes[-1][0] > end
    session.expunge_all()
    return made


def every_page(session: Session, after: Mark = START, **bounds) -> Iterator[tuple[list[str], Mark]]:
    """All pages after a mark."""
    more = True
    while more:
        entries, after, more = page(session, after, **bounds)
        if entries:
            yield entries, after


def named(session: Session, numbers: list[str]) -> list[str]:
    """These entries as JSON texts, by number of arrival; those that are not here are left out."""
    rows = []
    for table in TABLES:
        key = (table.id, table.entry) if table is OwnGlass else (table.id,)
        for start in range(0, len(numbers), AT_ONCE):
            rows += session.exec(select(table).where(or_(*(column.in_(numbers[start : start + AT_ONCE]) for column in key)))).all()
    return [_as_json(row) for row in sorted(rows, key=lambda row: row.seq)]
