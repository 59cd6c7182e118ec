"""Several listeners in one process and one loop: the desk's own door, the tablets' over HTTPS, and the plain page that explains the certificate."""

import asyncio
import logging
import signal
import socket
import ssl
import sys
from collections.abc import Callable, Coroutine
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import segno
import uvicorn

from server.app import create_app, create_help_app
from server.errors import Failure
from server.lan import lan as lan_of
from server.lan.announce import Announced, announce
from server.lan.lan import Lan
from server.lan.names import keep, kept
from server.settings import Settings
from server.web.door import LAN, Door

LOOK_AGAIN_S = 60.0


@dataclass
class Listener:
    """An app on some sockets, over TLS where a certificate is named."""

    app: object
    sockets: list[socket.socket]
    certificate: Path | None = None
    key: Path | None = None
    is_first: bool = True


class _Server(uvicorn.Server):
    """A server among several: run_all() listens to signals for all of them."""

    @contextmanager
    def capture_signals(self):
        yield


def _server(listener: Listener) -> _Server:
    secure = {"ssl_certfile": str(listener.certificate), "ssl_keyfile": str(listener.key)} if listener.certificate else {}
    config = uvicorn.Config(listener.app, log_level="warning", timeout_graceful_shutdown=3, lifespan="auto" if listener.is_first else "off", ws="none", proxy_headers=False, server_header=False, **secure)
    config.load()
    if config.ssl:
        config.ssl.minimum_version = ssl.TLSVersion.TLSv1_2
    return _Server(config)


class _Hurried(logging.Filter):
    """What a second signal cuts short is no news: whoever pressed Ctrl-C twice knows."""

    def filter(self, record: logging.LogRecord) -> bool:
        is_told = record.exc_info and record.exc_info[0] is asyncio.CancelledError
        return not (is_told or record.getMessage().rstrip().endswith("CancelledError"))  # of the lifespan it comes as text


def run_all(listeners: list[Listener], beside: Callable[[list[ssl.SSLContext]], Coroutine] | None = None, is_one_of_several: bool = False) -> None:
    """Serve all until a signal ends it; a second one hurries, but not one of several processes, which may be told twice. `beside` runs along, with the TLS contexts."""
    servers = [_server(listener) for listener in listeners]

    def stop(*_signal) -> None:
        for server in servers:
            server.force_exit = server.should_exit and not is_one_of_several
            server.should_exit = True

    names = (signal.SIGTERM,) if is_one_of_several else (signal.SIGINT, signal.SIGTERM)
    before = {name: signal.signal(name, stop) for name in names}
    log, hurried = logging.getLogger("uvicorn.error"), _Hurried()
    log.addFilter(hurried)
    try:
        asyncio.run(_run(servers, listeners, beside))
    finally:
        log.removeFilter(hurried)
        for name, handler in before.items():
            signal.signal(name, handler)


async def _run(servers: list[_Server], listeners: list[Listener], beside) -> None:
    contexts = [server.config.ssl for server in servers if server.config.ssl]
    task = asyncio.create_task(beside(contexts)) if beside else None
    try:
        await asyncio.gather(*(server.serve(sockets=listener.sockets) for server, listener in zip(servers, listeners, strict=True)))
    finally:
        if task:
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)


def _words(lan: Lan) -> list[str]:
    """What is printed of the tablets' door."""
    told = [f"Tablets open {lan.address}"]
    if lan.help_address:
        told.append(f"A new tablet first opens {lan.help_address} and learns to trust this desk")
    if lan.authority:
        told += ["Fingerprint of the certificate: " + " ".join(lan.fingerprint_groups)]
    return [*told, *(f"Mind: {one}" for one in lan.warnings)]


def _show_code(lan: Lan) -> None:
    """Where a tablet can come, and the terminal can show it."""
    try:
        "\u2580\u2584\u2588".encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        return
    if lan.own:
        segno.make(lan.help_address or lan.address, error="m").terminal(compact=True, border=2)


class Watch:
    """Keeps certificate and announcement right while addresses change: a laptop is carried from one network to another. tell: who hears of it."""

    def __init__(self, settings: Settings, lan: Lan, tell: Callable[[Lan], None]):
        self.settings, self.lan, self.tell = settings, lan, tell
        self.announced = Announced()

    def announce(self) -> None:
        """Say anew where this desk is."""
        self.announced.end()
        self.announced = announce(self.lan.place, self.lan.own)
        self.lan = lan_of.replace(self.lan, announcement=self.announced.problem)
        self.tell(self.lan)

    async def __call__(self, contexts: list[ssl.SSLContext]) -> None:
        while True:
            await asyncio.sleep(LOOK_AGAIN_S)
            await asyncio.to_thread(self.look, contexts)

    def look(self, contexts: list[ssl.SSLContext]) -> None:
        """Renew what has to be renewed, or tell why it could not be."""
        try:
            found = lan_of.renewed(self.lan, self.settings)
            for context in contexts if found else []:
                context.load_cert_chain(found.certificate, found.key)
        except (Failure, OSError) as failure:  # also ssl.SSLError
            told = failure.message if isinstance(failure, Failure) else f"The new certificate could not be taken up ({failure.strerror or failure}). Start Isokom anew."
            return self.tell(lan_of.replace(self.lan, warning=told))
        if found is None:
            return None
        self.lan = found
        return self.announce()


def listeners_of(app, desk: socket.socket, tablets: list[socket.socket], helpers: list[socket.socket], lan: Lan | None) -> list[Listener]:
    """The doors of an app: the desk's own, the tablets' and the plain page where there are sockets for them."""
    listeners = [Listener(app, [desk])]
    if lan:
        listeners.append(Listener(Door(app, LAN), tablets, lan.certificate, lan.key, is_first=False))
    if helpers:
        listeners.append(Listener(create_help_app(app), helpers, is_first=False))
    return listeners


def open_lan(settings: Settings, new_address: bool) -> tuple[Lan, list[socket.socket], list[socket.socket]]:
    """(place and certificates, sockets for tablets, sockets of the plain page). Raises Refused or Unavailable before anything is served."""
    from server.command.serve import listen_everywhere

    helpers = [] if settings.certificate else listen_everywhere(settings.help_port, "--help-port")
    lan = lan_of.prepared(settings, helpers[0].getsockname()[1] if helpers else 0, new_address)
    folder = lan_of.folder_of(settings)
    option = "--lan-port and --new-address; what tablets have not sent then stays behind at this one" if kept(folder) == lan.place else "--lan-port"
    tablets = listen_everywhere(lan.place.port, option)
    keep(folder, lan.place)  # for ever: not before it is had
    return lan, tablets, helpers


def told_of(lan: Lan) -> list[str]:
    """What is printed of the tablets' door, below its square code."""
    _show_code(lan)
    return _words(lan)


def run_lan(settings: Settings, sock: socket.socket, new_address: bool) -> None:
    """Serve desk and tablets until Ctrl-C. Raises Refused or Unavailable before anything is served."""
    from server.command.serve import say_where

    with sock:
        lan, tablets, helpers = open_lan(settings, new_address)
        app = create_app(settings)
        watch = Watch(settings, lan, lambda lan: setattr(app.state, "lan", lan))
        watch.announce()
        say_where(settings, app.state.store.place, sock, *told_of(watch.lan))
        try:
            run_all(listeners_of(app, sock, tablets, helpers, lan), watch)
        finally:
            watch.announced.end()
            app.state.store.close()
            for one in (*helpers, *tablets):
                one.close()
    print("Stopped. Everything that was confirmed is in the bench book.")
