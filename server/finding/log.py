"""Takes in what a person says about findings: margins, said at a moment. Never commits."""

from sqlmodel import Session

from server.finding.entry import KINDS
from server.finding.said import TwoGroups, said_of_pairs
from server.store import log


def accept(session: Session, raw_entry: dict, received_ms: int) -> str:
    """Store one entry, or find it stored already: 'stored' or 'same'. Raises Refused or Differs."""
    return log.accept(session, KINDS, raw_entry, received_ms)


def margins(session: Session) -> dict[TwoGroups, list[dict]]:
    """The margins that were said last of each two groups."""
    return said_of_pairs(log.entries(session, "finding"))
