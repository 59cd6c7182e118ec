"""What became of every gram of a find. Pure; its twin is static/find/ledger.js, and a test holds both together.

All sums run in whole micrograms, so that nothing is lost to rounding and both sides agree to the last figure. For each piece
    start = left + cut off + used + lost + returned + unaccounted
holds always. `start` is the first weighing and what came by cutting it off another piece. What a later weighing finds missing is
unaccounted; what acts of several devices take together beyond what was left is `over`, and counts as negative unaccounted.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import floor
from types import MappingProxyType

from server.find.sentences import against
from server.find.statements import CONSENT, FACTS, Statements, consent_of, numbers, told, unsettled
from server.store.latest import said

TAKES = {"piece.cut": "cut", "piece.used": "used", "piece.lost": "lost", "piece.returned": "returned"}
ACTS = {"piece.weighed": "weighed", **TAKES}
UG_PER_G = 1_000_000
NOTHING: Mapping[str, float] = MappingProxyType({})


def micrograms(mass_g: float) -> int:
    """Whole µg."""
    return floor(mass_g * UG_PER_G + 0.5)


@dataclass(frozen=True)
class Row:
    """One act on a piece and what it did, in g. A row taken back (`struck`) did nothing."""

    entry: str
    at_ms: int
    act: str
    mass_g: float
    change_g: float
    left_g: float | None
    over_g: float
    unaccounted_g: float
    u_g: float | None
    test: str | None
    trial: str | None
    other: str | None
    words: str
    struck: bool
    why: str


@dataclass
class Book:
    """The running sums of one piece, in µg."""

    start: int = 0
    left: int = 0
    cut: int = 0
    used: int = 0
    lost: int = 0
    returned: int = 0
    unaccounted: int = 0
    over: int = 0
    known: bool = False
    weighed: bool = False
    u_g: float | None = None
    parent: str | None = None
    rows: list[Row] = field(default_factory=list)

    def weigh(self, mass: int) -> int:
        """What is missing since the last row, µg; negative where more was found than reckoned."""
        missing = self.left - mass if self.known else 0
        if not self.known:
            self.start += mass
        self.left, self.known, self.weighed = mass, True, True
        self.unaccounted += missing
        return missing

    def come(self, mass: int, parent: str) -> None:
        """Cut off another piece."""
        if not self.known and self.parent is None:
            self.parent = parent
        self.start += mass
        self.left += mass
        self.known = True

    def take(self, column: str, mass: int) -> int:
        """What the act took beyond what was left, µg."""
        over = max(0, mass - self.left)
        self.left -= mass - over
        setattr(self, column, getattr(self, column) + mass)
        self.unaccounted -= over
        self.over += over
        return over


@dataclass(frozen=True)
class Piece:
    """A piece with its sums in g. `left_g` is None until it was weighed or cut off another piece; `root` is the piece it was cut from first of all.

    `facts_latest`: numbers of the statements of its facts that a new one comes after; `unsettled`: ["facts"] where these say different things.
    """

    id: str
    facts: dict
    photos: list[dict]
    rows: list[Row]
    start_g: float
    left_g: float | None
    cut_g: float
    used_g: float
    lost_g: float
    returned_g: float
    unaccounted_g: float
    over_g: float
    weighed: bool
    u_g: float | None
    root: str
    facts_latest: list[str]
    unsettled: list[str]


@dataclass(frozen=True)
class Find:
    """A find, every statement of consent in order, what counts of them, and the sums of its pieces in g. `gone_g` is used and lost.

    `facts_latest`, `consent_latest`: numbers of the statements that a new one comes after; `unsettled`: of "facts" and "consent", where these say different things.
    """

    id: str
    facts: dict
    consents: list[dict]
    consent: dict | None
    start_g: float
    left_g: float | None
    gone_g: float
    over_g: float
    facts_latest: list[str]
    consent_latest: list[str]
    unsettled: list[str]


@dataclass(frozen=True)
class Finds:
    """All finds and pieces, in the order in which they were opened and added."""

    finds: list[Find]
    pieces: list[Piece]


def in_order(entries: Iterable[dict]) -> list[dict]:
    """Each entry of a find or piece once, by the wall clock; ids of one device rise by themselves."""
    mine = {entry["id"]: entry for entry in entries if entry["kind"].split(".")[0] in ("find", "piece")}
    return sorted(mine.values(), key=lambda e: (e["at_ms"], e["id"]))


def _row(entry: dict, act: str, change: int, book: Book, found: dict, undone: dict[tuple[str, str], str], other: str | None) -> Row:
    body = entry["body"]
    key = (entry["subject"], entry["id"])
    return Row(
        entry=entry["id"],
        at_ms=entry["at_ms"],
        act=act,
        mass_g=body["mass_g"],
        change_g=change / UG_PER_G,
        left_g=book.left / UG_PER_G if book.known else None,
        over_g=found.get("over", 0) / UG_PER_G,
        unaccounted_g=found.get("missing", 0) / UG_PER_G,
        u_g=body.get("u_g"),
        test=body.get("test"),
        trial=body.get("trial"),
        other=other,
        words=body.get("why", body.get("to", "")),
        struck=key in undone,
        why=undone.get(key, ""),
    )


def _act(books: dict[str, Book], entry: dict, undone: dict[tuple[str, str], str]) -> None:
    """Write one act into the books of the piece, and of the piece that was cut off it."""
    body, subject, act = entry["body"], entry["subject"], ACTS[entry["kind"]]
    counts = (subject, entry["id"]) not in undone
    mass = micrograms(body["mass_g"]) if counts else 0
    book = books.setdefault(subject, Book())
    before, found = book.left, {}
    if counts and act == "weighed":
        found["missing"] = book.weigh(mass)
        book.u_g = body["u_g"]
    elif counts:
        found["over"] = book.take(act, mass)
    book.rows.append(_row(entry, act, book.left - before, book, found, undone, body.get("into")))
    if act == "cut":
        child = books.setdefault(body["into"], Book())
        if counts:
            child.come(mass, subject)
        child.rows.append(_row(entry, "came", mass, child, {}, undone, subject))


def _root(books: dict[str, Book], piece: str) -> str:
    seen = {piece}
    while (parent := books[piece].parent if piece in books else None) and parent not in seen:
        seen.add(parent)
        piece = parent
    return piece


def _piece(key: str, stated: list[dict], books: dict[str, Book], photos: list[dict]) -> Piece:
    book = books.get(key) or Book()
    sums = {f"{name}_g": getattr(book, name) / UG_PER_G for name in ("start", "cut", "used", "lost", "returned", "unaccounted", "over")}
    left_g = book.left / UG_PER_G if book.known else None
    about = {"facts": said(stated[-1]), "facts_latest": numbers(stated), "unsettled": unsettled(facts=stated)}
    return Piece(id=key, photos=photos, rows=book.rows, left_g=left_g, weighed=book.weighed, u_g=book.u_g, root=_root(books, key), **sums, **about)


def _sum_g(masses: Iterable[float]) -> float:
    return sum(micrograms(mass_g) for mass_g in masses) / UG_PER_G


def _find(key: str, facts: Statements, consents: Statements, pieces: list[Piece]) -> Find:
    stated, agreed = facts.latest(key), consents.latest(key)
    own = [piece for piece in pieces if piece.facts["find"] == key]
    ids = {piece.id for piece in own}
    moved_g = _sum_g(row.change_g for piece in own for row in piece.rows if row.act == "came" and row.other in ids)
    known = [piece.left_g for piece in own if piece.left_g is not None]
    return Find(
        id=key,
        facts=said(stated[-1]),
        consents=[told(one) for one in consents.every.get(key, [])],
        consent=consent_of(agreed),
        start_g=_sum_g([*(piece.start_g for piece in own), -moved_g]),
        left_g=_sum_g(known) if known else None,
        gone_g=_sum_g(mass_g for piece in own for mass_g in (piece.used_g, piece.lost_g)),
        over_g=_sum_g(piece.over_g for piece in own),
        facts_latest=numbers(stated),
        consent_latest=numbers(agreed),
        unsettled=unsettled(facts=stated, consent=agreed),
    )


def finds_from(entries: Iterable[dict]) -> Finds:
    """The finds and pieces that these entries describe, with their ledgers. A piece or find whose facts have not arrived is left out, and so are entries of other kinds."""
    ordered = in_order(entries)
    undone = {(e["subject"], e["body"]["entry"]): e["body"]["why"] for e in reversed(ordered) if e["kind"] == "piece.undone"}
    facts, consents = {"find": Statements(), "piece": Statements()}, Statements()
    photos: dict[str, list[dict]] = {}
    books: dict[str, Book] = {}
    for entry in ordered:
        kind, subject = entry["kind"], entry["subject"]
        if kind in FACTS:
            facts[kind.split(".")[0]].add(entry)
        elif kind == CONSENT:
            consents.add(entry)
        elif kind == "piece.photo" and (subject, entry["id"]) not in undone:
            photos.setdefault(subject, []).append(told(entry))
        elif kind in ACTS:
            _act(books, entry, undone)
    pieces = [_piece(key, facts["piece"].latest(key), books, photos.get(key, [])) for key in facts["piece"].every]
    finds = [_find(key, facts["find"], consents, pieces) for key in facts["find"].every]
    return Finds(finds, pieces)


def may_use(find: Find | None, pieces: list[Piece], piece: Piece, mass_g: float | None, test: str, today: str, planned: Mapping[str, float] = NOTHING) -> list[str]:
    """Plain sentences that stand against using this much of a piece in a test; empty where nothing does.

    `pieces` are all pieces; `mass_g` None asks before the mass is known; `today` is a day as 2026-11-25; `planned` is what open sessions
    want of each piece by its id, g. Used, lost and planned counts against the limits, and what is cut off a piece counts with the piece
    it came from, or cutting would lift the limit.
    """
    own = [one for one in pieces if one.facts["find"] == piece.facts["find"]]
    groups = {"find": own, "piece": [one for one in own if one.root == piece.root], "alone": [piece]}
    gone = {name: _sum_g(some_g for one in some for some_g in (one.used_g, one.lost_g)) for name, some in groups.items()}
    wanted = {name: _sum_g(planned.get(one.id, 0.0) for one in some) for name, some in groups.items()}
    return against(find and find.facts, find and find.consent, gone, wanted, piece.left_g, mass_g, test, today)
