"""The book of findings that reads only what has come since equals one read anew, whatever arrives in whatever order; the old way of reading everything is the witness."""

import sqlite3
from contextlib import closing
from random import Random

import pytest
from sqlalchemy import event

from server.app import open_store
from server.find import log as find_log
from server.finding.book import Book
from server.finding.scatter import drift_factors
from server.finding.selection import Wanted, by_session, groups_of, timed
from server.plan import log as plan
from server.settings import Settings
from server.store.engine import Store
from server.sync.push import Batch, push
from server.trial import log
from tests import finds
from tests.books import empty_book
from tests.entries import WALL_0, entry, started, whole_trial
from tests.unit.session.test_queue import CONDITIONS, made

SESSIONS = [f"018f0000-0000-7000-8000-0000000010{n:02x}" for n in range(4)]
PIECES = [f"018f0000-0000-7000-8000-0000000020{n:02x}" for n in range(3)]


def take(store, entries: list[dict], received_ms: int = 1) -> None:
    with store.write() as session:
        assert [v for v in push(session, Batch(entries=entries), received_ms) if v.verdict != "stored"] == []


def read_anew(store) -> tuple[list, dict, dict]:
    """Rows, sessions and when blind ones ended, from every entry there is."""
    with store.read() as session:
        colours = {piece.id: piece.facts.get("colour") or "" for piece in find_log.finds(session).pieces}
        told = plan.entries(session)
        sessions = {e["subject"]: e for e in told if e["kind"] == "plan.made"}
        ended = {}
        for e in told:
            if e["kind"] in ("plan.closed", "plan.unblinded") and sessions.get(e["subject"], {}).get("body", {}).get("is_blind"):
                ended.setdefault(e["subject"], e["at_ms"])
        return timed(log.trials(session), colours), sessions, ended


def assert_same(book: Book, store) -> int:
    """The book as it is and as it reads anew; how many rows."""
    reading = book.read()
    rows, sessions, ended = read_anew(store)
    assert (reading.rows, reading.sessions, reading.ended) == (rows, sessions, ended)
    for wanted in (Wanted(), Wanted(by="corrected"), Wanted(colour="green"), Wanted(session=SESSIONS[0]), Wanted(by="steady")):
        fresh = [row for row in rows if (not wanted.colour or row.colour == wanted.colour) and (not wanted.session or row.session == wanted.session)]
        factors = drift_factors({number: e["body"] for number, e in sessions.items()}, by_session(rows)) if wanted.by == "steady" else None
        for _again in range(2):
            assert book.groups(reading, wanted) == groups_of(fresh, wanted.by, factors)
    return len(rows)


def some_entries(chance: Random) -> list[dict]:
    """What a workshop may send, before it is shuffled: trials of all sorts, sessions made, uncovered and closed, finds and pieces."""
    made_all = []
    for number, session in enumerate(SESSIONS):
        made_all.append({**made(is_blind=number != 1), "subject": session, "at_ms": WALL_0 - 1000})
        made_all.append(entry("plan.conditions", session, 1, {"conditions": {**CONDITIONS, "holder": f"tongs {number}"}, "why": "an invented reason"}, WALL_0 + number))
        made_all.append(entry("plan.closed", session, 2, {"why": ""}, WALL_0 + 9_000_000) if number != 2 else entry("plan.unblinded", session, 2, {"what": "all", "why": "an invented reason"}, WALL_0 + 5000))
    find = finds.subject()
    made_all += [finds.opened(find), *(finds.added(piece, find, colour=colour) for piece, colour in zip(PIECES, ("green", "amber", "green"), strict=True))]
    for number in range(30):
        s = chance.uniform(10, 30)
        session = chance.choice([None, None, *SESSIONS])
        more = {"session": session, "run": 0, "code": "AA"} if session else {}
        if number % 4 == 0:
            more |= {"piece": f"DEMO-{number % 3}", "piece_id": PIECES[number % 3], "consent": True}
        trial = whole_trial(at_s=(0, s, 3 * s, 3 * s + 5, 3 * s + 40), glass_key=f"demo-{number % 5}", glass_name=f"Demo {number % 5}", **more)
        subject, odd = trial[0]["subject"], chance.randrange(6)
        if odd == 0:
            trial.append(entry("trial.left_out", subject, 8, {"lane": "sag", "why": "a draught"}))
        elif odd == 1:
            trial.append(entry("trial.taken_back", subject, 8, {"entry": trial[2]["id"]}))
        elif odd == 2:
            trial.append(entry("trial.corrected", subject, 8, {"entry": trial[1]["id"], "shift_ms": -500, "reason": "late"}))
        elif odd == 3:
            trial.append(started(subject, 9, mass_g=3.5, glass_key="demo-9", glass_name="Demo 9"))
        made_all += trial
    return made_all


@pytest.mark.parametrize("seed", range(4))
def test_it_equals_one_that_is_read_anew_after_every_push(store, seed):
    chance = Random(seed)
    entries = some_entries(chance)
    chance.shuffle(entries)
    book, seen = Book(store), set()
    while entries:
        part, entries = entries[: (size := chance.randrange(1, 40))], entries[size:]
        take(store, part)
        if chance.random() < 0.7 or not entries:
            seen.add(assert_same(book, store))
    assert len(seen) > 3 and assert_same(Book(store), store) == max(seen) > 5


def test_a_book_that_was_set_back_and_has_grown_again_is_read_anew(store, tmp_path):
    """The same numbers of arrival, other entries."""
    first = [whole_trial(at_s=(0, s, 40, 45, 60), glass_key="demo-a") for s in (11.0, 12.0)]
    take(store, first[0])
    copy = tmp_path / "copy.db"
    with closing(sqlite3.connect(store.path)) as source, closing(sqlite3.connect(copy)) as target:
        source.backup(target)
    take(store, first[1])
    book = Book(store)
    assert assert_same(book, store) == 2
    with closing(Store(copy)) as back:
        book.store = back
        assert assert_same(book, back) == 1
        take(back, whole_trial(at_s=(0, 13.0, 40, 45, 60), glass_key="demo-b"), 7)
        assert assert_same(book, back) == 2
        take(back, [{**made(is_blind=True), "subject": SESSIONS[0]}], 8)
        book.store = store
        assert assert_same(book, store) == 2


def test_two_processes_books_of_one_store_tell_the_same(database):
    stores = [open_store(Settings(database=path)) for path in [empty_book(database)] * 2]
    books = [Book(one) for one in stores]
    for turn in range(6):
        take(stores[turn % 2], whole_trial(glass_key=f"demo-{turn % 2}"))
        assert [assert_same(book, one) for book, one in zip(books, stores, strict=True)] == [turn + 1] * 2
    for one in stores:
        one.close()


def many(store, count: int) -> None:
    for start in range(0, count, 80):
        take(store, [one for _ in range(start, min(start + 80, count)) for one in whole_trial(glass_key=f"demo-{start % 7}")])


class Work:
    """What SQLite does: statements, and its own count of steps (https://sqlite.org/c3ref/progress_handler.html), which is the same on a slow machine."""

    def __init__(self, store):
        self.statements, self.steps = [], 0
        event.listen(store.engine, "before_cursor_execute", lambda _c, _cursor, statement, *_more: statement.startswith("BEGIN") or self.statements.append(statement))
        event.listen(store.engine, "checkout", lambda connection, *_more: connection.set_progress_handler(self._step, 100))

    def _step(self) -> int:
        self.steps += 100
        return 0

    def of(self, what) -> tuple[int, int]:
        """(statements, steps) that it takes."""
        self.statements.clear()
        self.steps = 0
        what()
        return len(self.statements), self.steps


def test_one_new_trial_costs_the_same_among_two_thousand(store):
    work, book, costs = Work(store), Book(store), []
    for more in (200, 1800):
        many(store, more)
        _, everything = work.of(book.read)
        take(store, whole_trial())
        costs.append((work.of(book.read), everything))
        assert work.of(book.read)[0] == 2 and len(book.read().rows) == len(read_anew(store)[0])
    (small, _), (large, everything) = costs
    assert large[0] == small[0] < 10
    assert large[1] <= small[1] + 400 < everything / 20
