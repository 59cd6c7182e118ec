"""Isokom in processes of its own that are forked from one that has loaded it: loading costs more than most tests. Everything else is as in a process that was started: streams, environment, folder, signals, exit code."""

import multiprocessing
import os
import signal
import subprocess
import sys
from multiprocessing import reduction

import uvicorn

from server.__main__ import main
from server.app import create_app
from server.settings import Settings

FORKS = multiprocessing.get_context("forkserver")
FORKS.set_forkserver_preload(["tests.live", "tests.preload"])


def serve(database: str, port: int) -> None:
    """Run until a signal ends it."""
    uvicorn.run(create_app(Settings(database=database)), host="127.0.0.1", port=port, log_level="warning")


class _Stream:
    """A file descriptor that goes along to the forked process."""

    def __init__(self, number: int):
        self.number = number

    def __reduce__(self):
        return _arrived, (reduction.DupFd(self.number),)


def _arrived(sent) -> int:
    return sent.detach()


def command(words: list[str], environment: dict[str, str], folder: str, out: int, err: int) -> None:
    """What `python -m server` does, with these streams."""
    for number, arrived in enumerate((os.open(os.devnull, os.O_RDONLY), out, err)):
        os.dup2(arrived, number)
        os.close(arrived)
    os.chdir(folder)
    os.environ.clear()
    os.environ.update(environment)
    sys.stdout, sys.stderr = (open(number, "w", encoding="utf-8", closefd=False) for number in (1, 2))
    sys.exit(main(words))


class Process:
    """A forked process with those words of subprocess.Popen that the tests use."""

    def __init__(self, target, *args):
        self._process = FORKS.Process(target=target, args=args)
        self._process.start()
        self.pid, self.terminate, self.kill = self._process.pid, self._process.terminate, self._process.kill

    def poll(self) -> int | None:
        """The exit code, None while it runs."""
        return self._process.exitcode

    def wait(self, timeout: float) -> int:
        """The exit code. Raises TimeoutExpired where it still runs after so many s."""
        self._process.join(timeout)
        if self._process.exitcode is None:
            raise subprocess.TimeoutExpired("a forked process", timeout)
        return self._process.exitcode

    def send_signal(self, how: signal.Signals) -> None:
        """Nothing happens where it has ended."""
        if self.poll() is None:
            os.kill(self.pid, how)


def server(database: str, port: int) -> Process:
    """A server on one bench book and one port."""
    return Process(serve, database, port)


def commanded(words: list[str], environment: dict[str, str], folder: str, out: int, err: int) -> Process:
    """A command of Isokom; what it says goes to the descriptors out and err."""
    return Process(command, words, environment, folder, _Stream(out), _Stream(err))
