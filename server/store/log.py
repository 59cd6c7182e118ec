"""Immutable entries as they are stored: each kind is taken in, and read again, by the domain that knows it. Never commits.

Trials have a table of their own, the other domains share one.
"""

import json
from dataclasses import dataclass
from functools import cache
from typing import Annotated, NamedTuple

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, TypeAdapter, ValidationError
from sqlalchemy import BigInteger, Index, Text, func, insert
from sqlalchemy.engine import Compiled, Dialect
from sqlmodel import Field as Column
from sqlmodel import Session, SQLModel, select

from server.errors import Differs, Refused
from server.store import once
from server.store.json import in_byte_order
from server.store.kinds import of_words
from server.store.sequence import next_numbers

LATEST_MS = 32_503_680_000_000  # the year 3000
AT_ONCE = 5000  # numbers in one question; SQLite takes 32,766 parameters
UUID = r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"
UUID7 = r"^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$"
Id = Annotated[str, StringConstraints(pattern=UUID)]
Id7 = Annotated[str, StringConstraints(pattern=UUID7)]


def line(longest: int, shortest: int = 0):
    """The type of a line of text without control characters; one that must not be empty holds more than blanks."""
    pattern = r"^[^\x00-\x1f\x7f-\x9f]*[^\x00-\x20\x7f-\x9f][^\x00-\x1f\x7f-\x9f]*$" if shortest else r"^[^\x00-\x1f\x7f-\x9f]*$"
    return Annotated[str, StringConstraints(min_length=shortest, max_length=longest, pattern=pattern)]


class Strict(BaseModel):
    """No type is guessed, no field is passed over, no infinity or NaN."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False, frozen=True)


class Envelope(Strict):
    """What every entry carries; each kind adds `kind` and `body`."""

    id: Id7
    subject: Id
    n: int = Field(ge=0, le=100_000)
    device: Id
    at_ms: int = Field(ge=0, le=LATEST_MS)


class Stored(SQLModel):
    """One stored entry; `body` is canonical JSON, `seq` its place in the order of arrival.

    `session`, `glass` and `piece`: what the start of a test names, beside its body, so that the desk finds it without reading every body.
    """

    id: str = Column(primary_key=True, max_length=36)
    seq: int = Column(unique=True)
    kind: str = Column(max_length=40, index=True)
    subject: str = Column(max_length=36, index=True)
    n: int
    device: str = Column(max_length=36)
    at_ms: int = Column(sa_type=BigInteger)
    body: str = Column(sa_type=Text)
    digest: str = Column(max_length=64)
    received_ms: int = Column(sa_type=BigInteger)
    session: str | None = Column(default=None, max_length=36)
    glass: str | None = Column(default=None, max_length=120)
    piece: str | None = Column(default=None, max_length=80)


NAMED = {"session": "session", "glass": "glass_key", "piece": "piece"}  # column -> field of the body of a start


class BenchEntry(Stored, table=True):
    """An entry of the domains that share a table."""

    __tablename__ = "bench_entry"
    __table_args__ = (Index("ix_bench_entry_session", "session", "seq"),)


def reason_of(error: ValidationError) -> str:
    """The first thing wrong with an entry, in words; never echoes what was sent. The kind, which pydantic names as a part of the place, is left out."""
    first = error.errors(include_url=False, include_context=False, include_input=False)[0]
    place = ".".join(str(part) for part in first["loc"] if "." not in str(part))
    return f"{place}: {first['msg']}" if place else first["msg"]


def typed(kinds: TypeAdapter, raw_entry: dict) -> Envelope:
    """The typed entry. Raises Refused with the reason."""
    try:
        return kinds.validate_python(raw_entry)
    except ValidationError as error:
        raise Refused(f"This entry cannot be taken: {reason_of(error)}.", code="invalid_entry") from error


def named(kind: str, body: dict) -> dict[str, str | None]:
    """What the start of a test names; nothing for any other entry."""
    return {column: body.get(name) if kind.endswith(".started") else None for column, name in NAMED.items()}


@dataclass(frozen=True)
class Ready:
    """A checked entry as a row of its table, but for its number."""

    table: type[Stored]
    row: dict


def ready(kinds: TypeAdapter, raw_entry: dict, row_class: type[Stored] = BenchEntry) -> Ready:
    """An entry of a domain's kinds, checked. Raises Refused with the reason."""
    entry = typed(kinds, raw_entry)
    told = entry.model_dump(mode="json")
    body, seal = once.text_and_seal(told)
    return Ready(row_class, {**told, **named(told["kind"], told["body"]), "body": body, "digest": seal})


def _seals(session: Session, entries: list[Ready]) -> dict[tuple[type[Stored], str], str]:
    """Seals of those that are stored already, by table and id."""
    found = {}
    for table in {one.table for one in entries}:
        wanted = [one.row["id"] for one in entries if one.table is table]
        for start in range(0, len(wanted), AT_ONCE):
            rows = session.exec(select(table.id, table.digest).where(table.id.in_(wanted[start : start + AT_ONCE])))
            found |= {(table, number): seal for number, seal in rows}
    return found


@cache
def _writing(table: type[Stored], dialect: Dialect) -> Compiled:
    return insert(table.__table__).compile(dialect=dialect)


def _insert(session: Session, table: type[Stored], rows: list[dict]) -> None:
    """All rows by the driver's own executemany; none is looked at one by one on the way."""
    connection = session.connection()
    made = _writing(table, connection.dialect)
    connection.exec_driver_sql(str(made), [tuple(row[name] for name in made.positiontup) for row in rows] if made.positional else rows)


def store(session: Session, entries: list[Ready], received_ms: int) -> list[str | Differs]:
    """Store each of these once, in their order: 'stored', 'same', or Differs where another content is stored under its id. A few statements, however many there are. The caller commits."""
    seals, verdicts, new = _seals(session, entries), [], []
    for one in entries:
        key, seal = (one.table, one.row["id"]), one.row["digest"]
        if key not in seals:
            seals[key] = seal
            new.append(one)
            verdicts.append("stored")
        else:
            verdicts.append("same" if seals[key] == seal else once.differs())
    first = next_numbers(session, len(new)) if new else 0
    rows: dict[type[Stored], list[dict]] = {}
    for seq, one in enumerate(new, first):
        rows.setdefault(one.table, []).append({**one.row, "seq": seq, "received_ms": received_ms})
    for table, values in rows.items():
        _insert(session, table, values)
    return verdicts


def accept(session: Session, kinds: TypeAdapter, raw_entry: dict, received_ms: int, row_class: type[Stored] = BenchEntry) -> str:
    """Store one entry of a domain's kinds, or find it stored already: 'stored' or 'same'. Raises Refused or Differs."""
    (verdict,) = store(session, [ready(kinds, raw_entry, row_class)], received_ms)
    if isinstance(verdict, Differs):
        raise verdict
    return verdict


def as_wire(row: Stored) -> dict:
    """A stored entry in the shape in which the tablet made it, with its seq and received_ms."""
    return {**row.model_dump(exclude={"digest", "body", *NAMED}), "body": json.loads(row.body)}


class Place(NamedTuple):
    """Where a table stood: its newest entry. A book that was set back does not know it any more, even where its numbers have grown past it: what came again came at another moment."""

    seq: int = 0
    id: str = ""
    received_ms: int = 0


def _places(table: type[Stored]):
    return select(table.seq, table.id, table.received_ms)


def place_of(session: Session, table: type[Stored] = BenchEntry) -> Place:
    """The newest entry of a table."""
    found = session.exec(_places(table).order_by(table.seq.desc()).limit(1)).first()
    return Place(*found) if found else Place()


def knows(session: Session, place: Place, table: type[Stored] = BenchEntry) -> bool:
    """Whether this table has been there: then it holds everything that it held there."""
    found = session.exec(_places(table).where(table.seq == place.seq)).first()
    return place == Place() or (found is not None and Place(*found) == place)


def words_since(session: Session, place: Place) -> set[str]:
    """What stands before the point of the kinds of the entries that have come after a place."""
    return {kind.split(".")[0] for kind in session.exec(select(BenchEntry.kind).where(BenchEntry.seq > place.seq))}


def last_seq(session: Session, *prefixes: str) -> int:
    """Number of the entry of these kinds that came last; 0 when none has."""
    return session.exec(select(func.max(BenchEntry.seq)).where(of_words(BenchEntry.kind, *prefixes))).one() or 0


def entries(session: Session, *prefixes: str, subject: str | None = None) -> list[dict]:
    """Entries whose kind begins with a prefix and a point, as on the wire with seq and received_ms, in the order in which they were made.

    Several devices may write about one subject, so the wall clock orders; the ids of one device rise by themselves.
    """
    chosen = select(BenchEntry).where(of_words(BenchEntry.kind, *prefixes))
    if subject is not None:
        chosen = chosen.where(BenchEntry.subject == subject)
    rows = session.exec(chosen.order_by(BenchEntry.at_ms, in_byte_order(BenchEntry.id))).all()
    return [as_wire(row) for row in rows]
