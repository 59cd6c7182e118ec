"""The only writer of trial entries, and the reader that gathers them into trials. Never commits."""

import json
from collections.abc import Callable, Collection, Iterable, Iterator
from itertools import groupby, islice

from sqlalchemy import String, bindparam, func, text
from sqlmodel import Session, select

from server.errors import Missing
from server.plan import log as plan
from server.store import log as bench
from server.store.log import AT_ONCE, Place
from server.store.shelf import Shelf
from server.trial.entry import Envelope, EntryIn, TrialEntry
from server.trial.timing import Trial, in_order, trial_from, under_cover


WALKED = 2000  # rows that are looked at in one go
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


def _walked(session: Session, limit: int, before: int | None) -> dict[str, int]:
    """Trials with the number of their newest entry, the one heard of last first; only as much is read as that takes."""
    found: dict[str, int] = {}
    at = before
    while len(found) < limit:
        chosen = select(TrialEntry.subject, TrialEntry.seq).order_by(TrialEntry.seq.desc()).limit(WALKED)
        rows = session.exec(chosen if at is None else chosen.where(TrialEntry.seq < at)).all()
        if not rows:
            break
        at, ahead = rows[-1][1], {}
        for subject, seq in rows:
            ahead.setdefault(subject, seq)
        told = set() if before is None else set(session.exec(select(TrialEntry.subject).where(TrialEntry.subject.in_(list(ahead)), TrialEntry.seq >= before)))
        for subject, seq in ahead.items():
            if subject not in told and subject not in found and len(found) < limit:
                found[subject] = seq
    return found


def _are(named: dict[str, str | None]) -> list:
    """The start names this glass or piece."""
    return [getattr(TrialEntry, column) == value for column, value in named.items() if value is not None]


def _named_before(session: Session, named: dict[str, str | None], limit: int, before: int | None) -> dict[str, int]:
    """Such trials with the number of their start, the one that began last first."""
    chosen = select(TrialEntry.subject, TrialEntry.seq).where(*_are(named)).order_by(TrialEntry.seq.desc()).limit(limit)
    rows = session.exec(chosen if before is None else chosen.where(TrialEntry.seq < before)).all()
    return {subject: seq for subject, seq in reversed(rows)}


def shown(trial: Trial, seen: frozenset[str]) -> Trial:
    """The trial, under cover where its session is not open to all."""
    session_id = (trial.setup or {}).get("session")
    return under_cover(trial) if session_id and session_id not in seen else trial


def of_session(session: Session, session_id: str) -> dict[int, list[Trial]]:
    """The trials of a session by run, in the order in which they were made."""
    starts = select(TrialEntry.subject).where(TrialEntry.session == session_id)
    gathered: dict[str, list[dict]] = {}
    for row in session.exec(select(TrialEntry).where(TrialEntry.subject.in_(starts)).order_by(TrialEntry.at_ms, TrialEntry.seq)):
        gathered.setdefault(row.subject, []).append(bench.as_wire(row))
    runs: dict[int, list[Trial]] = {}
    for trial in (trial_from(entries) for entries in gathered.values()):
        runs.setdefault(trial.setup.get("run"), []).append(trial)
    return runs


def _batches(subjects: Iterable[str]) -> Iterator[list[str]]:
    """As many as one question takes."""
    left = iter(subjects)
    while part := list(islice(left, AT_ONCE)):
        yield part


def every_with_entries(session: Session, subjects: Collection[str] | None = None) -> Iterator[tuple[Trial, list[dict]]]:
    """As every(), each with its entries."""
    columns = [getattr(TrialEntry, name) for name in TOLD]  # thousands of rows: no object of each
    chosen = select(*columns, TrialEntry.body).order_by(TrialEntry.subject).execution_options(yield_per=WALKED)
    for asked in [chosen] if subjects is None else [chosen.where(TrialEntry.subject.in_(part)) for part in _batches(subjects)]:
        for _subject, own in groupby(session.exec(asked), key=lambda row: row[2]):
            entries = [{**dict(zip(TOLD, told, strict=True)), "body": json.loads(body)} for *told, body in own]
            yield trial_from(entries), entries


def every(session: Session, subjects: Collection[str] | None = None) -> Iterator[Trial]:
    """These trials (all where None) one after another, in no order that means anything. Under no cover: whoever shows them asks shown()."""
    return (trial for trial, _entries in every_with_entries(session, subjects))


def heard_of_since(session: Session, place: Place) -> list[str]:
    """Trials of which an entry has come after a place."""
    return list(dict.fromkeys(session.exec(select(TrialEntry.subject).where(TrialEntry.seq > place.seq))))  # DISTINCT would have SQLite walk every subject


def _newest_first(trial: Trial) -> tuple[bool, float, str]:
    """What trials are ordered by, the last of it first; one whose start has not arrived stands on top."""
    return trial.started_ms is None, trial.started_ms or 0, trial.id


def _named(session: Session, glass_key: str | None, piece: str | None) -> list[str] | None:
    """Trials whose start names a glass or piece; None, for all, where neither is asked for."""
    asked = {"glass": glass_key, "piece": piece}
    return None if glass_key is None and piece is None else list(session.exec(select(TrialEntry.subject).where(*_are(asked)).distinct()))


def _shown(session: Session, subjects: Collection[str] | None) -> Iterator[Trial]:
    seen = plan.open_to_all(session)
    return (shown(trial, seen) for trial in every(session, subjects))


def trials(session: Session, glass_key: str | None = None, piece: str | None = None) -> list[Trial]:
    """All trials, or those of a glass or piece, newest start first. Those of a covered session tell no name and no time, and none of them belongs to a glass."""
    subjects = _named(session, glass_key, piece)
    return sorted((trial for trial in _shown(session, subjects) if subjects is None or trial.status != "covered"), key=_newest_first, reverse=True)


def told(session: Session, tell: Callable[[Trial], str], glass_key: str | None = None, piece: str | None = None) -> Iterator[str]:
    """What is told of each of these trials, in their order. They are read when this is called and held one at a time; what is told is laid aside."""
    shelf, places, subjects = Shelf(), [], _named(session, glass_key, piece)
    for trial in _shown(session, subjects):
        if subjects is None or trial.status != "covered":
            places.append((*_newest_first(trial), shelf.add(tell(trial))))
    places.sort(reverse=True)
    return (shelf.at(place) for *_order, place in places)


def newest(session: Session, limit: int, before: int | None = None, glass_key: str | None = None) -> tuple[list[Trial], int | None]:
    """(trials that were heard of last, where the earlier ones begin or None). `before`: what an earlier call gave. As much work as there are trials on a page, whatever the size of the book."""
    found = _walked(session, limit, before) if glass_key is None else _named_before(session, {"glass": glass_key}, limit, before)
    told = sorted(_shown(session, list(found)), key=_newest_first, reverse=True)
    earlier = min(found.values()) if len(found) == limit else None
    return [trial for trial in told if trial.status != "covered" or glass_key is None], earlier


# Every value of an indexed column by leaps from one to the next, and for each the newest start that is open to all.
_EVERY = """
WITH RECURSIVE leap(value) AS (
  SELECT CAST(min({column}) AS TEXT) FROM trial_entry
  UNION ALL
  SELECT (SELECT CAST(min({column}) AS TEXT) FROM trial_entry WHERE {column} > leap.value) FROM leap WHERE leap.value IS NOT NULL
)
SELECT value, (SELECT body FROM trial_entry AS one WHERE one.{column} = value AND (one.session IS NULL OR one.session IN :seen) ORDER BY seq DESC LIMIT 1)
FROM leap WHERE value IS NOT NULL
"""


def _every(session: Session, column: str) -> list[tuple[str, dict]]:
    """(value, body of the newest start that names it) for all that is not covered."""
    asked = text(_EVERY.format(column=column)).bindparams(bindparam("seen", type_=String, expanding=True))
    rows = session.execute(asked, {"seen": sorted(plan.open_to_all(session))})
    return [(value, json.loads(body)) for value, body in rows if body is not None]


def pieces(session: Session) -> list[str]:
    """Every piece of a find that a trial names, by name."""
    return sorted((piece for piece, _body in _every(session, "piece")), key=str.casefold)


def glasses(session: Session) -> list[tuple[str, str]]:
    """(key, name) of every glass that a trial names, by name."""
    return sorted(((key, body["glass_name"]) for key, body in _every(session, "glass")), key=lambda pair: (pair[1].casefold(), pair[0]))
