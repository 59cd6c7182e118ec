"""The only writer of trial entries, and the reader that gathers them into trials. Never commits."""

import json

from sqlalchemy import func
from sqlmodel import Session, select

from server.errors import Missing
from server.plan import log as plan
from server.store import log as bench
from server.store.json import json_text
from server.trial.entry import Envelope, EntryIn, TrialEntry
from server.trial.timing import Trial, in_order, trial_from, under_cover


TOLD = ("id", "kind", "subject", "n", "device", "at_ms")


def read_entry(raw_entry: dict) -> Envelope:
    """The typed entry. Raises Refused with the reason."""
    return bench.typed(EntryIn, raw_entry)


def accept(session: Session, raw_entry: dict, received_ms: int) -> str:
    """Store one entry, or find it stored already: 'stored' or 'same'. Raises Refused or Differs."""
    return bench.accept(session, EntryIn, raw_entry, received_ms, TrialEntry)


def entries_of(session: Session, trial_id: str) -> list[dict]:
    """All entries of one trial in the tablet's order. Raises Missing."""
    rows = session.exec(select(TrialEntry).where(TrialEntry.subject == trial_id)).all()
    if not rows:
        raise Missing("No trial with this number has arrived here. It may still be on its tablet.", code="no_such_trial")
    return in_order(bench.as_wire(row) for row in rows)


def last_seq(session: Session) -> int:
    """Number of the entry of a trial or session that came last; 0 when none has."""
    return max(session.exec(select(func.max(TrialEntry.seq))).one() or 0, bench.last_seq(session, "plan"))


def _subjects(named: dict[str, str | None], limit: int | None):
    """Trials, the one heard of last first; only those whose start names this glass or piece."""
    chosen = select(TrialEntry.subject).group_by(TrialEntry.subject).order_by(func.max(TrialEntry.seq).desc())
    for field, value in named.items():
        if value is not None:
            starts = select(TrialEntry.subject).where(TrialEntry.kind == "trial.started")
            chosen = chosen.where(TrialEntry.subject.in_(starts.where(json_text(TrialEntry.body, field) == value)))
    return chosen.limit(limit) if limit else chosen


def shown(trial: Trial, seen: frozenset[str]) -> Trial:
    """The trial, under cover where its session is not open to all."""
    session_id = (trial.setup or {}).get("session")
    return under_cover(trial) if session_id and session_id not in seen else trial


def of_session(session: Session, session_id: str) -> dict[int, list[Trial]]:
    """The trials of a session by run, in the order in which they were made."""
    starts = select(TrialEntry.subject).where(TrialEntry.kind == "trial.started", json_text(TrialEntry.body, "session") == session_id)
    gathered: dict[str, list[dict]] = {}
    for row in session.exec(select(TrialEntry).where(TrialEntry.subject.in_(starts)).order_by(TrialEntry.at_ms, TrialEntry.seq)):
        gathered.setdefault(row.subject, []).append(bench.as_wire(row))
    runs: dict[int, list[Trial]] = {}
    for trial in (trial_from(entries) for entries in gathered.values()):
        runs.setdefault(trial.setup.get("run"), []).append(trial)
    return runs


def trials(session: Session, glass_key: str | None = None, piece: str | None = None, limit: int | None = None) -> list[Trial]:
    """Trials, newest start first; one whose start has not arrived stands on top. Those of a covered session tell no name and no time, and none belongs to a glass."""
    chosen = _subjects({"glass_key": glass_key, "piece": piece}, limit).subquery()
    gathered: dict[str, list[dict]] = {}
    columns = [getattr(TrialEntry, name) for name in TOLD]  # thousands of rows: no object of each
    for *told, body in session.exec(select(*columns, TrialEntry.body).where(TrialEntry.subject.in_(select(chosen.c.subject)))):
        gathered.setdefault(told[2], []).append({**dict(zip(TOLD, told, strict=True)), "body": json.loads(body)})
    seen = plan.open_to_all(session)
    found = [shown(trial_from(entries), seen) for entries in gathered.values()]
    found = [trial for trial in found if trial.status != "covered" or (glass_key is None and piece is None)]
    return sorted(found, key=lambda t: (t.started_ms is None, t.started_ms or 0, t.id), reverse=True)


def _setups(session: Session) -> list[dict]:
    """The body of every start, but for those of covered sessions."""
    seen = plan.open_to_all(session)
    bodies = [json.loads(body) for body in session.exec(select(TrialEntry.body).where(TrialEntry.kind == "trial.started"))]
    return [body for body in bodies if not body.get("session") or body["session"] in seen]


def pieces(session: Session) -> list[str]:
    """Every piece of a find that a trial names, by name."""
    return sorted({body["piece"] for body in _setups(session) if body["piece"]}, key=str.casefold)


def glasses(session: Session) -> list[tuple[str, str]]:
    """(key, name) of every glass that a trial names, by name."""
    named = {body["glass_key"]: body["glass_name"] for body in _setups(session) if body["glass_key"]}
    return sorted(named.items(), key=lambda pair: (pair[1].casefold(), pair[0]))
