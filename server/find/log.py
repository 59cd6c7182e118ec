"""The writer and reader of the entries of finds and pieces, in the shared log. Never commits."""

import base64
import json

from sqlmodel import Session, select

from server.errors import Missing
from server.find.entry import EntryIn
from server.find.ledger import Finds, finds_from
from server.store import log
from server.store.json import in_byte_order, without
from server.store.kinds import of_words
from server.store.log import BenchEntry

PREFIXES = ("find", "piece")
ON_THE_WIRE = ("id", "seq", "kind", "subject", "n", "device", "at_ms", "received_ms")


def accept(session: Session, raw_entry: dict, received_ms: int) -> str:
    """Store one entry, or find it stored already: 'stored' or 'same'. Raises Refused or Differs."""
    return log.accept(session, EntryIn, raw_entry, received_ms)


def last_entry(session: Session) -> str:
    """Id of the entry of this domain that arrived last; it changes whenever one arrives. "" before the first."""
    seq = log.last_seq(session, *PREFIXES)
    return session.exec(select(BenchEntry.id).where(BenchEntry.seq == seq)).first() or ""


def entries(session: Session) -> list[dict]:
    """All entries in the order in which they were made; photos without their picture, which photo() gives."""
    columns = [getattr(BenchEntry, name) for name in ON_THE_WIRE]
    mine = of_words(BenchEntry.kind, *PREFIXES)
    chosen = select(*columns, without(BenchEntry.body, "jpeg")).where(mine).order_by(BenchEntry.at_ms, in_byte_order(BenchEntry.id))
    return [{**dict(zip(ON_THE_WIRE, row, strict=False)), "body": json.loads(row[-1])} for row in session.exec(chosen)]


def finds(session: Session) -> Finds:
    """Finds and pieces with their ledgers, as the desk knows them."""
    return finds_from(entries(session))


def photo(session: Session, entry_id: str) -> bytes:
    """The JPEG of a photo entry. Raises Missing."""
    row = session.get(BenchEntry, entry_id)
    if row is None or row.kind != "piece.photo":
        raise Missing("No photo with this number has arrived here. It may still be on its tablet.", code="no_such_photo")
    return base64.b64decode(json.loads(row.body)["jpeg"])
