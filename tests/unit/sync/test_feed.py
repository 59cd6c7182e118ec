"""The feed hands on everything once and in order, whatever the pages' size, and a mark is known only where history is the same."""

import json
import uuid

import pytest
from sqlalchemy import event

from server.errors import Differs
from server.sync import feed
from server.sync.feed import START, Mark
from server.sync.push import Batch, push
from tests import finds
from tests.entries import entry, whole_trial

AMOUNTS = [{"name": "SiO2", "text": "70", "unit": "wt"}, {"name": "Na2O", "text": "18", "unit": "wt"}, {"name": "CaO", "text": "12", "unit": "wt"}]


def own_glass() -> dict:
    return entry("glass.added", str(uuid.uuid4()), 0, {"name": "Demo own glass", "amounts": AMOUNTS})


def book() -> list[dict]:
    """Entries of every table, in an order of their own."""
    find, piece = finds.subject(), finds.subject()
    return [own_glass(), *whole_trial(), finds.opened(find), finds.added(piece, find), finds.photo(piece), *whole_trial(), own_glass(), finds.weighed(piece, 3.5)]


def take(store, entries: list[dict], received_ms: int = 1) -> Mark:
    """Push; the mark after it."""
    with store.write() as session:
        assert {v.verdict for v in push(session, Batch(entries=entries), received_ms)} <= {"stored", "same"}
        return feed.head(session)


@pytest.mark.parametrize("bounds", [{}, {"most_entries": 1}, {"most_entries": 4}, {"most_bytes": 1}, {"most_bytes": 900}])
def test_pages_hold_everything_once_in_order(store, bounds):
    made = book()
    head = take(store, made)
    with store.read() as session:
        pages = list(feed.every_page(session, **bounds))
    told = [json.loads(text) for entries, _mark in pages for text in entries]
    assert [(e["id"], e["kind"], e["subject"], e["n"], e["device"], e["at_ms"]) for e in told] == [(e["id"], e["kind"], e["subject"], e["n"], e["device"], e["at_ms"]) for e in made]
    assert pages[-1][1] == head
    assert len(pages) >= (len(made) if 1 in bounds.values() else 1)


def test_what_is_handed_on_is_the_same_elsewhere(store, tmp_path):
    from server.app import open_store
    from server.settings import Settings

    made = book()
    take(store, made)
    with store.read() as session:
        told = [json.loads(text) for entries, _mark in feed.every_page(session, most_entries=5) for text in entries]
    other = open_store(Settings(database=tmp_path / "other.db"))
    take(other, told[::-1], received_ms=2)
    with other.write() as session:
        assert {v.verdict for v in push(session, Batch(entries=made), 3)} == {"same"}
    with store.write() as session:
        assert {v.verdict for v in push(session, Batch(entries=told), 3)} == {"same"}
    other.close()


def test_until_ends_a_page_at_a_number(store):
    made = book()
    take(store, made)
    with store.read() as session:
        entries, mark, more = feed.page(session, START, until=4)
        assert (len(entries), mark.seq, more) == (4, 4, False)
        assert feed.page(session, mark, until=4) == ([], mark, False)


def test_a_mark_is_known_where_it_was_given_and_nowhere_else(store):
    assert take(store, []) == START
    first, last = take(store, book()), take(store, [*whole_trial(), own_glass()])
    with store.read() as session:
        assert all(feed.knows(session, mark) for mark in (START, first, last))
        for wrong in (Mark(seq=last.seq + 1, id=last.id, received_ms=1), last.model_copy(update={"received_ms": 2}), last.model_copy(update={"id": first.id}), first.model_copy(update={"seq": 1})):
            assert not feed.knows(session, wrong)
            with pytest.raises(Differs):
                feed.page(session, wrong)


def test_a_book_set_back_that_took_the_same_entries_again_does_not_know_the_mark(store, tmp_path):
    """The numbers, and even the entry at that number, may be the same after all: it came at another moment."""
    from server.app import open_store
    from server.settings import Settings

    before, after = whole_trial(), whole_trial()
    take(store, before)
    mark = take(store, after, received_ms=5)
    older = open_store(Settings(database=tmp_path / "older.db"))
    take(older, before)
    assert take(older, [*after[:2], whole_trial()[0], *after[3:]], received_ms=6).seq == mark.seq
    with older.read() as session:
        assert not feed.knows(session, mark)
    older.close()


@pytest.fixture
def statements(store) -> list[int]:
    """One number: how many statements were run."""
    counted = [0]
    event.listen(store.engine, "before_cursor_execute", lambda *_said: counted.append(counted.pop() + 1))
    return counted


def test_the_work_is_bounded(store, statements):
    """As many statements for a page of a large book as of a small one."""
    told = []
    for more in (book(), [e for _ in range(60) for e in whole_trial()]):
        take(store, more)
        statements[:] = [0]
        with store.read() as session:
            feed.page(session, most_entries=10)
            feed.head(session)
        told += statements
    assert told[0] == told[1] <= 16


def test_a_batch_takes_as_few_statements_whatever_its_size(store, statements):
    told = []
    for size in (1, 60):
        entries = [e for _ in range(size) for e in whole_trial()]
        statements[:] = [0]
        take(store, entries)
        told += statements
    assert told[0] == told[1]
