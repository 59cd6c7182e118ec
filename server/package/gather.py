"""Gathers what goes into a package from the other domains: everything but what is covered, or one session with all that it names."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace

from sqlmodel import Session, select

from server.errors import Refused
from server.find import log as find_log
from server.find.ledger import Finds
from server.finding.selection import group_of
from server.glass import own
from server.measure import log as measure_log
from server.measure.log import Measured
from server.plan import log as plan
from server.session.queue import SessionResult, session_from
from server.session.tested import state_of_tests
from server.store import log
from server.store.log import BenchEntry, Stored, as_wire
from server.trial import log as trial_log
from server.trial.entry import TrialEntry
from server.trial.timing import Trial

AT_ONCE = 200  # entries read from the store at a time; photos are large


@dataclass(frozen=True)
class LeftOut:
    """How much is still under cover: sessions, tests of any kind, and entries of both."""

    sessions: int
    tests: int
    entries: int


@dataclass(frozen=True)
class Book:
    """What goes into a package. `presses`: entries of each trial; `own`: entries of own glasses; `heads`: (at_ms, id, table or None for an own glass) of every entry, in order."""

    trials: list[Trial]
    presses: dict[str, list[dict]]
    measured: list[Measured]
    sessions: list[SessionResult]
    finds: Finds
    own: list[dict]
    heads: list[tuple[int, str, type[Stored] | None]]
    left_out: LeftOut
    session_id: str | None = None


def _heads(session: Session) -> list[tuple[int, str, str, type[Stored] | None]]:
    """(at_ms, id, subject, table) of every entry but those of own glasses, and what devices say of themselves, which is nobody else's."""
    found = []
    for table in (TrialEntry, BenchEntry):
        found += [(*row, table) for row in session.exec(select(table.at_ms, table.id, table.subject).where(table.kind != "device.tested"))]
    return found


def _presses(session: Session) -> dict[str, list[dict]]:
    """The entries of every trial."""
    found: dict[str, list[dict]] = {}
    for row in session.exec(select(TrialEntry)):
        found.setdefault(row.subject, []).append(as_wire(row))
    return found


def _sessions(session: Session, wanted: frozenset[str]) -> list[SessionResult]:
    """How these sessions went, oldest first; one whose plan has not arrived is passed over."""
    gathered: dict[str, list[dict]] = {}
    for entry in plan.entries(session):
        if entry["subject"] in wanted:
            gathered.setdefault(entry["subject"], []).append(entry)
    newest = {test["id"]: test["newest"] for test in state_of_tests(session)}
    told = {key: entries for key, entries in gathered.items() if any(e["kind"] == "plan.made" for e in entries)}
    return [session_from(entries, trial_log.of_session(session, key), measure_log.of_session(session, key), newest) for key, entries in told.items()]


def _in_time(tests: list) -> list:
    """Tests by their start; one whose start has not arrived comes last."""
    return sorted(tests, key=lambda t: (t.started_ms is None, t.started_ms or 0, t.id))


def gather(session: Session, session_id: str | None = None) -> Book:
    """All of the bench book that is open to all, or of one session. Raises Missing for a session that is not here and Refused for one that is covered."""
    seen = plan.open_to_all(session)
    if session_id is not None:
        plan.entries_of(session, session_id)
        if session_id not in seen:
            raise Refused("This session is still covered: close or uncover it first.", code="covered")
    trials, measured = trial_log.trials(session), measure_log.all_measured(session)
    covered = {t.id for t in (*trials, *measured) if t.status == "covered"}
    hidden = {e["subject"] for e in plan.entries(session)} - seen
    heads = _heads(session)
    left_out = LeftOut(len(hidden), len(covered), sum(subject in covered | hidden for _at, _id, subject, _table in heads))
    book = Book(
        trials=_in_time([t for t in trials if t.id not in covered]),
        presses=_presses(session),
        measured=_in_time([m for m in measured if m.id not in covered]),
        sessions=_sessions(session, seen),
        finds=find_log.finds(session),
        own=own.entries(session),
        heads=[],
        left_out=left_out,
    )
    if session_id is not None:
        book = _of_session(book, session_id)
    return _with_heads(book, heads, covered | hidden, _margins(session, book))


def _with_heads(book: Book, heads: list, hidden: set[str], margins: set[str]) -> Book:
    """The book with the heads of its entries, in the order in which they were made."""
    subjects = None if book.session_id is None else _subjects(book) | margins
    kept = [(at_ms, number, table) for at_ms, number, subject, table in heads if subject not in hidden and (subjects is None or subject in subjects)]
    kept += [(entry["at_ms"], entry["id"], None) for entry in book.own]
    return replace(book, heads=sorted(kept, key=lambda head: head[:2]))


def named_glasses(book: Book) -> dict[str, str]:
    """Key -> name of every glass that a test, plan or piece names; own glasses by their own number."""
    named = [(t.setup["glass_key"], t.setup["glass_name"]) for t in book.trials if t.setup]
    named += [(glass["key"], glass["name"]) for m in book.measured for glass in m.glasses]
    named += [(glass["key"], glass["name"]) for s in book.sessions for glass in s.plan["glasses"]]
    named += [(piece.facts["glass_key"], piece.facts["glass_name"]) for piece in book.finds.pieces]
    return {key_of(key): name for key, name in named if key}


def key_of(key: str | None) -> str | None:
    """One key for one glass: an own glass is named with and without what stands before its number."""
    return key.removeprefix("own/") if key else None


def named_pieces(book: Book) -> set[str]:
    """Every piece that a test or plan names, and those that they were cut from."""
    named = {t.setup.get("piece_id") for t in book.trials if t.setup}
    named |= {glass["piece_id"] for m in book.measured for glass in m.glasses}
    named |= {glass["piece_id"] for s in book.sessions for glass in s.plan["glasses"]}
    named |= {piece.root for piece in book.finds.pieces}
    return {piece for piece in named if piece}


def _of_session(book: Book, session_id: str) -> Book:
    """Only what belongs to one session: its tests, the finds whose pieces it names, and the own glasses among its glasses."""
    part = {
        "trials": [t for t in book.trials if (t.setup or {}).get("session") == session_id],
        "measured": [m for m in book.measured if m.session == session_id],
        "sessions": [s for s in book.sessions if s.id == session_id],
    }
    pieces = named_pieces(replace(book, **part, finds=Finds([], [])))
    finds = {piece.facts["find"] for piece in book.finds.pieces if piece.id in pieces}
    kept = Finds([find for find in book.finds.finds if find.id in finds], [piece for piece in book.finds.pieces if piece.facts["find"] in finds])
    part |= {"finds": kept, "session_id": session_id, "left_out": LeftOut(0, 0, 0)}
    glasses = named_glasses(replace(book, **part))
    return replace(book, **part, own=[entry for entry in book.own if entry["subject"] in glasses])


def _margins(session: Session, book: Book) -> set[str]:
    """Margins that were said of two groups of a session's own trials."""
    groups = {group_of(trial.setup) for trial in book.trials if trial.setup}
    return {entry["subject"] for entry in log.entries(session, "finding") if {entry["body"]["first"], entry["body"]["second"]} <= groups}


def _subjects(book: Book) -> set[str]:
    """Whose entries belong to a package of one session."""
    tests = {test.id for test in (*book.trials, *book.measured, *book.sessions)}
    return tests | named_pieces(book) | {find.id for find in book.finds.finds} | {piece.id for piece in book.finds.pieces}


def entries(session: Session, book: Book) -> Iterator[dict]:
    """Every entry of the book, in order, its body as JSON text in one form, however this book keeps it; read a few at a time."""
    own_of = {entry["id"]: entry for entry in book.own}
    for start in range(0, len(book.heads), AT_ONCE):
        part = book.heads[start : start + AT_ONCE]
        found = {}
        for table in (TrialEntry, BenchEntry):
            numbers = [number for _at, number, its in part if its is table]
            found |= {row.id: row.model_dump(include={"id", "kind", "subject", "n", "device", "at_ms", "body"}) for row in session.exec(select(table).where(table.id.in_(numbers)))}
            session.expunge_all()
        for _at, number, table in part:
            row = found[number] if table else own_of[number]
            body = json.loads(row["body"]) if table else row["body"]
            yield {**row, "body": json.dumps(body, sort_keys=True, ensure_ascii=False)}
