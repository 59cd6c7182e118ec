"""The tests of sessions as a session sees them: of which runs, and how they stand. Read by the contract of server/plan alone; nothing that was timed or read in them is told."""

import json

from sqlmodel import Session, select

from server.store.log import BenchEntry, Stored
from server.trial.entry import TrialEntry

USED = ("piece_id", "mass_g")


def _seen(body: dict) -> dict:
    """What a session needs of a start: whose it is, of which test, and what it uses up of pieces."""
    told = {key: body[key] for key in ("session", "test") if key in body}
    if "glasses" in body:
        return {**told, "glasses": [{key: glass[key] for key in USED} for glass in body["glasses"]]}
    return {**told, **{key: body[key] for key in USED if key in body}}


def _of_table(session: Session, table: type[Stored], kind: str) -> list[dict]:
    starts = session.exec(select(table).where(table.session.is_not(None)).order_by(table.n, table.seq)).all()
    if not starts:
        return []
    latest = {row.subject: json.loads(row.body) for row in starts}
    words: dict[str, set[str]] = {}
    newest: dict[str, str] = {}
    for subject, one_kind, number in session.exec(select(table.subject, table.kind, table.id).where(table.subject.in_(list(latest)))):
        words.setdefault(subject, set()).add(one_kind.split(".")[1])
        newest[subject] = max(newest.get(subject, ""), number)
    domain = kind.split(".")[0]
    return [
        {
            "id": subject,
            "domain": domain,
            "body": _seen(body),
            "runs": [dish["run"] for dish in body["dishes"]] if "dishes" in body else [body["run"]],
            "status": "stopped" if "abandoned" in words[subject] else "kept" if "kept" in words[subject] else "running",
            "newest": newest[subject],
        }
        for subject, body in latest.items()
    ]


def state_of_tests(session: Session) -> list[dict]:
    """Every test that names a session: {id, domain, body (of its latest start, only what a session needs), runs, status, newest (id of its last entry)}. Its twin is in static/plan/session.js."""
    return [*_of_table(session, TrialEntry, "trial.started"), *_of_table(session, BenchEntry, "measure.started")]
