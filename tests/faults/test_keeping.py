"""Power cuts and full disks while a book is copied, changed by a new version, or served: only whole copies count, and the book is whole or untouched."""

import os
import resource
import signal
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing

import httpx
import pytest

from server.errors import Refused
from server.store import backup
from tests.entries import whole_trial
from tests.processes import PATIENCE_S, ROOT, Served, environment_with, isokom

KILLED_IN_A_STEP = """
import os, signal, sys
from alembic import op
from server.settings import Settings
from server.store.opening import open_store
real = op.create_index
def die(*words, **options):
    if words[0] == sys.argv[2]:
        os.kill(os.getpid(), signal.SIGKILL)
    return real(*words, **options)
op.create_index = die
open_store(Settings(database=sys.argv[1]))
"""
KILLED_IN_A_COPY = """
import os, signal, sys
from pathlib import Path
from server.store import backup
where = sys.argv[3]
setattr(os if where == "replace" else backup, where, lambda *words: os.kill(os.getpid(), signal.SIGKILL))
backup.copy(Path(sys.argv[1]), Path(sys.argv[2]))
"""


def run(script: str, *words, **options) -> subprocess.CompletedProcess:
    return subprocess.run([sys.executable, "-c", script, *map(str, words)], capture_output=True, text=True, timeout=PATIENCE_S, env=environment_with({}), cwd=ROOT, **options)


def tables(path) -> set[str]:
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}


FIRST = {"alembic_version", "counter", "trial_entry", "own_glass"}


@pytest.mark.parametrize(("index", "whole"), [("ix_own_glass_name", set()), ("ix_bench_entry_kind", FIRST), ("ix_join_miss_at_ms", FIRST | {"bench_entry"})])
def test_killed_in_the_middle_of_a_step_the_book_is_whole_before_it_and_the_next_start_goes_through(tmp_path, index, whole):
    """SQLite's changes of tables belong to the transaction (https://sqlite.org/lang_transaction.html)."""
    book = tmp_path / "bench.db"
    assert run(KILLED_IN_A_STEP, book, index).returncode == -signal.SIGKILL
    assert tables(book) == whole
    assert isokom("check", "--database", book).returncode == 0
    assert {"trial_entry", "peer", "join_miss"} <= tables(book)


@pytest.mark.parametrize("where", ["look", "_seal", "replace", "_sync_folder"])
def test_killed_in_the_middle_of_a_copy_only_a_whole_one_bears_a_name(store, database, tmp_path, where):
    folder = tmp_path / "backups"
    done = run(KILLED_IN_A_COPY, database, folder / backup.name_at(backup.datetime.now(backup.UTC)), where)
    assert done.returncode == -signal.SIGKILL, done.stderr
    for path in folder.glob("*.db"):
        if not path.name.startswith("."):
            backup.look(path)
    assert isokom("backup", "--database", database).returncode == 0


def test_a_disk_that_is_full_leaves_no_half_backup_and_no_changed_book(store, database, tmp_path):
    """A limit on the size of files stands for the full disk (setrlimit, POSIX)."""

    def small_files():
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000))

    done = subprocess.run([sys.executable, "-m", "server", "backup", str(tmp_path / "backups"), "--database", str(database)], capture_output=True, text=True, timeout=PATIENCE_S, env=environment_with({}), cwd=ROOT, preexec_fn=small_files)
    assert done.returncode == 1 and done.stderr.startswith("isokom: No backup could be made") and "Traceback" not in done.stderr, done.stderr
    assert not list((tmp_path / "backups").glob("*"))
    assert "trial_entry" in tables(database)


def test_copies_made_while_tablets_push_hold_whole_batches(tmp_path):
    """A batch is one transaction, so a copy holds all six entries of a trial, or none."""
    book, ended = tmp_path / "bench.db", threading.Event()
    with Served("serve", "--port", 0, "--database", book) as served:

        def push():
            with httpx.Client() as client:
                while not ended.is_set():
                    client.post(f"{served.url}/sync/push", json={"entries": whole_trial()}).raise_for_status()

        threads = [threading.Thread(target=push) for _ in range(3)]
        for thread in threads:
            thread.start()
        try:
            copies = []
            while len({one.entries for one in copies}) < 4 and len(copies) < 500:
                copies.append(backup.copy(book, tmp_path / "backups" / f"{len(copies)}.db"))
        finally:
            ended.set()
            for thread in threads:
                thread.join()
        assert {one.entries % 6 for one in copies} == {0} and len({one.entries for one in copies}) == 4
        refused = isokom("restore", copies[0].path, "--database", book)
        assert refused.returncode == 1 and "Stop it first" in refused.stderr
        os.kill(served.process.pid, signal.SIGKILL)
        served.process.wait(PATIENCE_S)
    assert isokom("restore", copies[0].path, "--database", book).returncode == 0
    with closing(sqlite3.connect(book)) as connection:
        assert connection.execute("SELECT count(*) FROM trial_entry").fetchone() == (copies[0].entries,)


def test_what_is_no_backup_is_told(tmp_path):
    (tmp_path / "a.db").write_text("a letter")
    with pytest.raises(Refused):
        backup.look(tmp_path / "a.db")
