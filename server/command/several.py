"""Several server processes behind one address: they inherit its listening sockets, and this one keeps their number, the announcement and the certificate."""

import os
import signal
import socket
import sys
import threading
import time
from contextlib import ExitStack, suppress
from dataclasses import dataclass, replace
from multiprocessing import get_context, parent_process, resource_tracker
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess

from server.command import doors
from server.command.serve import listen, say_where
from server.errors import Failure, Refused, Unavailable
from server.lan.lan import Lan
from server.settings import Settings
from server.store.opening import open_store

PROCESSES = get_context("spawn")  # nothing of this process but what is handed over: no connection, no thread
NOT_THEIRS = (signal.SIGINT, signal.SIGHUP) if hasattr(signal, "SIGHUP") else ()  # Ctrl-C reaches all of a terminal's processes; this one alone answers it
AGAIN_AFTER_S = 1.0
ENDS_WITHIN_S = 15.0


@dataclass(frozen=True)
class Work:
    """What each process serves."""

    settings: Settings
    desk: socket.socket
    tablets: list[socket.socket]
    helpers: list[socket.socket]
    lan: Lan | None = None


def _end_with(parent: int) -> None:
    """End with the process that began this one, however that ended."""
    wait([parent])
    os.kill(os.getpid(), signal.SIGTERM)


def serve_one(work: Work, ready: Connection) -> None:
    """One of the processes, from beginning to end."""
    threading.Thread(target=_end_with, args=(parent_process().sentinel,), daemon=True).start()
    from server.app import create_app

    try:
        app = create_app(work.settings)
    except Failure as failure:
        print(f"isokom: {failure.message}", file=sys.stderr, flush=True)
        sys.exit(1)
    app.state.lan = work.lan
    with suppress(BrokenPipeError):  # the first process is gone already
        ready.send(True)
    try:
        doors.run_all(doors.listeners_of(app, work.desk, work.tablets, work.helpers, work.lan), is_one_of_several=True)
    finally:
        app.state.store.close()


@dataclass
class Running:
    """One of the processes, and what it says when it begins to serve."""

    process: BaseProcess
    told: Connection
    has_begun: bool = False

    def look(self, patience_s: float = 0.0) -> None:
        """Hear whether it has begun."""
        try:
            self.has_begun = self.has_begun or (self.told.poll(patience_s) and self.told.recv())
        except EOFError:
            pass

    def close(self) -> None:
        """Put away what is left of one that has ended."""
        self.process.join()
        self.process.close()
        self.told.close()


class Asked:
    """How often this process was asked to end, and a pipe that can be read since: no exception out of nowhere, which could be lost in a callback."""

    def __init__(self):
        self.times = 0
        self.heard, self._said = os.pipe()

    def __enter__(self) -> "Asked":
        self._before = signal.signal(signal.SIGINT, self._note)
        return self

    def _note(self, *_signal) -> None:
        self.times += 1
        os.write(self._said, b".")

    def __exit__(self, *_failure) -> None:
        signal.signal(signal.SIGINT, self._before)
        os.close(self.heard)
        os.close(self._said)


class Several:
    """So many processes; one that ends unasked is replaced."""

    def __init__(self, work: Work, watch: doors.Watch | None):
        self.work, self.watch = work, watch
        self.running: list[Running] = []
        self.any_has_begun = False

    def _begin(self) -> Running:
        resource_tracker.ensure_running()  # its own start would let these signals through again
        told, ready = PROCESSES.Pipe(duplex=False)
        process = PROCESSES.Process(target=serve_one, args=(self.work, ready))
        before = signal.pthread_sigmask(signal.SIG_BLOCK, NOT_THEIRS)  # what is blocked here stays blocked there
        try:
            process.start()
            self.running.append(Running(process, told))
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
        ready.close()
        return self.running[-1]

    def _look(self) -> None:
        """Put new ones in the place of those that have ended. Raises Unavailable where none ever began to serve."""
        for one in self.running:
            one.look()
        ended = [one for one in self.running if not one.process.is_alive()]
        self.any_has_begun = self.any_has_begun or any(one.has_begun for one in self.running)
        if ended and not self.any_has_begun:
            raise Unavailable("The server processes ended as soon as they began; what they said stands above.", code="not_begun")
        for one in ended:
            self.running.remove(one)
            one.close()
        if ended:
            print(f"isokom: {len(ended)} of {self.work.settings.processes} server processes ended and will be replaced.", file=sys.stderr, flush=True)
        if not all(one.has_begun for one in ended):
            time.sleep(AGAIN_AFTER_S)  # as when the database is away for a while: no reason to hurry
        while len(self.running) < self.work.settings.processes:
            self._begin()

    def _renew(self) -> None:
        """Where certificate or addresses have changed, put new processes in the place of the old, one after another."""
        if self.watch is None:
            return
        self.watch.look([])
        if self.watch.lan == self.work.lan:
            return
        self.work = replace(self.work, lan=self.watch.lan)
        for one in list(self.running):
            self._begin().look(ENDS_WITHIN_S)
            one.process.terminate()
            one.process.join(ENDS_WITHIN_S)
            one.process.kill()
            self.running.remove(one)
            one.close()

    def run(self) -> None:
        """Keep them until Ctrl-C. Raises Unavailable."""
        looked = time.monotonic()
        with Asked() as asked:
            try:
                while not asked.times:
                    self._look()
                    wait([asked.heard, *(one.process.sentinel for one in self.running)], timeout=doors.LOOK_AGAIN_S)
                    if not asked.times and time.monotonic() - looked >= doors.LOOK_AGAIN_S:
                        self._renew()
                        looked = time.monotonic()
            finally:
                self.end(asked)

    def end(self, asked: Asked) -> None:
        """Let each finish what it is at; one that does not, or a second Ctrl-C, ends it."""
        for one in self.running:
            one.process.terminate()
        times, wait_until = max(1, asked.times), time.monotonic() + ENDS_WITHIN_S
        while asked.times <= times and time.monotonic() < wait_until and any(one.process.is_alive() for one in self.running):
            wait([one.process.sentinel for one in self.running if one.process.is_alive()], timeout=0.2)
        for one in self.running:
            one.process.kill()
            one.close()
        self.running = []


def _may_be_several(settings: Settings) -> None:
    """Raises Refused where more than one process is not safe, or cannot be."""
    if settings.is_file:
        raise Refused("Several processes need a bench book in PostgreSQL: a file is written by one after another, so more processes gain nothing and would wait for each other. Leave out --processes, or move the book (isokom move).", code="one_process")
    if not hasattr(signal, "pthread_sigmask"):
        raise Refused("Several processes need Linux or macOS. Leave out --processes.", code="one_process")


def _say_warning(lan: Lan) -> None:
    if lan.warning:
        print(f"isokom: {lan.warning}", file=sys.stderr, flush=True)


def run_several(settings: Settings, new_address: bool) -> None:
    """Serve by several processes until Ctrl-C. Raises Refused or Unavailable before anything is served."""
    _may_be_several(settings)
    store = open_store(settings)  # runs the steps once, and says in one sentence what is wrong
    store.close()
    with ExitStack() as opened:
        desk = opened.enter_context(listen(settings.host, settings.port))
        lan, tablets, helpers = doors.open_lan(settings, new_address) if settings.lan else (None, [], [])
        for sock in (*tablets, *helpers):
            opened.enter_context(sock)
        watch = doors.Watch(settings, lan, _say_warning) if lan else None
        if watch:
            watch.announce()
            opened.callback(lambda: watch.announced.end())
        say_where(settings, store.place, desk, f"{settings.processes} processes serve it", *(doors.told_of(watch.lan) if watch else []))
        Several(Work(settings, desk, tablets, helpers, watch.lan if watch else None), watch).run()
    print("Stopped. Everything that was confirmed is in the bench book.")
