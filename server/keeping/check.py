"""Whether a book is sound. Damage is what must never be; remarks are what a person should look at, such as entries that are still on a tablet. Reads only."""

import base64
import json
from collections.abc import Iterator
from dataclasses import dataclass, field

from sqlalchemy import text
from sqlmodel import Session, func, select

from server.errors import Failure
from server.find import log as find_log
from server.glass import own
from server.glass.own import OwnGlass
from server.plan import log as plan
from server.store import log, once
from server.store.kinds import of_words
from server.store.log import BenchEntry, Stored
from server.store.picture import is_bare
from server.store.sequence import Counter
from server.sync.push import KINDS
from server.trial.entry import TrialEntry

AT_ONCE = 1000
SHOWN = 5
RESTORE = "Put a backup back: isokom restore."
LOGS = (TrialEntry, BenchEntry)


@dataclass
class Finding:
    """One thing that was found: in words, how often, some examples, and what to do."""

    words: str
    advice: str
    is_damage: bool
    count: int = 0
    examples: list[str] = field(default_factory=list)

    def add(self, example: str) -> None:
        self.count += 1
        if len(self.examples) < SHOWN:
            self.examples.append(example)


@dataclass(frozen=True)
class Checked:
    """What was looked at, and what was found; sound where nothing of it is damage."""

    entries: int
    findings: list[Finding]

    @property
    def is_sound(self) -> bool:
        return not any(one.is_damage for one in self.findings)


def _file(session: Session) -> Iterator[Finding]:
    """SQLite's own look at the file (https://sqlite.org/pragma.html#pragma_integrity_check)."""
    if session.connection().dialect.name == "sqlite":
        found = Finding("The file itself is damaged.", RESTORE, True)
        for (line,) in session.execute(text("PRAGMA integrity_check")):
            if line != "ok":
                found.add(line[:200])
        yield found


def _numbers(session: Session) -> Iterator[Finding]:
    """Every entry has a number of its own, and none is missing."""
    found = Finding("Numbers of arrival are missing or given twice.", "Put a backup back, and let the tablets offer everything again.", True)
    tables = (TrialEntry, BenchEntry, OwnGlass)
    counts = [session.exec(select(func.count(), func.coalesce(func.max(table.seq), 0), func.coalesce(func.sum(table.seq), 0)).select_from(table)).one() for table in tables]
    last = session.exec(select(Counter.last).where(Counter.name == "feed")).one()
    total, top, added = sum(c[0] for c in counts), max(c[1] for c in counts), sum(c[2] for c in counts)
    if not (total == top == last and added == last * (last + 1) // 2):
        found.add(f"{total} entries, numbered up to {top}, {last} given out")
    yield found


def _rows(session: Session, table: type[Stored]) -> Iterator[Stored]:
    last = 0
    while rows := session.exec(select(table).where(table.seq > last).order_by(table.seq).limit(AT_ONCE)).all():
        last = rows[-1].seq
        yield from rows
        session.expunge_all()


def _is_sealed(row: Stored) -> bool:
    """Whether a stored entry is still what its seal was made over, read by the domain that knows it."""
    wire = {key: value for key, value in log.as_wire(row).items() if key not in ("seq", "received_ms")}
    return log.ready(KINDS[row.kind.split(".")[0]][0], wire).row["digest"] == row.digest


def _contents(session: Session) -> Iterator[Finding]:
    """Every entry holds what was sent, and every photo is one."""
    changed = Finding("Entries do not hold what was once sent.", "Put a backup back, or let their tablet offer everything again into an empty book.", True)
    photos = Finding("Photos are damaged.", "Take them anew; the entry stays.", True)
    for table in LOGS:
        for row in _rows(session, table):
            try:
                if not _is_sealed(row):
                    changed.add(row.id)
                elif row.kind.endswith(".photo") and not is_bare(base64.b64decode(json.loads(row.body)["jpeg"])):
                    photos.add(row.id)
            except (Failure, ValueError, KeyError):
                changed.add(row.id)
    for row in session.exec(select(OwnGlass)):
        try:
            if row.entry and once.digest(own.EntryIn.model_validate(own.as_wire(row))) != row.digest:
                changed.add(row.id)
        except ValueError:
            changed.add(row.id)
    yield from (changed, photos)


# What begins each kind of record: table, word before the point, kind of its start, and what is said where that is lacking.
BEGINNINGS = (
    (TrialEntry, "trial", "trial.started", "Trials whose start has not arrived."),
    (BenchEntry, "measure", "measure.started", "Measured tests whose start has not arrived."),
    (BenchEntry, "plan", "plan.made", "Sessions whose plan has not arrived."),
    (BenchEntry, "firing", "firing.started", "Firings whose start has not arrived."),
)


def _orphans(session: Session) -> Iterator[Finding]:
    """What belongs to something that has not arrived."""
    for table, word, start, words in BEGINNINGS:
        found = Finding(words, "It may still be on a tablet: let every tablet send.", False)
        begun = select(table.subject).where(table.kind == start)
        of_kind = select(table.subject).where(of_words(table.kind, word), table.subject.not_in(begun)).distinct()
        for subject in session.exec(of_kind):
            found.add(subject)
        yield found


def _ledgers(session: Session) -> Iterator[Finding]:
    """Masses that do not come out, and what names a piece or trial that is not here."""
    finds = find_log.finds(session)
    over = Finding("More was taken from pieces than was left.", "Weigh them again, and take back the row that is wrong.", False)
    alone = Finding("Pieces whose find has not arrived.", "It may still be on a tablet: let every tablet send.", False)
    unwritten = Finding("Tests used up something of a piece, and its ledger does not say so.", "Open the trial on its tablet once, or write the use down by hand.", False)
    known = {find.id for find in finds.finds}
    for piece in finds.pieces:
        if piece.over_g > 0:
            over.add(f"{piece.facts['label']}: {piece.over_g:.3g} g")
        if piece.facts["find"] not in known:
            alone.add(piece.facts["label"])
    written = {row.trial for piece in finds.pieces for row in piece.rows if row.trial}
    seen = plan.open_to_all(session)
    for subject, body in session.exec(select(TrialEntry.subject, TrialEntry.body).where(TrialEntry.kind == "trial.started")):
        told = json.loads(body)
        if told.get("piece_id") and subject not in written and (not told.get("session") or told["session"] in seen):
            unwritten.add(subject)
    yield from (over, alone, unwritten)


def damage(session: Session) -> list[Finding]:
    """What must never be: only this is looked for in a copy."""
    return [found for part in (_file, _numbers, _contents) for found in part(session) if found.count]


def unreadable(reason: str) -> Checked:
    """A book that cannot even be opened."""
    return Checked(0, [Finding(reason, RESTORE, True, 1)])


def check(session: Session) -> Checked:
    """Look at everything once."""
    findings = [found for part in (_file, _numbers, _contents, _orphans, _ledgers) for found in part(session) if found.count]
    return Checked(session.exec(select(Counter.last).where(Counter.name == "feed")).one(), findings)


def as_text(checked: Checked) -> str:
    """As one would tell it."""
    lines = [f"{checked.entries:,} entries: " + ("sound." if checked.is_sound else "DAMAGED.")]
    for one in checked.findings:
        examples = f" ({one.count:,}: {', '.join(one.examples)}{', …' if one.count > len(one.examples) else ''})" if one.examples else ""
        lines += [f"{'Damage' if one.is_damage else 'Remark'}: {one.words}{examples}", f"  {one.advice}"]
    return "\n".join(lines)
