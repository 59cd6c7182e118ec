"""Isokom's commands as processes of their own."""

import os
import queue
import re
import signal
import subprocess
import sys
import threading
from pathlib import Path

ROOT = Path(__file__).parent.parent
PATIENCE_S = 60


def environment_with(more: dict[str, str]) -> dict[str, str]:
    """This process's environment without Isokom's own settings, and more."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("ISOKOM_")}
    return {**clean, "PYTHONPATH": str(ROOT), **more}


def isokom(*words, environment: dict[str, str] | None = None, **options) -> subprocess.CompletedProcess:
    """Run a command to its end."""
    command = [sys.executable, "-m", "server", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_S, env=environment_with(environment or {}), stdin=subprocess.DEVNULL, **options)


class Served:
    """A serving command: waits for its printed address; leaves no process behind."""

    def __init__(self, *words, environment: dict[str, str] | None = None, command: list | None = None, cwd: Path = ROOT):
        command = [*(command or [sys.executable, "-m", "server"]), *map(str, words)]
        pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
        self.process = subprocess.Popen(command, cwd=cwd, env=environment_with(environment or {}), **pipes)
        self.lines: queue.Queue[str] = queue.Queue()
        self.told, self.stderr = "", ""
        self.readers = [threading.Thread(target=self._read_out), threading.Thread(target=self._read_err)]
        for reader in self.readers:
            reader.start()

    def _read_out(self) -> None:
        for line in self.process.stdout:
            self.lines.put(line)
        self.lines.put("")

    def _read_err(self) -> None:
        self.stderr = self.process.stderr.read()

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
        self.process.stdout.close()
        self.process.stderr.close()
