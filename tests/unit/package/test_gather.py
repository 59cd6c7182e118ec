"""What goes into a package: all that is open, nothing that is covered, or one session with what it names."""

import json

import pytest

from server.errors import Missing, Refused
from server.package.gather import LeftOut, entries, gather, key_of, named_glasses, named_pieces
from tests.entries import entry
from tests.packages import CHILD, COVERED, FIND, LOST, OWN, PIECE, SESSION, STRANGER, covered_tests, odd_entries, open_session, put


@pytest.fixture
def told(store):
    found = odd_entries()
    put(store, found)
    return found


def told_by(store, session_id: str | None = None) -> list[dict]:
    with store.read() as session:
        return [{**e, "body": json.loads(e["body"])} for e in entries(session, gather(session, session_id))]


def subjects(told: list[dict]) -> set[str]:
    return {e["subject"] for e in told}


def test_every_entry_that_is_open_comes_as_it_was_made_and_in_time(store, told):
    hidden = {COVERED} | {e["subject"] for e in told if e["body"].get("session") in (COVERED, LOST)}
    kept = [e for e in told if e["subject"] not in hidden]
    assert told_by(store) == sorted(kept, key=lambda e: (e["at_ms"], e["id"]))
    assert len(hidden) == 3 and len(kept) > 50


def test_what_is_covered_is_counted(store, told):
    with store.read() as session:
        book = gather(session)
    assert book.left_out == LeftOut(sessions=1, tests=2, entries=len(covered_tests()))
    assert not {t.status for t in (*book.trials, *book.measured)} & {"covered"}
    assert [s.id for s in book.sessions] == [SESSION]
    assert not any(key.startswith("covert") for key in named_glasses(book))


def test_it_comes_along_once_it_is_closed(store, told):
    put(store, [entry("plan.closed", COVERED, 9, {"why": ""})])
    with store.read() as session:
        book = gather(session)
    assert book.left_out == LeftOut(sessions=0, tests=1, entries=6)
    assert {"covert-a", "covert-b"} <= set(named_glasses(book)) and "covert-c" not in named_glasses(book)


def test_one_session_with_the_finds_and_own_glasses_that_it_names(store, told):
    with store.read() as session:
        book = gather(session, SESSION)
    assert ([s.id for s in book.sessions], len(book.trials), book.measured) == ([SESSION], 2, [])
    assert ({f.id for f in book.finds.finds}, {p.id for p in book.finds.pieces}) == ({FIND}, {PIECE, CHILD})
    assert [e["subject"] for e in book.own] == [OWN]
    wanted = {SESSION, FIND, PIECE, CHILD, OWN} | {t.id for t in book.trials}
    assert subjects(told_by(store, SESSION)) == wanted


def test_a_session_alone_needs_no_find(store):
    put(store, [e for e in open_session() if e["body"].get("piece") is None])
    assert SESSION in subjects(told_by(store, SESSION))


@pytest.mark.parametrize(("number", "error"), [(COVERED, Refused), (LOST, Missing)])
def test_a_session_that_is_covered_or_not_here_is_refused(store, told, number, error):
    with store.read() as session, pytest.raises(error):
        gather(session, number)


def test_one_key_for_one_glass():
    assert [key_of(key) for key in (None, "", f"own/{OWN}", OWN, "modern-float")] == [None, None, OWN, OWN, "modern-float"]


def test_pieces_that_are_named(store, told):
    with store.read() as session:
        assert named_pieces(gather(session)) == {PIECE, CHILD, STRANGER}


def test_more_entries_than_are_read_at_once_come_whole(store, monkeypatch):
    put(store, odd_entries())
    whole = told_by(store)
    monkeypatch.setattr("server.package.gather.AT_ONCE", 7)
    assert told_by(store) == whole and len(whole) > 50


def test_what_a_device_says_of_itself_stays_at_home(store, told):
    body = {"name": "Demo tablet of a demo person", "agent": "Demo browser", "checks": [{"key": "writing", "label": "Writing", "result": "good", "words": "", "figure": None, "unit": ""}]}
    put(store, [entry("device.tested", "018f0000-0000-7000-8000-0000000000d1", 0, body)])
    assert all(e["kind"] != "device.tested" for e in told_by(store)) and told_by(store)
