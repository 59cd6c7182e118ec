"""A sound book is called sound; each kind of damage and each remark is seen when it is made by hand."""

import sqlite3
import uuid
from contextlib import closing

import pytest

from demo.workshop import fill
from server.keeping.check import check
from server.sync.push import Batch, push
from tests import finds
from tests.entries import entry, pressed, stamp, whole_trial
from tests.measured import read
from tests.unit.sync.test_feed import own_glass


def arrive(store, entries) -> None:
    with store.write() as session:
        assert {v.verdict for v in push(session, Batch(entries=entries), 1)} == {"stored"}


def found(store) -> dict[str, int]:
    with store.read() as session:
        return {one.words: one.count for one in check(session).findings}


@pytest.fixture
def filled(store):
    find, piece = finds.subject(), finds.subject()
    arrive(store, [*whole_trial(), own_glass(), finds.opened(find), finds.added(piece, find), finds.weighed(piece, 3.0), finds.photo(piece)])
    return store, piece


def test_the_whole_demo_is_sound(store):
    fill(store)
    with store.read() as session:
        checked = check(session)
    assert checked.is_sound and checked.findings == [] and checked.entries > 300


DAMAGE = {
    "UPDATE trial_entry SET body = replace(body, '2.0', '3.0') WHERE kind = 'trial.started'": "Entries do not hold what was once sent.",
    "UPDATE trial_entry SET at_ms = at_ms + 1 WHERE seq = 2": "Entries do not hold what was once sent.",
    "UPDATE own_glass SET name = 'another'": "Entries do not hold what was once sent.",
    "UPDATE bench_entry SET kind = 'weather.noted' WHERE kind = 'piece.photo'": "Entries do not hold what was once sent.",
    "DELETE FROM trial_entry WHERE seq = 3": "Numbers of arrival are missing or given twice.",
    "UPDATE counter SET last = last + 5": "Numbers of arrival are missing or given twice.",
}


@pytest.mark.parametrize("change", DAMAGE)
def test_damage_is_seen(filled, database, change):
    store, _piece = filled
    assert found(store) == {}
    with closing(sqlite3.connect(database)) as connection:
        connection.execute(change)
        connection.commit()
    with store.read() as session:
        checked = check(session)
    assert DAMAGE[change] in {one.words for one in checked.findings if one.is_damage} and not checked.is_sound


def test_what_has_not_arrived_is_a_remark(filled):
    store, piece = filled
    subject = str(uuid.uuid4())
    arrive(store, [pressed(subject, 1, stamp("sagged", 3)), read(str(uuid.uuid4()), 1, "1", "length_mm", None), finds.added(finds.subject(), finds.subject(), label="Demo alone", code="KF7M5"), entry("firing.read", str(uuid.uuid4()), 1, {"t_c": 500.0})])
    with store.read() as session:
        checked = check(session)
    assert checked.is_sound
    assert {one.words for one in checked.findings} == {"Trials whose start has not arrived.", "Measured tests whose start has not arrived.", "Firings whose start has not arrived.", "Pieces whose find has not arrived."}


def test_masses_that_do_not_come_out_are_a_remark(filled):
    store, piece = filled
    arrive(store, [finds.used(piece, 2.0), finds.used(piece, 2.0)])
    arrive(store, whole_trial(piece="Demo sherd", piece_id=piece, consent=True, keeper="Demo keeper"))
    assert found(store) == {"More was taken from pieces than was left.": 1, "Tests used up something of a piece, and its ledger does not say so.": 1}
