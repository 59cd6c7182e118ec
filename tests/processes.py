"""Isokom's commands as processes of their own."""

import os
import queue
import re
import signal
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

from tests.live import commanded

ROOT = Path(__file__).parent.parent
PATIENCE_S = 60


def environment_with(more: dict[str, str]) -> dict[str, str]:
    """This process's environment without Isokom's own settings, and more."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("ISOKOM_")}
    return {**clean, "PYTHONPATH": str(ROOT), **more}


def may_be_forked(words: list[str], more: dict[str, str]) -> bool:
    """False for what depends on how Python itself begins, and for a server that starts others."""
    return "--processes" not in words and not any(name.startswith(("PYTHON", "LC_", "LANG")) for name in more)


def isokom(*words, environment: dict[str, str] | None = None, **options) -> subprocess.CompletedProcess:
    """Run a command to its end; with options of subprocess.run in a Python of its own."""
    texts, more = [str(word) for word in words], environment or {}
    if options or not may_be_forked(texts, more):
        command = [sys.executable, "-m", "server", *texts]
        return subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_S, env=environment_with(more), stdin=subprocess.DEVNULL, **options)
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        process = commanded(texts, environment_with(more), os.getcwd(), out.fileno(), err.fileno())
        try:
            code = process.wait(PATIENCE_S)
        finally:
            if process.poll() is None:
                process.kill()
        return subprocess.CompletedProcess(texts, code, _text(out), _text(err))


def _text(stream) -> str:
    stream.seek(0)
    return stream.read().decode()


class Served:
    """A serving command: waits for its printed address; leaves no process behind."""

    def __init__(self, *words, environment: dict[str, str] | None = None, command: list | None = None, cwd: Path = ROOT):
        texts, more = [str(word) for word in words], environment or {}
        if command or not may_be_forked(texts, more):
            pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
            self.process = subprocess.Popen([*(command or [sys.executable, "-m", "server"]), *texts], cwd=cwd, env=environment_with(more), **pipes)
            self.streams = [self.process.stdout, self.process.stderr]
        else:
            (out, out_in), (err, err_in) = os.pipe(), os.pipe()
            self.process = commanded(texts, environment_with(more), str(cwd), out_in, err_in)
            os.close(out_in)
            os.close(err_in)
            self.streams = [open(end, encoding="utf-8") for end in (out, err)]
        self.lines: queue.Queue[str] = queue.Queue()
        self.told, self.stderr = "", ""
        self.readers = [threading.Thread(target=self._read_out), threading.Thread(target=self._read_err)]
        for reader in self.readers:
            reader.start()

    def _read_out(self) -> None:
        for line in self.streams[0]:
            self.lines.put(line)
        self.lines.put("")

    def _read_err(self) -> None:
        self.stderr = self.streams[1].read()

    def __enter__(self) -> "Served":
        try:
            while "Ctrl-C" not in self.told:
                line = self.lines.get(timeout=PATIENCE_S)
                if not line:
                    raise AssertionError(f"it ended early: {self.told}{self.process.wait()}{self.stderr}")
                self.told += line
        except BaseException:
            self.__exit__()
            raise
        return self

    @property
    def url(self) -> str:
        """The address that it printed."""
        return re.search(r"http://[\d.]+:\d+", self.told)[0]

    def stop(self, how: signal.Signals = signal.SIGINT) -> int:
        """End it as a person would; its exit code."""
        self.process.send_signal(how)
        return self.process.wait(PATIENCE_S)

    def __exit__(self, *_failure) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(PATIENCE_S)
        for reader in self.readers:
            reader.join(PATIENCE_S)
        for stream in self.streams:
            stream.close()
