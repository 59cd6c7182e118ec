"""isokom demo, serve: run the app until Ctrl-C."""

import argparse
import socket
import tempfile
from pathlib import Path

from server.errors import Refused, Unavailable
from server.settings import Settings


def add(commands) -> None:
    """The commands of this module."""
    demo_command = commands.add_parser("demo", help="run a seeded, invented workshop in a throwaway bench book")
    serve_command = commands.add_parser("serve", help="run on your own bench book")
    for command in (demo_command, serve_command):
        command.add_argument("--port", type=int, help="port to listen on (0 takes a free one)")
    serve_command.add_argument("--database", type=Path, help="the bench book's file")
    demo_command.set_defaults(run=demo)
    serve_command.set_defaults(run=serve)


def settings_from(arguments: argparse.Namespace) -> Settings:
    """Settings from the environment, overruled by the command's own options. Raises Refused for a bad one."""
    given = {name: getattr(arguments, name, None) for name in ("port", "database")}
    if given["database"] is not None:
        given["database_url"] = ""  # a file named at the command line is the one that is meant
    try:
        return Settings(**{name: value for name, value in given.items() if value is not None})
    except ValueError as error:
        raise Refused(f"A setting cannot be used: {error.errors()[0]['loc'][0]}: {error.errors()[0]['msg']}.") from error


def listen(settings: Settings) -> socket.socket:
    """A socket that listens on the wanted address; who calls early waits. Raises Unavailable for a taken port."""
    sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        sock.bind((settings.host, settings.port))
        sock.listen(128)
    except OSError as error:
        sock.close()
        raise Unavailable(
            f"Port {settings.port} on {settings.host} cannot be used ({error.strerror}). "
            "Is Isokom running already? Stop it, or choose another port with --port."
        ) from error
    return sock


def run(settings: Settings, sock: socket.socket, prepare=None) -> None:
    """Serve until Ctrl-C on a bound socket. `prepare` may fill the bench book first."""
    import uvicorn

    from server.app import create_app

    with sock:
        app = create_app(settings)
        if prepare:
            prepare(app.state.store)
        print(f"Isokom is at http://{settings.host}:{sock.getsockname()[1]}", flush=True)
        print(f"The bench book is {app.state.store.place}", flush=True)
        print("Ctrl-C stops it.", flush=True)
        server = uvicorn.Server(uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=3))
        try:
            server.run(sockets=[sock])
        except KeyboardInterrupt:
            pass
        finally:
            app.state.store.close()
    print("Stopped. Everything that was confirmed is in the bench book.")


def serve(arguments: argparse.Namespace) -> None:
    settings = settings_from(arguments)
    run(settings, listen(settings))


def demo(arguments: argparse.Namespace) -> None:
    from demo.workshop import fill

    with tempfile.TemporaryDirectory(prefix="isokom-demo-") as folder:
        arguments.database = Path(folder) / "demo.db"
        settings = settings_from(arguments)
        print("An invented workshop: no real site, find or person. It is thrown away when you stop.", flush=True)
        run(settings, listen(settings), fill)
