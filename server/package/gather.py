"""Gathers what goes into a package from the other domains: everything but what is covered, or one session with all that it names."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from heapq import merge
from itertools import islice
from sys import intern
from typing import NamedTuple

from sqlmodel import Session, func, literal, select, union_all

from server.errors import Refused
from server.find import log as find_log
from server.find.ledger import Finds
from server.finding.selection import group_of
from server.glass import own
from server.measure import log as measure_log
from server.measure.log import Measured
from server.plan import log as plan
from server.session.queue import SessionResult, session_from
from server.store import log
from server.store.json import in_byte_order
from server.store.log import BenchEntry, Stored
from server.store.shelf import Shelf
from server.trial import log as trial_log
from server.trial.entry import TrialEntry
from server.trial.timing import Trial

TABLES = (TrialEntry, BenchEntry)
AT_ONCE = 200  # entries read from the store at a time; photos are large
AT_HOME = "device.tested"  # stays in this book


@dataclass(frozen=True)
class LeftOut:
    """How much is still under cover: sessions, tests of any kind, and entries of both."""

    sessions: int
    tests: int
    entries: int


class Head(NamedTuple):
    """What a package has to know of a trial at any moment; the rest is laid aside. `at`, `entries_at`: where. The first three order trials by their start; one whose start has not arrived comes last."""

    has_no_start: bool
    started_ms: float
    id: str
    session: str | None
    glass: tuple[str | None, str]
    piece: str | None
    group: str | None
    at: int
    entries_at: int


@dataclass(frozen=True)
class Trials:
    """Trials by their start, one at a time: memory does not grow with what they hold."""

    heads: list[Head]
    shelf: Shelf

    def __iter__(self) -> Iterator[Trial]:
        return (self.shelf.at(head.at) for head in self.heads)

    def __len__(self) -> int:
        return len(self.heads)

    def with_entries(self) -> Iterator[tuple[Trial, list[dict]]]:
        """Each with its entries."""
        return ((self.shelf.at(head.at), self.shelf.at(head.entries_at)) for head in self.heads)


class Planned(NamedTuple):
    """What a package has to know of a session at any moment, and where the rest lies."""

    id: str
    glasses: list[dict]
    at: int


@dataclass(frozen=True)
class Sessions:
    """Sessions with how they went, one at a time."""

    heads: list[Planned]
    shelf: Shelf

    def __iter__(self) -> Iterator[SessionResult]:
        return (self.shelf.at(head.at) for head in self.heads)


@dataclass(frozen=True)
class Book:
    """What goes into a package. `own`: entries of own glasses; `hidden`: subjects under cover; `subjects`: whose entries go along, None for all that are not hidden."""

    trials: Trials
    measured: list[Measured]
    sessions: Sessions
    finds: Finds
    own: list[dict]
    hidden: frozenset[str]
    left_out: LeftOut
    session_id: str | None = None
    subjects: frozenset[str] | None = None


def _laid(trial: Trial, entries: list[dict], shelf: Shelf) -> Head:
    """A trial and its entries, laid aside. Texts that many share are one object."""
    setup = trial.setup or {}
    glass = (setup["glass_key"] and intern(setup["glass_key"]), intern(setup["glass_name"])) if setup else (None, "")
    order = (trial.started_ms is None, trial.started_ms or 0, trial.id)
    return Head(*order, setup.get("session"), glass, setup.get("piece_id"), intern(group_of(setup)) if setup else None, shelf.add(trial), shelf.add(entries))


def _trials(session: Session, seen: frozenset[str]) -> tuple[Trials, set[str]]:
    """(every trial that is open to all, the others)."""
    shelf, heads, covered = Shelf(), [], set()
    for trial, entries in trial_log.every_with_entries(session):
        if trial_log.shown(trial, seen).status == "covered":
            covered.add(trial.id)
        else:
            heads.append(_laid(trial, entries, shelf))
    return Trials(sorted(heads), shelf), covered


def _count(session: Session, subjects: frozenset[str]) -> int:
    """How many entries there are of these."""
    found, asked = 0, sorted(subjects)
    for table in (TrialEntry, BenchEntry):
        for start in range(0, len(asked), log.AT_ONCE):
            found += session.exec(select(func.count()).select_from(table).where(table.subject.in_(asked[start : start + log.AT_ONCE]))).one()
    return found


def _newest(session: Session, session_id: str) -> dict[str, str]:
    """Test of a session -> id of its last entry."""
    found = {}
    for table in TABLES:
        begun = select(table.subject).where(table.session == session_id)
        found |= dict(session.exec(select(table.subject, func.max(in_byte_order(table.id))).where(table.subject.in_(begun)).group_by(table.subject)).all())
    return found


def _sessions(session: Session, wanted: frozenset[str]) -> Sessions:
    """How these sessions went, oldest first; one whose plan has not arrived is passed over."""
    gathered: dict[str, list[dict]] = {}
    for entry in plan.entries(session):
        if entry["subject"] in wanted:
            gathered.setdefault(entry["subject"], []).append(entry)
    told = {key: entries for key, entries in gathered.items() if any(e["kind"] == "plan.made" for e in entries)}
    shelf, heads = Shelf(), []
    for key, entries in told.items():
        made = session_from(entries, trial_log.of_session(session, key), measure_log.of_session(session, key), _newest(session, key))
        heads.append(Planned(made.id, made.plan["glasses"], shelf.add(made)))
    return Sessions(heads, shelf)


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
    (trials, covered), measured = _trials(session, seen), measure_log.all_measured(session)
    covered |= {m.id for m in measured if m.status == "covered"}
    unseen = {e["subject"] for e in plan.entries(session)} - seen
    hidden = frozenset(covered | unseen)
    book = Book(
        trials=trials,
        measured=_in_time([m for m in measured if m.id not in covered]),
        sessions=_sessions(session, seen),
        finds=find_log.finds(session),
        own=own.entries(session),
        hidden=hidden,
        left_out=LeftOut(len(unseen), len(covered), _count(session, hidden)),
    )
    if session_id is None:
        return book
    book = _of_session(book, session_id)
    return replace(book, subjects=frozenset(_subjects(book) | _margins(session, book)))


def named_glasses(book: Book) -> dict[str, str]:
    """Key -> name of every glass that a test, plan or piece names; own glasses by their own number."""
    named = [head.glass for head in book.trials.heads]
    named += [(glass["key"], glass["name"]) for m in book.measured for glass in m.glasses]
    named += [(glass["key"], glass["name"]) for s in book.sessions.heads for glass in s.glasses]
    named += [(piece.facts["glass_key"], piece.facts["glass_name"]) for piece in book.finds.pieces]
    return {key_of(key): name for key, name in named if key}


def key_of(key: str | None) -> str | None:
    """One key for one glass: an own glass is named with and without what stands before its number."""
    return key.removeprefix("own/") if key else None


def named_pieces(book: Book) -> set[str]:
    """Every piece that a test or plan names, and those that they were cut from."""
    named = {head.piece for head in book.trials.heads}
    named |= {glass["piece_id"] for m in book.measured for glass in m.glasses}
    named |= {glass["piece_id"] for s in book.sessions.heads for glass in s.glasses}
    named |= {piece.root for piece in book.finds.pieces}
    return {piece for piece in named if piece}


def _of_session(book: Book, session_id: str) -> Book:
    """Only what belongs to one session: its tests, the finds whose pieces it names, and the own glasses among its glasses."""
    part = {
        "trials": replace(book.trials, heads=[head for head in book.trials.heads if head.session == session_id]),
        "measured": [m for m in book.measured if m.session == session_id],
        "sessions": replace(book.sessions, heads=[head for head in book.sessions.heads if head.id == session_id]),
    }
    pieces = named_pieces(replace(book, **part, finds=Finds([], [])))
    finds = {piece.facts["find"] for piece in book.finds.pieces if piece.id in pieces}
    kept = Finds([find for find in book.finds.finds if find.id in finds], [piece for piece in book.finds.pieces if piece.facts["find"] in finds])
    part |= {"finds": kept, "session_id": session_id, "left_out": LeftOut(0, 0, 0)}
    glasses = named_glasses(replace(book, **part))
    return replace(book, **part, own=[entry for entry in book.own if entry["subject"] in glasses])


def _margins(session: Session, book: Book) -> set[str]:
    """Margins that were said of two groups of a session's own trials."""
    groups = {head.group for head in book.trials.heads}
    return {entry["subject"] for entry in log.entries(session, "finding") if {entry["body"]["first"], entry["body"]["second"]} <= groups}


def _subjects(book: Book) -> set[str]:
    """Whose entries belong to a package of one session."""
    tests = {test.id for test in (*book.trials.heads, *book.measured, *book.sessions.heads)}
    return tests | named_pieces(book) | {find.id for find in book.finds.finds} | {piece.id for piece in book.finds.pieces}


def _places(session: Session, book: Book) -> Iterator[tuple[int, str, type[Stored] | None]]:
    """(at_ms, id, table or None for an own glass) of every entry of the book, in the order in which they were made; the database orders them. What devices say of themselves is nobody else's."""
    every = union_all(*(select(table.at_ms, table.id, table.subject, literal(number).label("its")).where(table.kind != AT_HOME) for number, table in enumerate(TABLES))).subquery()
    asked = select(every.c.at_ms, every.c.id, every.c.subject, every.c.its).order_by(every.c.at_ms, in_byte_order(every.c.id)).execution_options(yield_per=AT_ONCE)
    rows = session.execute(asked)
    stored = ((at_ms, number, TABLES[its]) for at_ms, number, subject, its in rows if subject not in book.hidden and (book.subjects is None or subject in book.subjects))
    return merge(stored, sorted(((entry["at_ms"], entry["id"], None) for entry in book.own), key=_made), key=_made)


def _made(place: tuple) -> tuple[int, str]:
    return place[:2]


def entries(session: Session, book: Book) -> Iterator[dict]:
    """Every entry of the book, in order, its body as JSON text in one form, however this book keeps it; read a few at a time."""
    own_of, places = {entry["id"]: entry for entry in book.own}, _places(session, book)
    while part := list(islice(places, AT_ONCE)):
        found = {}
        for table in TABLES:
            numbers = [number for _at, number, its in part if its is table]
            found |= {row.id: row.model_dump(include={"id", "kind", "subject", "n", "device", "at_ms", "body"}) for row in session.exec(select(table).where(table.id.in_(numbers)))}
            session.expunge_all()
        for _at, number, table in part:
            row = found[number] if table else own_of[number]
            body = json.loads(row["body"]) if table else row["body"]
            yield {**row, "body": json.dumps(body, sort_keys=True, ensure_ascii=False)}
