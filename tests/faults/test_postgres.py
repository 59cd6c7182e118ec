"""Several servers on one PostgreSQL: each entry is stored once and numbered without a gap, also when a server is killed or the database goes away. psql is the witness."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from random import Random

import httpx
import pytest

from tests.conftest import LiveServer
from tests.entries import whole_trial
from tests.postgres import Cluster

SERVES = """
import sys
import uvicorn
from server.app import create_app
from server.settings import Settings
uvicorn.run(create_app(Settings(database_url=sys.argv[1])), host="127.0.0.1", port=int(sys.argv[2]), log_level="error")
"""


def name_in(url: str) -> str:
    return url.split("/")[3].split("?")[0]


def stored(cluster: Cluster, url: str) -> list[tuple[int, str]]:
    """(seq, id) of the trial entries, as psql reads them."""
    lines = cluster.sql("SELECT seq, id FROM trial_entry ORDER BY seq", name_in(url)).splitlines()
    return [(int(line.split("|")[0]), line.split("|")[1]) for line in lines]


def send(server: LiveServer, entries: list[dict]) -> list[tuple[str, str]]:
    """(id, verdict) of each entry; none where no reply came."""
    try:
        answer = httpx.post(f"{server.url}/sync/push", json={"entries": entries}, timeout=30)
    except httpx.TransportError:
        return []
    return [(v["id"], v["verdict"]) for v in answer.json().get("verdicts", [])]


@pytest.fixture
def two_servers(cluster):
    """(address of an empty database, two servers that started on it at once, one of them having to run the steps)."""
    url = cluster.empty()
    pair = [LiveServer(Path(), SERVES) for _ in range(2)]
    for server in pair:
        server.database = url
    with ThreadPoolExecutor(2) as threads:
        list(threads.map(LiveServer.start, pair))
    yield url, pair
    for server in pair:
        server.kill()


def batches(seed: int) -> tuple[set[str], list[list[dict]]]:
    """(ids, overlapping batches in a shuffled order): every entry is in several of them."""
    entries = [one for _ in range(12) for one in whole_trial()]
    chance = Random(seed)
    made = [chance.sample(entries, 30) for _ in range(12)] + [entries[i : i + 24] for i in range(0, len(entries), 12)]
    chance.shuffle(made)
    return {one["id"] for one in entries}, made


def test_overlapping_batches_on_two_servers_are_stored_once_without_a_gap(cluster, two_servers):
    url, pair = two_servers
    ids, made = batches(1)
    with ThreadPoolExecutor(6) as threads:
        told = [v for reply in threads.map(lambda job: send(pair[job[0] % 2], job[1]), enumerate(made)) for v in reply]
    found = stored(cluster, url)
    assert {i for _, i in found} == ids and [seq for seq, _ in found] == list(range(1, len(ids) + 1))
    assert sorted(i for i, verdict in told if verdict == "stored") == sorted(ids)
    assert {verdict for _, verdict in told} == {"stored", "same"}


def test_a_server_killed_among_the_pushes_loses_nothing_that_it_confirmed(cluster, two_servers):
    url, pair = two_servers
    ids, made = batches(2)

    def job(numbered):
        number, entries = numbered
        if number == 7:
            pair[0].kill()
        return send(pair[number % 2], entries)

    with ThreadPoolExecutor(6) as threads:
        told = [v for reply in threads.map(job, enumerate(made)) for v in reply]
    found = stored(cluster, url)
    assert {i for i, _ in told} <= {i for _, i in found}
    assert [seq for seq, _ in found] == list(range(1, len(found) + 1))
    for entries in made:
        send(pair[1], entries)
    assert {i for _, i in stored(cluster, url)} == ids and len(stored(cluster, url)) == len(ids)


def test_the_database_goes_away_and_comes_back_without_a_restart():
    cluster = Cluster()
    url = cluster.book()
    server = LiveServer(Path(), SERVES)
    server.database = url
    try:
        server.start()
        first, second = whole_trial(), whole_trial()
        assert {verdict for _, verdict in send(server, first)} == {"stored"}
        cluster.stop()
        refused = httpx.post(f"{server.url}/sync/push", json={"entries": second}, timeout=30)
        assert refused.status_code == 503 and refused.json()["code"] == "storage_failed"
        health = httpx.get(f"{server.url}/health", timeout=30)
        assert health.status_code == 503 and health.json()["ok"] is False
        cluster.start()
        assert httpx.get(f"{server.url}/health", timeout=30).json()["ok"] is True
        assert {verdict for _, verdict in send(server, first)} == {"same"}
        assert {verdict for _, verdict in send(server, second)} == {"stored"}
        assert len(stored(cluster, url)) == len(first) + len(second)
    finally:
        server.kill()
        cluster.remove()
