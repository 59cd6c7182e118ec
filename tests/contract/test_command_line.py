"""The commands in processes of their own: what is served, what is refused, and that nothing is lost when it is."""

import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import tomllib
from contextlib import closing
from pathlib import Path

import httpx
import pytest

from tests.books import empty_book
from tests.entries import whole_trial
from tests.processes import Served, isokom

ROOT = Path(__file__).parents[2]


def assert_one_sentence(done: subprocess.CompletedProcess, *words: str) -> None:
    """Not 0, one line on stderr that names the matter, no traceback."""
    assert done.returncode not in (0, None)
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1, done.stderr
    assert done.stderr.startswith("isokom: ") and done.stderr.strip().endswith(".")
    for word in words:
        assert word in done.stderr


def newer_database(path: Path, journal: str) -> None:
    """A sound database of a program that has run a step unknown here; written without ours."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA journal_mode={journal}")
        connection.executescript("CREATE TABLE alembic_version (version_num VARCHAR(32)); INSERT INTO alembic_version VALUES ('zzzz'); CREATE TABLE counter (name); CREATE TABLE trial_entry (id); CREATE TABLE own_glass (id);")


def test_help_and_version_say_what_pyproject_says():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert isokom("--version").stdout.strip() == f"isokom {project['version']}"
    told = isokom("--help")
    assert told.returncode == 0
    assert " ".join(project["description"].split()) in " ".join(told.stdout.split())
    for command in ("demo", "serve", "estimate"):
        assert re.search(rf"^\s+{command}\s", told.stdout, re.M)


def test_the_installed_command_is_this_program():
    found = subprocess.run([Path(sys.executable).with_name("isokom"), "--version"], capture_output=True, text=True, timeout=60)
    assert found.stdout == isokom("--version").stdout != ""


def test_no_command_or_a_wrong_one_is_told_how():
    for words in ((), ("sing",), ("estimate",)):
        done = isokom(*words)
        assert done.returncode == 2 and "usage: isokom" in done.stderr and "Traceback" not in done.stderr


def test_a_taken_port_is_named(tmp_path):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        done = isokom("serve", "--port", str(port), "--database", tmp_path / "book" / "b.db")
    assert_one_sentence(done, str(port), "--port")
    assert not (tmp_path / "book").exists()


def test_a_port_that_is_no_port_is_refused(tmp_path):
    assert_one_sentence(isokom("serve", "--port", "70000", "--database", tmp_path / "b.db"), "port")


@pytest.mark.parametrize("place", ["below a file", "/proc/isokom/b.db", "/proc/b.db", "a folder"])
def test_a_place_that_cannot_be_written_is_refused(tmp_path, place):
    (tmp_path / "file").write_text("kept")
    path = {"below a file": tmp_path / "file" / "b.db", "a folder": tmp_path}.get(place, Path(place))
    done = isokom("serve", "--port", "0", "--database", path)
    assert_one_sentence(done, str(path if place == "a folder" else path.parent))
    assert (tmp_path / "file").read_text() == "kept"


@pytest.mark.parametrize("journal", ["delete", "wal"])
def test_a_book_of_a_newer_version_is_left_byte_for_byte(tmp_path, journal):
    path = tmp_path / "b.db"
    newer_database(path, journal)
    before = path.read_bytes()
    done = isokom("serve", "--port", "0", "--database", path)
    assert_one_sentence(done, "newer", "zzzz", str(path))
    assert path.read_bytes() == before


def test_a_newer_book_after_a_power_cut_keeps_its_log(tmp_path):
    path, copy = tmp_path / "b.db", tmp_path / "cut.db"
    newer_database(path, "wal")
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript("CREATE TABLE later (x); INSERT INTO later VALUES (1);")
        for end in ("", "-wal"):
            (copy.parent / f"cut.db{end}").write_bytes((path.parent / f"b.db{end}").read_bytes())
    log = copy.with_name("cut.db-wal")
    before = copy.read_bytes(), log.read_bytes()
    assert len(before[1]) > 0
    assert_one_sentence(isokom("serve", "--port", "0", "--database", copy), "newer")
    assert (copy.read_bytes(), log.read_bytes()) == before


def test_a_file_that_is_no_database_is_left_alone(tmp_path):
    path = tmp_path / "letter.db"
    path.write_bytes(b"Dear keeper, " * 500)
    assert_one_sentence(isokom("serve", "--port", "0", "--database", path), str(path))
    assert path.read_bytes() == b"Dear keeper, " * 500


def test_a_database_of_another_program_is_left_alone(tmp_path):
    path = tmp_path / "other.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE recipes (name)")
    before = path.read_bytes()
    assert_one_sentence(isokom("serve", "--port", "0", "--database", path), str(path), "no bench book")
    assert path.read_bytes() == before


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_stopping_keeps_everything_that_was_confirmed(tmp_path, how):
    path = tmp_path / "book" / "b.db"
    entries = whole_trial()
    with Served("serve", "--port", "0", "--database", path) as served:
        answer = httpx.post(f"{served.url}/sync/push", json={"entries": entries})
        assert [v["verdict"] for v in answer.json()["verdicts"]] == ["stored"] * len(entries)
        assert served.stop(how) == 0
    assert served.stderr == ""
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        found = connection.execute("SELECT id FROM trial_entry ORDER BY n").fetchall()
    assert [i for (i,) in found] == [entry["id"] for entry in entries]


def test_serving_again_on_the_same_book_and_port_finds_it_all(tmp_path):
    path, subject = tmp_path / "b.db", "018f0000-0000-7000-8000-00000000beef"
    with Served("serve", "--port", "0", "--database", path) as first:
        httpx.post(f"{first.url}/sync/push", json={"entries": whole_trial(subject)})
        assert first.stop() == 0
    port = first.url.rsplit(":", 1)[1]
    with Served("serve", "--port", port, "--database", path) as second:
        assert second.url == first.url
        assert httpx.get(f"{second.url}/results/trial/{subject}").status_code == 200
        assert second.stop() == 0


def test_settings_come_from_the_environment_too(tmp_path):
    path = tmp_path / "named" / "b.db"
    with Served("serve", environment={"ISOKOM_DATABASE": str(path), "ISOKOM_PORT": "0"}) as served:
        assert httpx.get(f"{served.url}/health").json()["ok"] is True
        assert str(path) in served.told
        assert served.stop() == 0
    assert path.is_file()


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_the_demo_answers_and_leaves_nothing_behind(how):
    with Served("demo", "--port", "0") as served:
        page = httpx.get(f"{served.url}/results")
        book = Path(re.search(r"The bench book is (.+)", served.told)[1])
        assert page.status_code == 200 and "invented" in page.text
        assert "invented" in served.told and book.is_file()
        assert served.stop(how) == 0
    assert served.stderr == ""
    assert not book.parent.exists()


@pytest.mark.parametrize("command", [("invite",), ("pack",), ("backup",), ("check",)])
def test_a_misspelt_name_makes_no_new_book(tmp_path, command):
    told = isokom(*command, "--database", tmp_path / "bnech.db")
    assert_one_sentence(told, "no bench book", "bnech.db")
    assert list(tmp_path.iterdir()) == []


def test_a_file_of_something_else_is_left_alone_and_nothing_laid_beside_it(tmp_path):
    path = tmp_path / "list.txt"
    path.write_text("an invented list")
    assert_one_sentence(isokom("serve", "--port", "0", "--database", path), "list.txt", "untouched")
    assert [one.name for one in tmp_path.iterdir()] == ["list.txt"]


def test_a_book_is_not_moved_onto_itself(tmp_path):
    path = empty_book(tmp_path / "b.db")
    assert_one_sentence(isokom("move", "--from", path, "--to", tmp_path / ".." / tmp_path.name / "b.db"), "both sides")


@pytest.mark.parametrize(("name", "value"), [("ISOKOM_MAX_BODY_BYTES", "-5"), ("ISOKOM_MAX_PACKAGE_BYTES", "10"), ("ISOKOM_PROCESSES", "0")])
def test_a_setting_that_would_let_nothing_through_is_refused(tmp_path, name, value):
    told = isokom("serve", "--port", "0", "--database", tmp_path / "b.db", environment={name: value})
    assert_one_sentence(told, name)


def test_who_presses_ctrl_c_twice_is_shown_no_traceback(tmp_path):
    """The second comes while the first is being obeyed: a request that is still being sent keeps the server for a while."""
    with Served("serve", "--port", "0", "--database", tmp_path / "b.db") as served:
        with socket.create_connection(("127.0.0.1", int(served.url.rsplit(":", 1)[1]))) as line:
            line.sendall(b"POST /sync/push HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nContent-Length: 50\r\n\r\n{")
            time.sleep(0.3)
            served.process.send_signal(signal.SIGINT)
            time.sleep(0.3)
            assert served.process.poll() is None
            assert served.stop() == 0
    assert served.stderr == ""


def test_a_pack_takes_the_place_of_nothing(tmp_path):
    """Not of the bench book, whose name stands next to it at the command line; and a stick that is not there is not made a file."""
    book = empty_book(tmp_path / "b.db")
    before = book.read_bytes()
    for target in (book, tmp_path / "stick", tmp_path / "list.zip"):
        (tmp_path / "list.zip").write_text("an invented list")
        told = isokom("pack", target, "--database", book)
        assert told.returncode == 1 and "Traceback" not in told.stderr and len(told.stderr.strip().splitlines()) == 1
    assert book.read_bytes()[:16] == before[:16] and (tmp_path / "list.zip").read_text() == "an invented list" and not (tmp_path / "stick").exists()
    assert isokom("check", "--database", book).returncode == 0
    assert isokom("pack", tmp_path / "all.zip", "--database", book).returncode == 0
    first = (tmp_path / "all.zip").read_bytes()
    assert_one_sentence(isokom("pack", tmp_path / "all.zip", "--database", book), "is there already")
    assert (tmp_path / "all.zip").read_bytes() == first


def test_a_table_of_estimates_takes_the_place_of_no_database(tmp_path):
    book, table = empty_book(tmp_path / "b.db"), tmp_path / "in.csv"
    table.write_text("id,SiO2,Na2O,CaO\ndemo,72,16,12\n")
    before = book.read_bytes()
    assert_one_sentence(isokom("estimate", table, "-o", book), "database", "left as it is")
    assert book.read_bytes() == before


def test_a_book_with_entries_beside_it_is_not_put_back_without_them(tmp_path):
    """A laptop that was cut off leaves the last entries in the -wal beside its file."""
    entries, path = whole_trial(), tmp_path / "field.db"
    with Served("serve", "--port", "0", "--database", path) as served:
        assert httpx.post(f"{served.url}/sync/push", json={"entries": entries}).status_code == 200
        served.process.kill()
    assert Path(f"{path}-wal").stat().st_size > 0
    target = tmp_path / "desk.db"
    assert_one_sentence(isokom("restore", path, "--database", target), "field.db-wal", "isokom backup")
    assert not target.exists()
    assert_one_sentence(isokom("restore", path, "--database", path), "itself")
    assert isokom("backup", tmp_path / "whole", "--database", path).returncode == 0
    (whole,) = (tmp_path / "whole").glob("*.db")
    assert f"{len(entries)} entries" in isokom("restore", whole, "--database", target).stdout


def test_a_list_of_hosts_that_is_no_list_is_told(tmp_path):
    assert_one_sentence(isokom("serve", "--port", "0", "--database", tmp_path / "b.db", environment={"ISOKOM_ALLOWED_HOSTS": "desk.example"}), "ISOKOM_ALLOWED_HOSTS", "brackets")


@pytest.mark.parametrize(("environment", "words", "told"), [
    ({"ISOKOM_PORT": "99999"}, (), ("ISOKOM_PORT", "65535")),
    ({}, ("--port", "99999"), ("--port", "65535")),
    ({}, ("--lan", "--lan-name", "Desk Two"), ("--lan-name", "isokom-desk.local")),
    ({"ISOKOM_HOST": "nowhere.invalid"}, ("--port", "0"), ("ISOKOM_HOST", "nowhere.invalid")),
    ({"ISOKOM_HOST": "203.0.113.9"}, ("--port", "0"), ("ISOKOM_HOST", "203.0.113.9")),
], ids=lambda one: " ".join(one) if isinstance(one, tuple) else "")  # fmt: skip
def test_a_setting_is_told_by_the_name_under_which_it_was_given(tmp_path, environment, words, told):
    """203.0.113.0/24 is nobody's (RFC 5737), .invalid is no name (RFC 2606)."""
    done = isokom("serve", *words, environment={"ISOKOM_DATABASE": str(tmp_path / "b.db"), **environment})
    assert_one_sentence(done, *told)
    assert "Is Isokom running already" not in done.stderr and "pydantic" not in done.stderr


@pytest.mark.parametrize("address", ["postgresql://demo:se@cret@localhost:1/db", "mysql://demo:se@cret@localhost/db"])
def test_no_part_of_a_password_is_printed(address):
    done = isokom("check", environment={"ISOKOM_DATABASE_URL": address})
    assert_one_sentence(done)
    assert "cret" not in done.stderr


def test_an_empty_setting_counts_as_none(tmp_path):
    empty = {"ISOKOM_HOST": "", "ISOKOM_DATABASE": "", "ISOKOM_BACKUP_FOLDER": "", "ISOKOM_DATABASE_URL": ""}
    done = isokom("check", environment={**empty, "XDG_DATA_HOME": str(tmp_path), "HOME": str(tmp_path)})
    assert_one_sentence(done, "bench-book.db")


@pytest.mark.parametrize("words", [("check", "--database"), ("serve", "--port", "0", "--database"), ("pack", "--database"), ("backup", "--database")])
def test_a_place_that_the_system_refuses_is_told_in_one_sentence(tmp_path, words):
    assert_one_sentence(isokom(*words, tmp_path / ("a" * 300) / "b.db"), "File name too long")


def test_output_that_nobody_takes_leaves_no_traceback(tmp_path):
    book = empty_book(tmp_path / "b.db")
    with Path("/dev/full").open("w") as full:
        done = subprocess.run([sys.executable, "-m", "server", "check", "--database", str(book)], stdout=full, stderr=subprocess.PIPE, text=True, cwd=ROOT)
    assert_one_sentence(done, "No space left")
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run([sys.executable, "-m", "server", "check", "--database", str(book)], stdout=writing, stderr=subprocess.PIPE, text=True, cwd=ROOT)
    os.close(writing)
    assert done.returncode == 1 and done.stderr == ""


def test_a_book_that_is_not_there_is_not_moved(tmp_path):
    assert_one_sentence(isokom("move", "--from", tmp_path / "bnech.db", "--to", tmp_path / "b.db"), "no bench book", "bnech.db")
    assert list(tmp_path.iterdir()) == []


def test_several_commands_that_open_a_new_book_at_once_all_find_it(tmp_path):
    book = tmp_path / "b.db"
    book.touch()
    command = [sys.executable, "-m", "server", "check", "--database", str(book)]
    running = [subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT) for _ in range(6)]
    told = [(*one.communicate(timeout=60), one.returncode) for one in running]
    assert told == [("0 entries: sound.\n", "", 0)] * 6
