"""Tables of every trial leave the desk a few trials at a time: what is held is counted, not weighed."""

import csv
import gc
import io
import weakref

import pytest

from server.package.archive import write
from server.package.gather import entries, gather
from server.package.tables import licence
from server.trial import log, results
from server.trial.timing import trial_from
from tests.client import Client
from tests.contract.test_scale import fill
from tests.entries import entry, pressed, stamp, whole_trial
from tests.packages import CREATED, put

MANY = 400


class Counted:
    """How many trials are held at once, at most, by what Python itself still holds."""

    def __init__(self):
        self.alive: list[weakref.ref] = []
        self.most, self.count = 0, 0

    def made(self, trial_entries):
        """As trial_from."""
        trial = trial_from(trial_entries)
        self.count += 1
        self.alive = [one for one in self.alive if one() is not None] + [weakref.ref(trial)]
        self.most = max(self.most, len(self.alive))
        return trial


@pytest.fixture
def counted(monkeypatch) -> Counted:
    gc.collect()
    found = Counted()
    monkeypatch.setattr(log, "trial_from", found.made)
    return found


def test_the_table_of_trials_holds_one_at_a_time(store, counted):
    fill(store, 0, MANY)
    with store.read() as session:
        lines = log.told(session, results.csv_line)
    assert sum(1 for _line in lines) == counted.count == MANY
    assert counted.most <= 3


def test_a_package_holds_one_at_a_time(store, counted):
    fill(store, 0, MANY)
    with store.read() as session:
        book, out = gather(session), io.BytesIO()
        write(out, book, entries(session, book), CREATED, licence("CC-BY-4.0"))
    assert counted.count == len(book.trials) == MANY and counted.most <= 3


def test_the_table_stands_in_the_order_of_the_list(app):
    """Newest start first, one without a start on top; the list of trials is the witness."""
    lost = pressed("018f0000-0000-7000-8000-00000000beef", 1, stamp("sagged", 14))
    put(app.state.store, [lost, *(one for at in (3, 1, 2) for one in whole_trial(at_s=(at, at + 14, at + 31, at + 45, at + 55))), entry("trial.noted", lost["subject"], 2, {"text": "=1+1"})])
    rows = list(csv.DictReader(io.StringIO(Client(app).get("/results/trials.csv").text, newline="")))
    with app.state.store.read() as session:
        assert [row["trial_id"] for row in rows] == [trial.id for trial in log.trials(session)]
    assert rows[0]["trial_id"] == lost["subject"] and rows[0]["note"] == "'=1+1"
    assert [row["started_utc"] for row in rows[1:]] == sorted((row["started_utc"] for row in rows[1:]), reverse=True)
