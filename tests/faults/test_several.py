"""`serve --processes N` as real processes on a real PostgreSQL: one address, every entry once, a killed process is replaced, nothing is left behind. psql and /proc are the witnesses."""

import os
import re
import signal
import socket
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest

from server.__main__ import main
from tests.entries import whole_trial
from tests.faults.test_lan import Lan
from tests.processes import PATIENCE_S, Served


def name_in(url: str) -> str:
    return url.split("/")[3].split("?")[0]


def state(pid: int) -> str:
    """As proc(5) tells it: "" for a process that is gone."""
    try:
        return re.search(r"\) (\w)", Path(f"/proc/{pid}/stat").read_text())[1]
    except OSError:
        return ""


def workers(served: Served) -> list[int]:
    """The server processes that a serving command has begun."""
    found = Path(f"/proc/{served.process.pid}/task/{served.process.pid}/children").read_text().split()
    return [int(pid) for pid in found if b"spawn_main" in Path(f"/proc/{pid}/cmdline").read_bytes()]


def until(what):
    """Wait until it is true; its value. Raises AssertionError."""
    for _ in range(20 * PATIENCE_S):
        if found := what():
            return found
        time.sleep(0.05)
    raise AssertionError("it never came true")


@contextmanager
def alone(pid: int, everybody: list[int]):
    """Inside, this one process answers: the others are held still."""
    others = [one for one in everybody if one != pid]
    for one in others:
        os.kill(one, signal.SIGSTOP)
        until(lambda one=one: state(one) == "T")
    try:
        yield
    finally:
        for one in others:
            os.kill(one, signal.SIGCONT)


def answers(served: Served, pid: int, everybody: list[int], method: str, path: str, **options) -> httpx.Response:
    """What this very process answers, on a connection of its own."""
    with alone(pid, everybody):
        return httpx.request(method, served.url + path, timeout=PATIENCE_S, **options)


def begin(url: str) -> Served:
    return Served("serve", "--port", "0", "--processes", "2", environment={"ISOKOM_DATABASE_URL": url})


def send(served: Served, entries: list[dict]) -> list[tuple[str, str]]:
    """(id, verdict) of each entry, sent again until there is a reply, as a tablet does."""
    for _ in range(50):
        try:
            answer = httpx.post(f"{served.url}/sync/push", json={"entries": entries}, timeout=PATIENCE_S)
            return [(v["id"], v["verdict"]) for v in answer.json()["verdicts"]]
        except httpx.TransportError:
            time.sleep(0.05)
    raise AssertionError("no reply")


@pytest.fixture(scope="module")
def two(cluster):
    """(address of the database, a serving command with two processes that both serve)."""
    url = cluster.empty()
    with begin(url) as served:
        both = until(lambda: len(workers(served)) == 2 and workers(served))
        for pid in both:
            assert answers(served, pid, both, "GET", "/health").status_code == 200
        yield url, served


def ended(served: Served, left: list[int], how: signal.Signals) -> None:
    """Stop it; nothing of it is left and its port is free."""
    port = int(served.url.rsplit(":", 1)[1])
    assert served.stop(how) == (-how if how == signal.SIGKILL else 0)
    until(lambda: not any(state(pid) not in ("", "Z") for pid in left))
    with socket.socket() as again:
        again.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        again.bind(("127.0.0.1", port))
    for reader in served.readers:
        reader.join(PATIENCE_S)


def test_a_code_lets_in_once_and_wrong_ones_are_counted_whichever_process_is_asked(two):
    _url, served = two
    first, second = both = workers(served)
    shown = re.search(r'class="[^"]*code[^"]*"[^>]*>\s*([0-9A-Z]{5} [0-9A-Z]{5})', answers(served, first, both, "POST", "/devices/invite", data={"role": "bench"}).text)[1]
    told = [answers(served, pid, both, "POST", "/join", json={"code": shown, "name": f"Tablet {pid}"}).status_code for pid in (second, first)]
    assert told == [200, 403]
    wrong = [answers(served, both[n % 2], both, "POST", "/join", json={"code": "WRONG00000", "name": "x"}).status_code for n in range(10)]
    assert wrong == [403] * 9 + [429]


def test_each_process_shows_what_another_one_took_in(two):
    _url, served = two
    first, second = both = workers(served)
    for pid in both:  # each has read the book once
        assert "demo-rubin" not in answers(served, pid, both, "GET", "/results/findings").text
    told = answers(served, first, both, "POST", "/sync/push", json={"entries": whole_trial()})
    assert {v["verdict"] for v in told.json()["verdicts"]} == {"stored"}
    mark = told.json()["head"]
    for pid in (second, first):
        assert "demo-rubin" in answers(served, pid, both, "GET", "/results/findings").text
        assert answers(served, pid, both, "GET", "/sync/mark.json", params=mark).json() == {"known": True, "head": mark}


def test_four_tablets_push_while_one_process_is_killed_and_the_rest_ends_cleanly(cluster, two):
    url, served = two
    made = [[one for _ in range(6) for one in whole_trial()] for _tablet in range(4)]
    before = workers(served)
    there = int(cluster.sql("SELECT count(*) FROM trial_entry", name_in(url)))

    def tablet(number: int) -> list[tuple[str, str]]:
        told = []
        for start in range(0, len(made[number]), 6):
            if (number, start) == (1, 12):
                os.kill(before[0], signal.SIGKILL)
            told += send(served, made[number][start : start + 12])  # each entry twice
        return told

    with ThreadPoolExecutor(4) as threads:
        told = [v for part in threads.map(tablet, range(4)) for v in part]
    lines = cluster.sql("SELECT seq, id FROM trial_entry ORDER BY seq", name_in(url)).splitlines()
    assert [int(line.split("|")[0]) for line in lines] == list(range(1, len(lines) + 1))
    assert sorted(line.split("|")[1] for line in lines[there:]) == sorted(entry["id"] for part in made for entry in part)
    assert {verdict for _, verdict in told} == {"stored", "same"}
    now = until(lambda: len(workers(served)) == 2 and before[0] not in workers(served) and workers(served))
    new = next(pid for pid in now if pid not in before)
    assert answers(served, new, now, "GET", "/health").status_code == 200
    for pid in now:  # a terminal sends Ctrl-C to all of them
        os.kill(pid, signal.SIGINT)
    assert [answers(served, pid, now, "GET", "/health").status_code for pid in now] == [200, 200]
    ended(served, now, signal.SIGTERM)
    told = [line for line in served.stderr.splitlines() if not line.startswith("failure status=4")]  # the wrong codes of another test
    assert told == ["isokom: 1 of 2 server processes ended and will be replaced."]


CARRIED = """
import os, sys
from server.__main__ import main
from server.command import doors
from server.lan import names
doors.LOOK_AGAIN_S, here = 0.3, names.addresses
names.addresses = lambda: here() + (["10.99.0.1"] if os.path.exists(sys.argv[1]) else [])
sys.exit(main(["serve", *sys.argv[2:]]))
"""


def test_tablets_are_served_by_all_of_them_and_a_new_certificate_reaches_all(cluster, tmp_path):
    """And all end with the first process, however that ended. As when a laptop is carried to another network: its own addresses are asked for anew, and stand in what it shows."""
    lan = Lan(tmp_path)
    environment = {"ISOKOM_DATABASE_URL": cluster.book(), "ISOKOM_DATABASE": str(lan.database)}
    with Served(*lan.words[1:-2], "--processes", "2", command=[sys.executable, "-c", CARRIED, tmp_path / "carried"], environment=environment) as served:
        both = until(lambda: len(workers(served)) == 2 and workers(served))
        with alone(both[0], both):
            first = lan.certificate()
        with alone(both[1], both):
            assert lan.certificate() == first and lan.get("/health").json()["ok"]
        (tmp_path / "carried").touch()
        new = until(lambda: len(workers(served)) == 2 and not set(both) & set(workers(served)) and workers(served))
        for pid in new:
            with alone(pid, new):
                assert lan.certificate() != first
        ended(served, new, signal.SIGKILL)  # the first process alone: the others end by themselves
    assert served.stderr == ""


@pytest.mark.parametrize(("words", "why"), [(["--processes", "2"], "need a bench book in PostgreSQL"), (["--processes", "0"], "processes"), (["--processes", "65"], "processes")])
def test_several_are_refused_where_they_are_not_safe(tmp_path, capsys, words, why):
    assert main(["serve", "--port", "0", "--database", str(tmp_path / "b.db"), *words]) == 1
    told = capsys.readouterr()
    assert told.err.count("\n") == 1 and told.err.startswith("isokom: ") and why in told.err and told.out == ""
    assert not (tmp_path / "b.db").exists()


def test_a_taken_port_is_told_in_one_sentence(cluster, capsys, monkeypatch):
    monkeypatch.setenv("ISOKOM_DATABASE_URL", cluster.book())
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        assert main(["serve", "--port", port, "--processes", "2"]) == 1
    told = capsys.readouterr()
    assert told.err.count("\n") == 1 and f"Port {port}" in told.err and told.out == ""
