"""Copy a whole bench book from one database into another, new one, and prove that both hold the same."""

import hashlib
import json
from dataclasses import dataclass

from sqlalchemy import Connection, Table, func, inspect, select
from sqlmodel import Session, SQLModel

from server.errors import Refused, Unavailable
from server.store import migrate
from server.store.engine import Store
from server.store.json import in_byte_order
from server.store.sequence import Counter

CHUNK = 500  # rows held at once


@dataclass(frozen=True)
class Moved:
    """One table after the copy: its rows and their SHA-256, read back from both sides."""

    table: str
    rows: int
    sha256: str


def _order(table: Table) -> list:
    return [in_byte_order(c) if c.type.python_type is str else c for c in table.primary_key.columns]


def _rows(connection: Connection, table: Table):
    return connection.execution_options(yield_per=CHUNK).execute(select(table).order_by(*_order(table)))


def checksum(connection: Connection, table: Table) -> tuple[int, str]:
    """(rows, SHA-256) of a table: each row as a JSON array in the order of its columns and a line end, in the order of the primary key."""
    seal, count = hashlib.sha256(), 0
    for row in _rows(connection, table):
        seal.update(json.dumps(list(row), ensure_ascii=True, separators=(",", ":")).encode() + b"\n")
        count += 1
    return count, seal.hexdigest()


def _copy(source: Connection, target: Connection, table: Table) -> None:
    target.execute(table.delete())  # what the steps put into a new book: the counter's row
    for chunk in _rows(source, table).mappings().partitions(CHUNK):
        target.execute(table.insert(), [dict(row) for row in chunk])


def _check_source(store: Store) -> None:
    version = migrate.found(store)
    migrate.known_step(store.place, version)
    if version != migrate.head():
        raise Refused(f"{store.place} is no bench book of this version (step {version}). Open it once with this program, then move it.", code="not_at_head")
    migrate.whole(store)


def _is_empty(target: Store) -> bool:
    """Whether nothing was ever kept there: also where a copy ended half-way, before or after the tables were made."""
    with target.wrapped(), target.engine.connect() as connection:
        there = set(inspect(connection).get_table_names()) - {"counter"}
        return not any(connection.execute(select(func.count()).select_from(table)).scalar() for table in SQLModel.metadata.sorted_tables if table.name in there)


def _prepare_target(target: Store) -> None:
    """Make the schema in a new target, or what an earlier copy left of it. Raises Refused for one that holds a bench book with entries, before anything is changed."""
    version = migrate.found(target)
    migrate.known_step(target.place, version)
    if version is not None and not _is_empty(target):
        raise Refused(f"{target.place} holds a bench book already. It was left untouched: name a new one.", code="target_in_use")
    if target.path is not None:
        migrate.prepare_folder(target.path)
    migrate.upgrade(target)


def _check_still(source: Store, session: Session) -> None:
    """Raises Unavailable where something arrived in the source since the copy began."""
    asked = select(Counter.name, Counter.last).order_by(Counter.name)
    with source.read() as now:
        if now.execute(asked).all() != session.execute(asked).all():
            raise Unavailable(f"Something arrived in {source.place} while it was copied. Nothing was kept: stop the servers that use it, then begin again.", code="source_in_use")


def move(source: Store, target: Store) -> list[Moved]:
    """Copy every table in one transaction of the target, and compare counts and checksums before it is kept. The source is only read.

    raises Refused for a source of another version or a target in use, Unavailable where the two differ or something arrived meanwhile: then nothing is kept.
    """
    _check_source(source)
    _prepare_target(target)
    moved = []
    with target.wrapped(), target.engine.begin() as into, source.read() as session:
        for table in SQLModel.metadata.sorted_tables:
            _copy(session.connection(), into, table)
        for table in SQLModel.metadata.sorted_tables:
            before, after = checksum(session.connection(), table), checksum(into, table)
            if before != after:
                raise Unavailable(f"The table {table.name} differs after the copy ({before[0]} rows, then {after[0]}). Nothing was kept in {target.place}.", code="copy_differs")
            moved.append(Moved(table.name, *after))
        _check_still(source, session)
    return moved
