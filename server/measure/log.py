"""Takes in the entries of measured tests, and gathers them into tests. Never commits."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from sqlalchemy import func
from sqlmodel import Session, select

from server.errors import Missing
from server.measure.entry import KINDS
from server.measure.kinds import LETTERS, is_place, quantities, whole_setup
from server.plan import log as plan
from server.store import log
from server.store.kinds import of_words


@dataclass(frozen=True)
class Change:
    """One reading as it was made. `said` is the number or the word, None where it was taken back."""

    said: float | str | None
    at_ms: int
    why: str
    after_keep: bool


@dataclass(frozen=True)
class Picture:
    """A photo without its bytes; `entry` finds them."""

    entry: str
    place: str
    width: int
    height: int
    caption: str


@dataclass(frozen=True)
class Measured:
    """One test as its entries tell it. Readings by (place, quantity), the latest of each; `history` holds every one, oldest first."""

    id: str
    status: str  # running, kept, stopped, incomplete while the start has not arrived, or covered while its blind session runs
    test: str | None
    title: str
    glasses: tuple[dict, ...]
    setup: dict[str, float | str]
    readings: dict[tuple[str, str], float | str]
    history: dict[tuple[str, str], tuple[Change, ...]]
    consent: bool | None = None
    operator: str | None = None
    notes: tuple[str, ...] = ()
    photos: tuple[Picture, ...] = ()
    reason: str | None = None
    started_ms: int | None = None
    device: str = ""
    strays: int = 0  # readings that this test does not ask for
    session: str | None = None
    dishes: tuple[dict, ...] = ()  # of the session: {run, code, letter, place}

    def glass(self, letter: str) -> dict | None:
        """The glass of a letter, or None."""
        place = LETTERS.find(letter) if letter else -1
        return self.glasses[place] if 0 <= place < len(self.glasses) else None

    def code_at(self, place: str) -> str:
        """The code on the dish of what lies at a place; empty where the test belongs to no session."""
        return next((dish["code"] for dish in self.dishes if dish["place"] in ("", place)), "")

    def letter_at(self, place: str) -> str:
        """The letter of the glass at a place; empty where a place is of both, or of none."""
        if self.test is None or not is_place(self.test, place):
            return ""
        if self.test == "pull":
            pattern, at = str(self.setup.get("pattern", "")), int(place) - 1
            return pattern[at] if at < len(pattern) else ""
        if self.test == "strip":
            return str(self.setup.get("piece", ""))
        return str(self.readings.get((place, "glass"), "")) if self.test == "fuse" else ""


def in_order(entries: Iterable[dict]) -> list[dict]:
    """Each entry once, in the order in which its tablet made them: a test is one tablet's, so its own count orders, whatever the clock did."""
    once = {entry["id"]: entry for entry in entries}
    return sorted(once.values(), key=lambda e: (e["n"], e["at_ms"], e["id"]))


def _readings(entries: list[dict], test: str | None) -> tuple[dict, int]:
    """(history by place and quantity, how many readings this test does not ask for)."""
    history, strays, kept = {}, 0, False
    for entry in entries:
        kept = kept or entry["kind"] == "measure.kept"
        if entry["kind"] != "measure.read":
            continue
        body = entry["body"]
        if test is None or quantities().get(body["quantity"], {}).get("test") != test or not is_place(test, body["place"]):
            strays += 1
            continue
        said = body["value"] if body["value"] is not None else body["word"] or None
        history.setdefault((body["place"], body["quantity"]), []).append(Change(said, entry["at_ms"], body.get("why", ""), kept))
    return history, strays


def _status(kinds: set[str]) -> str:
    if "measure.started" not in kinds:
        return "incomplete"
    return "stopped" if "measure.abandoned" in kinds else "kept" if "measure.kept" in kinds else "running"


def measured_from(entries: Iterable[dict]) -> Measured:
    """The test that these entries (all of one subject, at least one) describe, in whatever order they came."""
    entries = in_order(entries)
    bodies: dict[str, list[dict]] = {}
    for entry in entries:
        bodies.setdefault(entry["kind"].removeprefix("measure."), []).append(entry["body"])
    start = next((e for e in entries if e["kind"] == "measure.started"), None)
    body = start["body"] if start else {}
    history, strays = _readings(entries, body.get("test"))
    order = list(quantities())
    places = sorted(history, key=lambda at: (at[0], order.index(at[1])))
    return Measured(
        id=entries[0]["subject"],
        status=_status({e["kind"] for e in entries}),
        test=body.get("test"),
        title=body.get("title", ""),
        glasses=tuple(body.get("glasses", ())),
        setup=whole_setup(body["test"], body["setup"]) if start else {},
        readings=_laid(body) | {place: history[place][-1].said for place in places if history[place][-1].said is not None},
        history={place: tuple(history[place]) for place in places},
        consent=body.get("consent"),
        operator=body.get("operator"),
        notes=tuple(said["text"] for said in bodies.get("noted", ())),
        photos=tuple(Picture(e["id"], *(e["body"][k] for k in ("place", "width", "height", "caption"))) for e in entries if e["kind"] == "measure.photo"),
        reason=next((said["reason"] for said in bodies.get("abandoned", ())), None),
        started_ms=start["at_ms"] if start else None,
        device=entries[0]["device"],
        strays=strays,
        session=body.get("session"),
        dishes=tuple(body.get("dishes", ())),
    )


def _laid(body: dict) -> dict[tuple[str, str], str]:
    """Which glass lies on which square, as the session's plan has it."""
    return {(dish["place"], "glass"): dish["letter"] for dish in body.get("dishes", ()) if dish["place"]}


def under_cover(measured: Measured) -> Measured:
    """The test of a blind session while that runs: the code on its dish, no name, no setup and no reading."""
    codes = [dish["code"] for dish in measured.dishes]
    glass = {"key": None, "name": f"dish {codes[0]}" if len(codes) == 1 else f"{len(codes)} dishes", "piece_id": None, "piece": None, "mass_g": None}
    bare = {"title": "", "setup": {}, "readings": {}, "history": {}, "consent": None, "operator": None, "notes": (), "photos": (), "reason": None, "strays": 0, "dishes": ()}
    return replace(measured, status="covered", glasses=(glass,), **bare)


def shown(measured: Measured, seen: frozenset[str]) -> Measured:
    """The test, under cover where its session is not open to all."""
    return under_cover(measured) if measured.session and measured.session not in seen else measured


def accept(session: Session, raw_entry: dict, received_ms: int) -> str:
    """Store one entry, or find it stored already: 'stored' or 'same'. Raises Refused or Differs."""
    return log.accept(session, KINDS, raw_entry, received_ms)


def entries_of(session: Session, test_id: str) -> list[dict]:
    """All entries of one test in the tablet's order. Raises Missing."""
    found = log.entries(session, "measure", subject=test_id)
    if not found:
        raise Missing("No measured test with this number has arrived here. It may still be on its tablet.", code="no_such_test")
    return in_order(found)


def of_session(session: Session, session_id: str) -> dict[int, list[Measured]]:
    """The tests of a session by run, in the order in which they were made; nothing of them is covered."""
    starts = select(log.BenchEntry.subject).where(log.BenchEntry.session == session_id)
    gathered: dict[str, list[dict]] = {}
    for row in session.exec(select(log.BenchEntry).where(log.BenchEntry.subject.in_(starts), log.BenchEntry.kind != "measure.photo").order_by(log.BenchEntry.at_ms, log.BenchEntry.seq)):
        gathered.setdefault(row.subject, []).append(log.as_wire(row))
    runs: dict[int, list[Measured]] = {}
    for measured in (measured_from(entries) for entries in gathered.values()):
        for dish in measured.dishes:
            runs.setdefault(dish["run"], []).append(measured)
    return runs


def last_seq(session: Session, test_id: str | None = None) -> int:
    """Number of the entry of measured tests, or of one of them, or of sessions (which cover them), that came last; 0 when none has."""
    own = log.last_seq(session, "measure") if test_id is None else session.exec(select(func.max(log.BenchEntry.seq)).where(log.BenchEntry.subject == test_id)).one() or 0
    return max(own, log.last_seq(session, "plan"))


def all_measured(session: Session) -> list[Measured]:
    """Every test without its photos, newest start first; one whose start has not arrived stands on top. Those of covered sessions tell nothing."""
    seen = plan.open_to_all(session)
    gathered: dict[str, list[dict]] = {}
    rows = select(log.BenchEntry).where(of_words(log.BenchEntry.kind, "measure"), log.BenchEntry.kind != "measure.photo")
    for row in session.exec(rows):
        gathered.setdefault(row.subject, []).append(log.as_wire(row))
    found = [shown(measured_from(entries), seen) for entries in gathered.values()]
    return sorted(found, key=lambda t: (t.started_ms is None, t.started_ms or 0, t.id), reverse=True)
