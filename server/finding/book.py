"""Every timed trial of the bench book, kept small between readings: only trials of which something has arrived are read again."""

from bisect import bisect_left, insort
from dataclasses import dataclass, replace
from functools import cached_property
from threading import Lock

from sqlmodel import Session

from server.find import log as find_log
from server.finding.scatter import drift_factors
from server.finding.selection import Group, Timed, Wanted, by_session, by_time, choices, chosen, groups_of, timed_one
from server.plan import log as plan
from server.store import log as bench
from server.store.engine import Store
from server.store.log import Place
from server.trial import log
from server.trial.entry import TrialEntry

FEW = 1000  # trials that are put into their place one by one
MOST_SELECTIONS = 3  # groups that are kept beside the rows, as they were asked for last


@dataclass(frozen=True)
class Reading:
    """One state of the book, never changed. Trials of covered sessions are not in it. rows: newest first; sessions: the plan entry of each by its number;
    ended: when each blind session was first opened, uncovered or closed, in epoch ms; held: session -> (epoch ms, how its pieces were held from then on)."""

    rows: list[Timed]
    sessions: dict[str, dict]
    ended: dict[str, int]
    held: dict[str, list[tuple[int, str]]]

    def holders(self, rows: list[Timed]) -> dict[str, str]:
        """Trial -> how its piece was held, as the conditions of its session stood at its start."""
        return {row.trial: self._holder(row) for row in rows if row.session}

    def _holder(self, row: Timed) -> str:
        told = [holder for at_ms, holder in self.held.get(row.session, ()) if at_ms <= row.started_ms]
        return told[-1] if told else ""

    @cached_property
    def choices(self) -> dict[str, list[str]]:
        """What can be asked for, by question."""
        return choices(self.rows)

    @cached_property
    def by_session(self) -> dict[str, list[Timed]]:
        """The rows of each session."""
        return by_session(self.rows)

    @cached_property
    def factors(self) -> dict[tuple[str, str], float]:
        """(trial, lane) -> by how much the torch had drifted at its moment."""
        return drift_factors({number: entry["body"] for number, entry in self.sessions.items() if entry["body"]["test"] == "flame"}, self.by_session)


class Book:
    """Keeps a row of every kept trial, also of covered sessions, which no reading tells of; and how far it has read. One reading at a time."""

    def __init__(self, store: Store):
        self.store = store
        self._lock = Lock()
        self._forget()

    def _forget(self) -> None:
        self._trials, self._bench = Place(), Place()
        self._rows: dict[str, Timed] = {}
        self._order: list[tuple[float, str]] = []
        self._pieces: dict[str, str] = {}  # trial -> number of its piece
        self._colours: dict[str, str] = {}
        self._plans: list[dict] = []
        self._reading: Reading | None = None
        self._groups: dict[Wanted, tuple[dict | None, dict[str, Group]]] = {}  # by what drift was taken out, and the groups

    def read(self) -> Reading:
        """The book as it is now."""
        with self._lock, self.store.read() as session:
            trials, others = bench.place_of(session, TrialEntry), bench.place_of(session)
            if (trials, others) != (self._trials, self._bench) or self._reading is None:
                try:
                    self._renew(session, trials, others)
                except BaseException:
                    self._forget()  # half of it may be new
                    raise
            return self._reading

    def groups(self, reading: Reading, wanted: Wanted) -> list[Group]:
        """The groups that are asked for; those that are the same as a moment ago are not reckoned again."""
        rows, factors = chosen(reading.rows, wanted), reading.factors if wanted.by == "steady" else None
        with self._lock:
            kept = self._groups.pop(wanted, None)
        before = kept[1] if kept and kept[0] is factors else None
        found = groups_of(rows, wanted.by, factors, before)
        with self._lock:
            self._groups[wanted] = factors, {group.key: group for group in found}
            while len(self._groups) > MOST_SELECTIONS:
                del self._groups[next(iter(self._groups))]
        return found

    def _renew(self, session: Session, trials: Place, others: Place) -> None:
        """Read what has come since, or everything where the book was set back."""
        if not bench.knows(session, self._trials, TrialEntry) or not bench.knows(session, self._bench):
            self._forget()
        words = bench.words_since(session, self._bench)
        if words & {"find", "piece"}:
            self._recolour({piece.id: piece.facts.get("colour") or "" for piece in find_log.finds(session).pieces})
        if "plan" in words:
            self._plans = plan.entries(session)
        if trials != self._trials:
            self._take(session, None if self._trials == Place() else log.heard_of_since(session, self._trials))
        self._trials, self._bench = trials, others
        self._reading = self._told()

    def _take(self, session: Session, heard_of: list[str] | None) -> None:
        """Trials (all where None) as they are now, in the place of what was known of them."""
        few = heard_of is not None and len(heard_of) < FEW
        for trial in log.every(session, heard_of):
            before, row = self._rows.pop(trial.id, None), timed_one(trial, self._colours)
            self._pieces.pop(trial.id, None)
            if few and before:
                del self._order[bisect_left(self._order, by_time(before))]
            if row is None:
                continue
            self._rows[row.trial] = row
            if few:
                insort(self._order, by_time(row))
            if number := trial.setup.get("piece_id"):
                self._pieces[row.trial] = number
        if not few:
            self._order = sorted(by_time(row) for row in self._rows.values())

    def _recolour(self, colours: dict[str, str]) -> None:
        """Rows of pieces whose colour is told otherwise."""
        for number, piece in self._pieces.items():
            colour = colours.get(piece, "")
            if colour != self._rows[number].colour:
                self._rows[number] = replace(self._rows[number], colour=colour)
        self._colours = colours

    def _told(self) -> Reading:
        told, seen = self._plans, plan.open_in(self._plans)
        rows = [row for _ms, number in reversed(self._order) if not (row := self._rows[number]).session or row.session in seen]
        sessions = {entry["subject"]: entry for entry in told if entry["kind"] == "plan.made"}
        ends = [e for e in told if e["kind"] in ("plan.closed", "plan.unblinded")]  # whoever opens the list can match codes to times
        held: dict[str, list[tuple[int, str]]] = {}
        for e in told:
            if e["kind"] in ("plan.made", "plan.conditions"):
                held.setdefault(e["subject"], []).append((e["at_ms"], e["body"]["conditions"]["holder"]))
        ended = {e["subject"]: e["at_ms"] for e in reversed(ends) if sessions.get(e["subject"], {}).get("body", {}).get("is_blind")}
        return Reading(rows, sessions, ended, held)
