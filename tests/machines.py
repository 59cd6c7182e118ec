"""Servers and tablets of the tests of exchange: servers in this process, asked through the app's own door, and a tablet's outbox as static/sync/push.js keeps it."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import httpx

from server.exchange import peers
from server.exchange.between import Exchange, Told
from server.exchange.remote import Remote
from server.store.engine import Store
from tests.client import Client

TABLES = ("trial_entry", "bench_entry", "own_glass")


class Lost(Exception):
    """The line broke: the request, or only its answer, was lost."""


class Server:
    """One server on a file of its own. `apps` is shared: what differs is the store. A copy of the file can be put back, as after a crash."""

    def __init__(self, app, file: Path):
        self.app, self.file = app, file
        self.store = Store(file)
        self.now_ms = 1_790_000_000_000

    def clock(self) -> int:
        """Rises by itself, so that no two arrivals are of one moment."""
        self.now_ms += 7
        return self.now_ms

    def request(self, method: str, path: str, **options) -> httpx.Response:
        self.app.state.store = self.store
        return Client(self.app).request(method, path, **options)

    def ids(self) -> list[str]:
        """Every stored entry, by number of arrival, read past our own code."""
        with closing(sqlite3.connect(self.file)) as connection:
            rows = [row for table, column in zip(TABLES, ("id", "id", "entry"), strict=True) for row in connection.execute(f"SELECT seq, {column} FROM {table}")]
            assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert sorted(seq for seq, _id in rows) == list(range(1, len(rows) + 1))
        return [number for _seq, number in sorted(rows)]

    def restart(self) -> None:
        self.store.close()
        self.store = Store(self.file)

    def copy(self, to: Path) -> Path:
        """A sound copy of the book as it is now."""
        with closing(sqlite3.connect(self.file)) as source, closing(sqlite3.connect(to)) as target:
            source.backup(target)
        return to

    def put_back(self, copy: Path) -> None:
        """The book is what it was when the copy was made; the clock goes on."""
        self.store.close()
        for ending in ("-wal", "-shm"):
            self.file.with_name(self.file.name + ending).unlink(missing_ok=True)
        shutil.copyfile(copy, self.file)
        self.store = Store(self.file)
        self.now_ms += 60_000


class Line(Remote):
    """The way from one server to another. `breaks` says of each request whether it is lost: "" no, "asked" before it arrives, "answered" after."""

    def __init__(self, to: Server, breaks=lambda: ""):
        super().__init__(f"http://{to.file.stem}", "", pause=lambda _s: None)
        self.to, self.breaks = to, breaks

    def _ask(self, method: str, path: str, **options) -> httpx.Response:
        how = self.breaks()
        if how == "asked":
            raise Lost
        answer = self.to.request(method, path, **options)
        if how == "answered":
            raise Lost
        return answer


def exchange(one: Server, other: Server, breaks=lambda: "") -> Told | None:
    """`one` exchanges with `other`; None where the line broke."""
    with one.store.write() as session:
        peer = peers.keep(session, f"http://{other.file.stem}", other.file.stem).id
    line = Line(other, breaks)
    try:
        return Exchange(one.store, peer, line, one.clock).run()
    except Lost:
        return None
    finally:
        line.close()


class Tablet:
    """A tablet's outbox: entries are kept for ever, each waiting or sent; `place` is where the desk's book stood when it last took something. Its twin is static/sync/push.js."""

    def __init__(self):
        self.entries: dict[str, dict] = {}
        self.sent: dict[str, bool] = {}
        self.place: dict | None = None

    def record(self, entry: dict) -> None:
        self.entries[entry["id"]] = entry
        self.sent[entry["id"]] = False

    def _placed(self, told: dict) -> None:
        if not told["known"]:
            self.sent = dict.fromkeys(self.sent, False)
        self.place = told["head"]

    def flush(self, desk: Server, breaks=lambda: "", at_once: int = 5) -> None:
        """Send what waits, or ask whether the desk still has everything. Raises Lost."""
        waiting = [key for key, sent in self.sent.items() if not sent]
        if not waiting and self.place:
            told = self._asked(desk, breaks, "GET", "/sync/mark.json", params=self.place)
            if not told["known"]:
                self._placed(told)
        for start in range(0, len(waiting), at_once):
            part = waiting[start : start + at_once]
            told = self._asked(desk, breaks, "POST", "/sync/push", json={"entries": [self.entries[key] for key in part], "after": self.place})
            for verdict in told["verdicts"]:
                assert verdict["verdict"] in ("stored", "same"), verdict
                self.sent[verdict["id"]] = True
            self._placed(told)

    def _asked(self, desk: Server, breaks, method: str, path: str, **options) -> dict:
        how = breaks()
        if how == "asked":
            raise Lost
        answer = desk.request(method, path, **options)
        assert answer.status_code == 200, answer.text
        if how == "answered":
            raise Lost
        return answer.json()
