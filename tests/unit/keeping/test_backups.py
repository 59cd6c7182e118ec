"""Backups: sound or not there at all, made when something new has arrived, and put back without a trace of the old journal."""

import os
import sqlite3
import subprocess
from contextlib import closing
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pytest

from server.access import passes
from server.errors import NewerDatabase, Refused, Unavailable
from server.keeping import backups
from server.keeping.put_back import put_back
from server.settings import Settings
from server.store import backup
from server.store.lock import held, in_use_of
from server.store.opening import open_store
from server.sync.push import Batch, push
from tests.entries import whole_trial

NOW = datetime(2026, 11, 26, 12, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "backups"


def arrive(store, entries=None) -> list[str]:
    entries = entries or whole_trial()
    with store.write() as session:
        push(session, Batch(entries=entries), 1)
    return [e["id"] for e in entries]


def ids(path) -> set[str]:
    """What a file holds, read past our own code."""
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return {row[0] for row in connection.execute("SELECT id FROM trial_entry")}


def test_a_backup_is_whole_and_other_programs_say_so_too(store, database, folder):
    made = arrive(store)
    found = backups.make(database, folder, NOW)
    assert (found.path.name, found.entries) == ("bench-book-20261126-120000Z.db", 6)
    assert ids(found.path) == set(made)
    assert subprocess.run(["sha256sum", "-c", backup.sidecar(found.path).name], cwd=folder, capture_output=True).returncode == 0
    assert sorted(p.name for p in folder.iterdir()) == [found.path.name, backup.sidecar(found.path).name]


def test_what_was_not_committed_is_not_in_it(store, database, folder):
    made = arrive(store)
    with store.write() as session:
        push(session, Batch(entries=whole_trial()), 1)
        found = backups.make(database, folder, NOW)
    assert ids(found.path) == set(made)


def _cut(path):
    path.write_bytes(path.read_bytes()[:-5000])


def _flip(path):
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


def _rewrite(path):
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("DELETE FROM trial_entry WHERE seq = 3")
        connection.commit()


@pytest.mark.parametrize("checksum", [True, False], ids=["with", "without"])
@pytest.mark.parametrize("damage", [_cut, _rewrite, lambda path: path.write_bytes(b""), lambda path: path.write_text("a letter")], ids=["cut", "a row gone", "empty", "a letter"])
def test_a_damaged_backup_is_refused_and_the_book_stays(store, database, folder, damage, checksum):
    made = arrive(store)
    found = backups.make(database, folder, NOW).path
    store.close()
    damage(found)
    if not checksum:
        backup.sidecar(found).unlink()
    with pytest.raises(Refused):
        put_back(found, database, folder)
    assert ids(database) == set(made)


def test_a_flipped_bit_is_seen_by_the_checksum(store, database, folder):
    arrive(store)
    found = backups.make(database, folder, NOW).path
    _flip(found)
    with pytest.raises(Refused, match="checksum"):
        backup.look(found)


def test_put_back_the_book_is_the_backup_and_the_one_of_before_is_kept(store, database, folder):
    first = arrive(store)
    found = backups.make(database, folder, NOW).path
    second = arrive(store)
    store.close()
    done = put_back(found, database, folder, NOW)
    assert (done.sound.entries, ids(database), ids(done.before)) == (6, set(first), {*first, *second})
    again = open_store(Settings(database=database))
    assert ids(database) == set(first)
    arrive(again)
    again.close()


def _change_an_entry(database):
    with closing(sqlite3.connect(database)) as connection:
        connection.execute("UPDATE trial_entry SET body = replace(body, '2.0', '3.0')")
        connection.commit()


def test_a_book_whose_entries_were_changed_gives_no_backup_and_takes_none_away(store, database, folder):
    arrive(store)
    sound = backups.make(database, folder, NOW).path
    arrive(store)
    _change_an_entry(database)
    keeper = backups.Keeper(database, folder, every_hours=6)
    for days in range(1, 40):
        arrive(store)
        assert not keeper.look(NOW + timedelta(days=days)) and "damaged" in keeper.problem
        assert not keeper.look(NOW + timedelta(days=days, hours=1))  # not again each minute
    found = backups.listed(folder)
    assert [one.path for one in found if one.is_rotated] == [sound]
    assert len([one for one in found if one.is_damaged]) == backups.DAMAGED_KEPT
    assert len(ids(found[0].path)) == 6 * 41  # all that there is, for whoever mends it


def test_a_book_of_an_older_version_is_copied_all_the_same(store, database, folder):
    arrive(store)
    _change_an_entry(database)
    with closing(sqlite3.connect(database)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = 'a01'")
        connection.commit()
    assert backups.make(database, folder, NOW).step == "a01"


def test_a_book_on_a_disk_that_cannot_be_written_is_copied_where_it_is_whole(store, database, folder, monkeypatch):
    made = arrive(store)
    monkeypatch.setattr(backup, "os", SimpleNamespace(**{**vars(os), "access": lambda *_: False}))
    with pytest.raises(Unavailable, match="holds entries that are not in it yet"):
        backups.make(database, folder, NOW)
    store.close()
    before = sorted(database.parent.iterdir())
    assert ids(backups.make(database, folder, NOW).path) == set(made)
    assert sorted(database.parent.iterdir()) == before


def test_who_was_turned_away_since_the_backup_stays_turned_away(store, database, folder):
    def join(code):
        return passes.let_in(session, code, "Demo tablet", "device", "", 1)[0]

    with store.write() as session:
        stays, goes = (join(passes.invite(session, "bench", 1)) for _ in range(2))
    found = backups.make(database, folder, NOW).path
    with store.write() as session:
        passes.revoke(session, passes.known(session, goes).id, 2)
        later = join(passes.invite(session, "bench", 1))
    store.close()
    done = put_back(found, database, folder, NOW)
    assert (done.still_away, done.to_join) == (1, 1)
    again = open_store(Settings(database=database))
    with again.read() as session:
        assert [passes.known(session, one) and passes.known(session, one).is_revoked for one in (stays, goes, later)] == [False, True, None]
    again.close()


def test_a_damaged_book_can_be_replaced_and_is_kept_as_it_was(store, database, folder):
    made = arrive(store)
    found = backups.make(database, folder, NOW).path
    store.close()
    _cut(database)
    done = put_back(found, database, folder, NOW)
    before = done.before
    assert done.still_away is None
    assert ids(database) == set(made) and before.suffix == ".damaged" and before.stat().st_size > 0


def test_no_backup_is_put_back_under_a_running_server(store, database, folder):
    arrive(store)
    found = backups.make(database, folder, NOW).path
    with held(in_use_of(database), shared=True), pytest.raises(Refused, match="Stop it first"):
        put_back(found, database, folder)


def test_a_backup_of_a_newer_program_is_refused(store, database, folder):
    arrive(store)
    found = backups.make(database, folder, NOW).path
    backup.sidecar(found).unlink()
    with closing(sqlite3.connect(found)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = 'zzzz'")
        connection.commit()
    with pytest.raises(NewerDatabase):
        put_back(found, database, folder)


def test_one_is_made_when_it_is_time_and_something_has_arrived(store, database, folder):
    keeper = backups.Keeper(database, folder, every_hours=6)
    assert not keeper.look(NOW)  # nothing there yet
    arrive(store)
    assert keeper.look(NOW) and not keeper.look(NOW + timedelta(hours=7))  # nothing new since
    arrive(store)
    assert not keeper.look(NOW + timedelta(hours=5)) and keeper.look(NOW + timedelta(hours=7))
    with held(folder / ".one-at-a-time"):
        arrive(store)
        assert not keeper.look(NOW + timedelta(hours=20))  # another process is at it
    assert len(backups.listed(folder)) == 2


def test_a_backup_that_fails_is_said_and_hurts_nothing(store, database, tmp_path):
    made = arrive(store)
    (tmp_path / "a file").write_text("x")
    keeper = backups.Keeper(database, tmp_path / "a file", every_hours=6)
    assert not keeper.look(NOW) and "No backup could be made" in keeper.problem
    assert ids(database) == set(made)
    with pytest.raises(Unavailable):
        backup.copy(database, tmp_path / "a file" / "b.db")


def test_before_a_new_version_changes_the_tables_a_copy_is_made(tmp_path):
    from alembic import command

    from server.store import migrate
    from server.store.engine import Store

    path, config = tmp_path / "bench.db", migrate._config()
    old = Store(path)
    with old.engine.connect() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0002")
    old.close()
    for _ in range(2):
        store = open_store(Settings(database=path))
        store.close()
    (made,) = (tmp_path / "backups").glob("before-step-*.db")
    assert backup.look(made).step == "0002"


def test_a_name_with_no_day_that_there_is_is_none_of_ours(tmp_path):
    (tmp_path / "bench-book-20261399-000000Z.db").write_text("an invented file")
    assert backups.listed(tmp_path) == []
