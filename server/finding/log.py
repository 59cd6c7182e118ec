"""Takes in what a person says about findings: margins, said at a moment. Never commits."""

from sqlmodel import Session

from server.finding.entry import KINDS
from server.store import log


def accept(session: Session, raw_entry: dict, received_ms: int) -> str:
    """Store one entry, or find it stored already: 'stored' or 'same'. Raises Refused or Differs."""
    return log.accept(session, KINDS, raw_entry, received_ms)


def margins(session: Session) -> list[dict]:
    """Every margin that was said, oldest first: {at_ms, first, second, lane, percent}."""
    return [{"at_ms": entry["at_ms"], **entry["body"]} for entry in log.entries(session, "finding")]
