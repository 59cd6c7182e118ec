"""Shared fixtures: a bench book in a folder of its own, and a real server in a process of its own."""

import os
import socket
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest
from hypothesis import settings as hypothesis_settings

from server.app import create_app, open_store
from server.settings import Settings
from tests.books import empty_book
from tests.live import Process, server
from tests.postgres import Cluster

hypothesis_settings.register_profile("isokom", deadline=None)  # never gate on milliseconds
hypothesis_settings.load_profile("isokom")
ROOT = Path(__file__).parent.parent


def free_port() -> int:
    """A port that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class LiveServer:
    """A real server process on one bench book and one port; it can be stopped, killed and started again. script: Python of its own instead of the usual server."""

    def __init__(self, database: Path, script: str = ""):
        self.database = database
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.script = script
        self.process = None

    def start(self) -> "LiveServer":
        """Start and wait until it answers. Raises RuntimeError when it does not."""
        self.process = self._begin()
        for _ in range(200):
            if self.process.poll() is not None:
                raise RuntimeError(f"the server ended with {self.process.poll()}")
            try:
                if httpx.get(f"{self.url}/health", timeout=1).status_code == 200:
                    return self
            except httpx.TransportError:
                time.sleep(0.05)
        raise RuntimeError("the server does not answer")

    def _begin(self) -> subprocess.Popen | Process:
        if not self.script:
            return server(str(self.database), self.port)
        command = [sys.executable, "-c", self.script, str(self.database), str(self.port)]
        return subprocess.Popen(command, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)})

    def stop(self) -> None:
        """End it as an operator would."""
        self._end(self.process.terminate)

    def kill(self) -> None:
        """End it as a power cut would."""
        self._end(self.process.kill)

    def _end(self, how) -> None:
        if self.process and self.process.poll() is None:
            how()
            self.process.wait(timeout=20)


@pytest.fixture
def database(tmp_path: Path) -> Path:
    """Where this test's bench book is."""
    return tmp_path / "book" / "bench.db"


@pytest.fixture
def store(database: Path):
    """An open bench book."""
    opened = open_store(Settings(database=empty_book(database)))
    yield opened
    opened.close()


@pytest.fixture
def app(database: Path):
    """The whole app on a bench book of its own, in this process."""
    made = create_app(Settings(database=empty_book(database)))
    yield made
    made.state.store.close()


@pytest.fixture
def live_server(database: Path):
    """A running server; the test may stop, kill and start it."""
    running = LiveServer(empty_book(database)).start()
    try:
        yield running
    finally:
        running.kill()


@pytest.fixture(scope="session")
def cluster():
    """A real PostgreSQL for this run of the tests."""
    running = Cluster()
    yield running
    running.remove()


def pytest_collection_modifyitems(items):
    """Several workers begin with stretches of this list. Tests in a browser mostly wait, the others mostly reckon: each stretch takes them by turns, a module at a time, so that neither all wait nor all reckon at once."""
    workers = int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))
    if workers == 1:
        return
    modules: dict[Path, list] = {}
    for item in items:
        modules.setdefault(item.path, []).append(item)
    kinds = [[own for path, own in modules.items() if ("browser" in path.parts) == wanted] for wanted in (True, False)]
    stretches = []
    for worker in range(workers):
        turns = [(place / len(kind[worker::workers]), own) for kind in kinds for place, own in enumerate(kind[worker::workers])]
        stretches += [item for _place, own in sorted(turns, key=lambda turn: turn[0]) for item in own]
    items[:] = stretches
