"""Twenty tablets push at once to one real server: each entry is confirmed and stored once, numbered without a gap."""

import sqlite3
from contextlib import closing

from tests.faults.tablets import push_at_once


def test_twenty_tablets_at_once(live_server, database):
    tablets, _took_s = push_at_once(live_server.url, 20, 3)
    live_server.stop()
    with closing(sqlite3.connect(database)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        stored = connection.execute("SELECT seq, id FROM trial_entry ORDER BY seq").fetchall()
    confirmed = [number for tablet in tablets for number in tablet.confirmed]
    assert len(confirmed) == len(set(confirmed)) == 20 * 3 * 36
    assert [seq for seq, _id in stored] == list(range(1, len(confirmed) + 1))
    assert {number for _seq, number in stored} == set(confirmed)
