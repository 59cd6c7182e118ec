"""Shared fixtures: a bench book in a folder of its own, and a real server in a process of its own."""

import os
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import httpx
import pytest
from hypothesis import settings as hypothesis_settings

from server.app import create_app, open_store
from server.settings import Settings

hypothesis_settings.register_profile("isokom", deadline=None)  # never gate on milliseconds
hypothesis_settings.load_profile("isokom")
ROOT = Path(__file__).parent.parent
# The catalogue's pages are the same for every server of a run: rendered by the first one that is asked, read from a file by the others.
SERVE = """
import json, os, sys, uvicorn
from functools import cache
from pathlib import Path
from server.app import create_app
from server.glass import routes
from server.settings import Settings
database, port, kept = sys.argv[1:4]
render = routes._catalogue_pages

@cache
def pages():
    if not Path(kept).exists():
        fresh = Path(f"{kept}.{os.getpid()}")
        fresh.write_text(json.dumps(render()))
        fresh.replace(kept)
    return json.loads(Path(kept).read_text())

routes._catalogue_pages = pages
uvicorn.run(create_app(Settings(database=Path(database))), host="127.0.0.1", port=int(port), log_level="warning")
"""


PAGES = Path(tempfile.mkdtemp(prefix="isokom-tests-")) / "pages.json"


def free_port() -> int:
    """A port that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class LiveServer:
    """A real server process on one bench book and one port; it can be stopped, killed and started again."""

    def __init__(self, database: Path, script: str = SERVE):
        self.database = database
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.script = script
        self.process = None

    def start(self) -> "LiveServer":
        """Start and wait until it answers. Raises RuntimeError when it does not."""
        command = [sys.executable, "-c", self.script, str(self.database), str(self.port), str(PAGES)]
        self.process = subprocess.Popen(command, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)})
        for _ in range(200):
            if self.process.poll() is not None:
                raise RuntimeError(f"the server ended with {self.process.returncode}")
            try:
                if httpx.get(f"{self.url}/health", timeout=1).status_code == 200:
                    return self
            except httpx.TransportError:
                time.sleep(0.05)
        raise RuntimeError("the server does not answer")

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
    opened = open_store(Settings(database=database))
    yield opened
    opened.close()


@pytest.fixture
def app(database: Path):
    """The whole app on a bench book of its own, in this process."""
    made = create_app(Settings(database=database))
    yield made
    made.state.store.close()


@pytest.fixture
def live_server(database: Path):
    """A running server; the test may stop, kill and start it."""
    server = LiveServer(database).start()
    try:
        yield server
    finally:
        server.kill()
