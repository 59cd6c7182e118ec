"""Takes in the entries of sessions, and tells which sessions are open to all. Never commits."""

import json

from sqlmodel import Session, select

from server.errors import Missing
from server.plan.entry import KINDS
from server.store import log


def accept(session: Session, raw_entry: dict, received_ms: int) -> str:
    """Store one entry of a session once: 'stored' or 'same'. Raises Refused or Differs."""
    return log.accept(session, KINDS, raw_entry, received_ms)


def entries(session: Session) -> list[dict]:
    """Every entry of every session, in the order in which they were made."""
    return log.entries(session, "plan")


def open_to_all(session: Session) -> frozenset[str]:
    """Sessions that are not blind, or closed, or uncovered. What lay in the dishes of any other, and its times, are nobody's yet; so too while its plan has not arrived."""
    columns = (log.BenchEntry.kind, log.BenchEntry.subject, log.BenchEntry.body)  # asked for on most pages: no more than it takes
    rows = session.exec(select(*columns).where(log.BenchEntry.kind.in_(("plan.made", "plan.closed", "plan.unblinded"))))
    return open_in([{"kind": kind, "subject": subject, "body": json.loads(body)} for kind, subject, body in rows])


def open_in(told: list[dict]) -> frozenset[str]:
    """The same, of the entries of sessions."""
    seen = {e["subject"] for e in told if e["kind"] == "plan.made" and not e["body"]["is_blind"]}
    return frozenset(seen | {e["subject"] for e in told if e["kind"] == "plan.closed" or (e["kind"] == "plan.unblinded" and e["body"]["what"] == "all")})


def entries_of(session: Session, session_id: str) -> list[dict]:
    """The entries of one session. Raises Missing."""
    found = log.entries(session, "plan", subject=session_id)
    if not any(entry["kind"] == "plan.made" for entry in found):
        raise Missing("No session with this number has arrived here. It may still be on its tablet.", code="no_such_session")
    return found
