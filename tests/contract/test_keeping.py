"""The page of safe keeping, and the commands."""

import json
import re
import sqlite3
from contextlib import closing

import pytest

from tests.client import Client
from tests.entries import whole_trial
from tests.processes import isokom


@pytest.fixture
def client(app):
    made = Client(app)
    made.post("/sync/push", json={"entries": whole_trial()})
    return made


def test_a_backup_is_made_listed_and_carried_away(client):
    assert "There is no backup yet" in client.get("/keeping").text
    made = client.post("/keeping/backup").text
    assert "6 entries copied, looked at and sound" in made
    (name,) = re.findall(r'href="/keeping/backup/([^"]+)"', made)
    file = client.get(f"/keeping/backup/{name}")
    assert file.content.startswith(b"SQLite format 3") and "attachment" in file.headers["content-disposition"]


@pytest.mark.parametrize("name", ["../bench.db", "..%2fbench.db", "bench.db", "bench-book-20260101-000000Z.db", "%2e%2e%2fbench.db"])
def test_nothing_else_is_handed_out(client, name):
    assert client.get(f"/keeping/backup/{name}").status_code == 404


def test_the_look_says_sound_or_what_is_wrong(client, app):
    assert "The book is sound." in client.post("/keeping/check").text
    with closing(sqlite3.connect(app.state.store.path)) as connection:
        connection.execute("UPDATE trial_entry SET body = replace(body, '2.0', '3.0')")
        connection.commit()
    assert "The book is damaged." in client.post("/keeping/check").text


def test_the_commands(tmp_path, app):
    Client(app).post("/sync/push", json={"entries": whole_trial()})
    book = app.state.store.path
    made = isokom("backup", tmp_path / "stick", "--database", book)
    assert made.returncode == 0 and "6 entries" in made.stdout
    (copy,) = (tmp_path / "stick").glob("*.db")
    assert json.loads(isokom("check", "--json", "--database", book).stdout)["is_sound"] is True
    Client(app).post("/sync/push", json={"entries": whole_trial()})
    app.state.store.close()
    back = isokom("restore", copy, "--database", book)
    assert back.returncode == 0 and "6 entries" in back.stdout and "before-restore" in back.stdout, back.stderr
    with closing(sqlite3.connect(book)) as connection:
        connection.execute("DELETE FROM trial_entry WHERE seq = 2")
        connection.commit()
    wrong = isokom("check", "--database", book)
    assert wrong.returncode == 1 and "DAMAGED" in wrong.stdout
    for words in (("restore", tmp_path / "none.db"), ("backup",), ("check",)):
        refused = isokom(*words, "--database", tmp_path / "none.db")
        assert refused.returncode == 1 and refused.stderr.startswith("isokom: ") and not (tmp_path / "none.db").exists()


def changed(database) -> None:
    with closing(sqlite3.connect(database)) as connection:
        connection.execute("UPDATE trial_entry SET body = replace(body, '2.0', '3.0')")
        connection.commit()


def test_a_damaged_book_is_called_so_and_its_copy_no_backup(client, app, tmp_path):
    client.post("/keeping/backup")
    changed(app.state.store.path)
    told = client.post("/keeping/backup")
    assert told.status_code == 503 and "Entries do not hold what was once sent" in told.text
    page = client.get("/keeping").text
    assert "The book was damaged when it was copied last" in page and "copied when the book was damaged, no backup" in page
    made = isokom("backup", tmp_path / "stick", "--database", app.state.store.path)
    assert made.returncode == 1 and "damaged" in made.stderr and "sound" not in made.stdout
    assert [one.name.startswith("damaged-book-") for one in (tmp_path / "stick").iterdir()] == [True]


@pytest.mark.parametrize("harm", [lambda book: book.write_bytes(book.read_bytes()[:9000]), lambda book: book.write_bytes(b"x" * 9000), lambda book: book.write_bytes(book.read_bytes()[:4096] + b"\xff" * (book.stat().st_size - 4096))], ids=["cut", "no database", "overwritten"])
def test_a_book_that_cannot_be_opened_is_called_damaged_with_what_to_do(client, app, tmp_path, harm):
    book = app.state.store.path
    app.state.store.close()
    harm(book)
    told = isokom("check", "--database", book)
    assert told.returncode == 1 and "DAMAGED" in told.stdout and "isokom restore" in told.stdout and told.stderr == ""
    found = json.loads(isokom("check", "--json", "--database", book).stdout)
    assert found["is_sound"] is False and found["findings"][0]["is_damage"] is True
    made = isokom("backup", tmp_path / "stick", "--database", book)
    assert made.returncode == 1 and "is damaged" in made.stderr and ".part" not in made.stderr, made.stderr
    assert list((tmp_path / "stick").iterdir()) == []
