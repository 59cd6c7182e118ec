"""The server of the tests: loaded once, then forked for each of them, since loading costs more than most tests."""

import multiprocessing

import uvicorn

from server.app import create_app
from server.settings import Settings

FORKS = multiprocessing.get_context("forkserver")
FORKS.set_forkserver_preload(["tests.live", "tests.preload"])


def serve(database: str, port: int) -> None:
    """Run until a signal ends it."""
    uvicorn.run(create_app(Settings(database=database)), host="127.0.0.1", port=port, log_level="warning")


class Forked:
    """A forked server with the few words of subprocess.Popen that the tests use."""

    def __init__(self, database: str, port: int):
        self._process = FORKS.Process(target=serve, args=(database, port))
        self._process.start()
        self.terminate, self.kill = self._process.terminate, self._process.kill

    def poll(self) -> int | None:
        """The exit code, None while it runs."""
        return self._process.exitcode

    def wait(self, timeout: float) -> int | None:
        """The exit code; None where it still runs after so many s."""
        self._process.join(timeout)
        return self._process.exitcode
