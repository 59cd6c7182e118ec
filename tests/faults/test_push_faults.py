"""Power cuts, full disks and lost replies. What was acknowledged is stored, exactly once, in a sound file."""

import sqlite3
import uuid

import httpx
import pytest
from sqlalchemy import event, text

from server.errors import Unavailable
from server.sync.push import Batch, push
from tests.conftest import LiveServer
from tests.entries import started, whole_trial

# A server that dies by kill -9 at a named moment, once: after the rows are written but before the commit, or after it but before the reply.
DIES = """
import os, signal, sys
from pathlib import Path
import uvicorn
from sqlalchemy import event
from server.app import create_app
from server.settings import Settings
database, port = sys.argv[1:3]
app = create_app(Settings(database=Path(database)))
mark = Path(database).with_name("died")
def die(*_):
    if not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
MOMENT
uvicorn.run(app, host="127.0.0.1", port=int(port), log_level="warning")
"""
BEFORE_COMMIT = """
event.listen(app.state.store.engine, "commit", die)
"""
AFTER_COMMIT = """
from server.sync import routes
push = routes.push_entries
from contextlib import contextmanager
write = app.state.store.write
@contextmanager
def write_then_die():
    with write() as session:
        yield session
    die()
app.state.store.write = write_then_die
"""


def ids_in(database) -> list[str]:
    """The file's entries in order of arrival, after asking SQLite whether the file is sound."""
    with sqlite3.connect(database) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return [row[0] for row in connection.execute("SELECT id FROM trial_entry ORDER BY seq")]


def send(url: str, entries: list[dict]) -> set[str]:
    """Ids that the desk acknowledged; none when no reply came."""
    try:
        answer = httpx.post(f"{url}/sync/push", json={"entries": entries}, timeout=20)
    except httpx.TransportError:
        return set()
    verdicts = answer.json().get("verdicts", [])
    return {v["id"] for v in verdicts if v["verdict"] in ("stored", "same")}


@pytest.fixture
def dying(database):
    """Call with a moment for a server that kills itself then, once."""
    servers = []

    def start(moment: str) -> LiveServer:
        servers.append(LiveServer(database, DIES.replace("MOMENT", moment)).start())
        return servers[-1]

    yield start
    for server in servers:
        server.kill()


@pytest.mark.parametrize(("moment", "is_kept"), [(BEFORE_COMMIT, False), (AFTER_COMMIT, True)], ids=["before-commit", "after-commit"])
def test_kill_around_the_commit(dying, database, moment, is_kept):
    server = dying(moment)
    entries = whole_trial()
    assert send(server.url, entries) == set()
    assert server.process.wait(timeout=20) == -9
    assert ids_in(database) == ([e["id"] for e in entries] if is_kept else [])
    server.start()
    assert send(server.url, entries) == {e["id"] for e in entries}
    assert ids_in(database) == [e["id"] for e in entries]


def test_kills_under_load_never_lose_what_was_acknowledged(live_server, database):
    acknowledged, batches = set(), [whole_trial() for _ in range(24)]
    for number, batch in enumerate(batches):
        acknowledged |= send(live_server.url, batch)
        if number % 6 == 5:
            live_server.kill()
            live_server.start()
    for batch in batches:
        acknowledged |= send(live_server.url, batch[::-1])
    stored = ids_in(database)
    assert len(acknowledged) == 24 * 6
    assert acknowledged == set(stored) and len(stored) == len(set(stored))


def fill(store) -> None:
    """Let the file grow no further."""

    def limit(connection, _record):
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages + 2}")

    store.engine.dispose()
    event.listen(store.engine, "connect", limit)


def test_a_full_disk_confirms_nothing_and_leaves_the_file_sound(store, database):
    with store.write() as session:
        push(session, Batch(entries=whole_trial()), 1)
    before = ids_in(database)
    fill(store)
    big = [started(str(uuid.uuid4()), torch="x" * 500) for _ in range(400)]
    with pytest.raises(Unavailable, match="full") as caught, store.write() as session:
        push(session, Batch(entries=big), 2)
    assert caught.value.code == "storage_failed"
    assert ids_in(database) == before
    with store.read() as session:
        assert session.execute(text("SELECT last FROM counter WHERE name = 'feed'")).scalar() == len(before)


def test_a_locked_file_is_a_503_that_stores_nothing(live_server, database):
    with sqlite3.connect(database, isolation_level=None) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = httpx.post(f"{live_server.url}/sync/push", json={"entries": whole_trial()}, timeout=30)
        other.execute("ROLLBACK")
    assert (answer.status_code, answer.json()["code"]) == (503, "storage_failed")
    assert "verdicts" not in answer.json() and ids_in(database) == []
    entries = whole_trial()
    assert send(live_server.url, entries) == {e["id"] for e in entries}
