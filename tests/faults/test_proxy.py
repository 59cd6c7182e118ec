"""Tablets and machines over a line on which requests and answers are lost, told twice, late, cut and changed: what a real server has confirmed it holds exactly once and as it was sent."""

import json
import sqlite3
from contextlib import closing

import httpx
import pytest

from server.errors import Unavailable
from server.exchange import peers
from server.exchange.between import Exchange
from server.exchange.remote import Remote
from server.keeping.check import check
from server.store.engine import Store
from server.sync import feed
from server.sync.digest import FIELD, OF_ANSWERS, digest_of, fits
from server.sync.push import Batch, push
from tests import finds
from tests.books import empty_book
from tests.entries import whole_trial
from tests.faults.proxy import Proxy
from tests.machines import Lost, Tablet

MOST_TRIES = 600


class ByTheLine:
    """What tests.machines.Tablet asks, over HTTP as static/sync/push.js does it: with digests, and a wrong one is a broken line."""

    def __init__(self, url: str):
        self.client = httpx.Client(base_url=url, timeout=30)

    def request(self, method: str, path: str, **options) -> httpx.Response:
        if "json" in options:
            body = json.dumps(options.pop("json")).encode()
            options |= {"content": body, "headers": {"Content-Type": "application/json", FIELD: digest_of(body)}}
        try:
            answer = self.client.request(method, path, **options)
            told = answer.json()
        except (httpx.HTTPError, ValueError) as error:
            raise Lost from error
        if answer.status_code != 200 or not fits(answer.headers.get(OF_ANSWERS, ""), answer.content):
            raise Lost(told)
        return answer


def held(database) -> dict[str, dict]:
    """Every entry, by number, read past our own door; each once, in a sound file."""
    with closing(sqlite3.connect(database)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    store = Store(database)
    try:
        with store.read() as session:
            texts = [json.loads(text) for entries, _mark in feed.every_page(session) for text in entries]
            assert check(session).is_sound
    finally:
        store.close()
    assert len({one["id"] for one in texts}) == len(texts)
    return {one["id"]: one for one in texts}


@pytest.mark.parametrize("seed", [1, 2])
def test_what_a_tablet_believes_sent_is_there_once_and_as_it_was(live_server, database, seed):
    tablet = Tablet()
    for _ in range(25):
        for one in whole_trial():
            tablet.record(one)
    with Proxy(live_server.port, seed, 0.6) as proxy:
        line, tries = ByTheLine(proxy.url), 0
        while not all(tablet.sent.values()) or not all(proxy.met.values()):
            tries += 1
            assert tries < MOST_TRIES, proxy.met
            if all(tablet.sent.values()):
                for one in whole_trial():
                    tablet.record(one)
            try:
                tablet.flush(line)
            except Lost:
                continue
        proxy.let_go()
    live_server.stop()
    assert held(database) == tablet.entries


def test_two_machines_come_to_hold_the_same_over_such_a_line(live_server, database, tmp_path):
    piece = finds.subject()
    here, there = [*(e for _ in range(30) for e in whole_trial()), finds.photo(piece), finds.photo(piece)], [e for _ in range(30) for e in whole_trial()]
    store = Store(empty_book(tmp_path / "laptop.db"))
    assert httpx.post(f"{live_server.url}/sync/push", json={"entries": there}).status_code == 200
    with store.write() as session:
        push(session, Batch(entries=here), 1)
        peer = peers.keep(session, "http://desk", "desk").id
    done = 0
    with Proxy(live_server.port, 3, 0.5) as proxy:
        for _ in range(MOST_TRIES):
            remote = Remote(proxy.url, "", pause=lambda _s: None)
            try:
                Exchange(store, peer, remote, iter(range(1_790_000_000_000, 1_800_000_000_000)).__next__).run()
                done += 1
            except Unavailable:
                continue
            finally:
                remote.close()
            if done > 12 and all(proxy.met.values()):
                break
        proxy.let_go()
    store.close()
    live_server.stop()
    assert held(database) == held(tmp_path / "laptop.db") == {one["id"]: one for one in (*here, *there)}
    assert all(proxy.met.values()), proxy.met
