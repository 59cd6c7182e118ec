"""A move that ends half-way leaves the source as it was and the target without an entry, and can be begun again. psql and sqlite3 are the witnesses."""

import signal
import sqlite3
import subprocess
import sys
from contextlib import closing

import pytest

from demo.workshop import fill
from server.__main__ import main
from server.app import open_store
from server.errors import Refused, Unavailable
from server.settings import Settings
from server.store import move
from server.store.engine import Store
from server.sync.push import Batch, push
from tests.entries import whole_trial
from tests.postgres import Cluster
from tests.processes import PATIENCE_S, ROOT, environment_with

# Ends itself with SIGKILL in the middle of the third table, or where the steps of the target have half been run.
KILLED = {
    "copy": "from server.store import move as m\nwhole = m._rows\ndef rows(c, t):\n    m.count = getattr(m, 'count', 0) + 1\n    m.count == 3 and die()\n    return whole(c, t)\nm._rows = rows",
    "steps": "from alembic import op\nadd = op.add_column\nop.add_column = lambda *a, **k: (die(), add(*a, **k))",
}
DIE = "import os, signal, sys\ndef die():\n    os.kill(os.getpid(), signal.SIGKILL)\n"
RUN = "\nfrom server.__main__ import main\nsys.exit(main(['move', '--from', sys.argv[1], '--to', sys.argv[2]]))\n"


def killed(where: str, source, target) -> None:
    """A move in a process of its own that dies there."""
    done = subprocess.run([sys.executable, "-c", DIE + KILLED[where] + RUN, str(source), str(target)], cwd=ROOT, env=environment_with({}), timeout=PATIENCE_S, capture_output=True, text=True)
    assert done.returncode == -signal.SIGKILL, done.stderr


def dump(path) -> list[str]:
    """Every row in the words of sqlite3's own dump, in an order of its own."""
    with closing(sqlite3.connect(path)) as connection:
        return sorted(line for line in connection.iterdump() if line.startswith("INSERT"))


def kept(cluster, url: str) -> str:
    """How many entries psql finds."""
    name = url.split("/")[3].split("?")[0]
    has_table = cluster.sql("SELECT to_regclass('trial_entry') IS NOT NULL", name) == "t"
    return cluster.sql("SELECT count(*) FROM trial_entry", name) if has_table else "0"


@pytest.fixture
def filled(store):
    """An open book with a workshop in it."""
    fill(store)
    return store


def test_a_move_into_postgres_killed_in_the_copy_is_begun_again(cluster, filled):
    url, before = cluster.empty(), dump(filled.path)
    killed("copy", filled.path, url)
    assert dump(filled.path) == before and kept(cluster, url) == "0"
    assert main(["move", "--from", str(filled.path), "--to", url]) == 0
    assert kept(cluster, url) == str(sum('"trial_entry"' in line for line in before)) != "0"


def test_a_move_into_a_file_killed_in_the_steps_is_begun_again(filled, tmp_path):
    target, before = tmp_path / "new.db", dump(filled.path)
    killed("steps", filled.path, target)
    assert dump(filled.path) == before and not [line for line in dump(target) if "entry" in line.split("VALUES")[0]]
    assert main(["move", "--from", str(filled.path), "--to", str(target)]) == 0
    assert dump(target) == before


def test_a_target_that_goes_away_in_the_middle_keeps_nothing(filled, monkeypatch):
    cluster = Cluster()
    try:
        url, before = cluster.empty(), dump(filled.path)
        whole = move.checksum
        monkeypatch.setattr(move, "checksum", lambda *given: (cluster.stop(), whole(*given))[1])
        with closing(Store(url)) as target, pytest.raises(Unavailable, match="could not be read or written"):
            move.move(filled, target)
        monkeypatch.undo()
        cluster.start()
        assert dump(filled.path) == before and kept(cluster, url) == "0"
        with closing(Store(url)) as target:
            move.move(filled, target)
        assert kept(cluster, url) != "0"
    finally:
        cluster.remove()


def test_what_differs_after_the_copy_is_not_kept(cluster, filled, monkeypatch):
    url, whole = cluster.empty(), move.checksum
    monkeypatch.setattr(move, "checksum", lambda connection, table: (*whole(connection, table)[:1], f"{connection.dialect.name}"))
    with closing(Store(url)) as target, pytest.raises(Unavailable, match="differs after the copy"):
        move.move(filled, target)
    assert kept(cluster, url) == "0"


def test_what_arrives_during_the_copy_is_not_lost_in_silence(cluster, filled, monkeypatch):
    url, whole = cluster.empty(), move._copy

    def copy(source, target, table):
        with filled.write() as session:
            push(session, Batch(entries=whole_trial()), 1)
        whole(source, target, table)

    monkeypatch.setattr(move, "_copy", copy)
    with closing(Store(url)) as target, pytest.raises(Unavailable, match="arrived in .* while it was copied"):
        move.move(filled, target)
    assert kept(cluster, url) == "0"


def test_a_database_in_use_is_left_as_it_is(cluster, filled):
    url = cluster.book()
    with closing(open_store(Settings(database_url=url))) as target:
        with target.write() as session:
            push(session, Batch(entries=whole_trial()), 1)
        with pytest.raises(Refused, match="holds a bench book already"):
            move.move(filled, target)
    assert kept(cluster, url) == "6"
