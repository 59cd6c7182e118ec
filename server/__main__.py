"""Command line: isokom demo, serve, estimate, accuracy. One clear sentence and a code other than 0 when something cannot be done."""

import argparse
import os
import signal
import socket
import sys
import tempfile
from contextlib import suppress
from pathlib import Path

from server import __version__
from server.errors import Failure, Refused, Unavailable
from server.settings import Settings

METHODS = ("certified", "epma-icp", "xrf", "portable-xrf")  # of server/physics/data/analysis.json, not loaded for a mere --help


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="isokom", description="The bench book of people who study ancient glass by working it.")
    parser.add_argument("--version", action="version", version=f"isokom {__version__}")
    commands = parser.add_subparsers(dest="command", required=True)
    demo = commands.add_parser("demo", help="run a seeded, invented workshop in a throwaway bench book")
    serve = commands.add_parser("serve", help="run on your own bench book")
    for command in (demo, serve):
        command.add_argument("--port", type=int, help="port to listen on (0 takes a free one)")
    serve.add_argument("--database", type=Path, help="the bench book's file")
    estimate = commands.add_parser("estimate", help="estimate a CSV of analyses")
    estimate.add_argument("source", type=Path, metavar="IN.csv")
    estimate.add_argument("-o", "--output", type=Path, required=True, metavar="OUT.csv")
    estimate.add_argument("--models", action="store_true", help="add what each model said by itself")
    estimate.add_argument("--json", action="store_true", help="write one JSON array instead of CSV")
    estimate.add_argument("--method", choices=METHODS, help="add the analysis's own uncertainty by its method; without it the analyses count as exact")
    commands.add_parser("accuracy", help="print what every model, and all together, were worth on measured glasses")
    return parser


def settings_from(arguments: argparse.Namespace) -> Settings:
    """Settings from the environment, overruled by the command's own options. Raises Refused for a bad one."""
    given = {name: getattr(arguments, name, None) for name in ("port", "database")}
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
        print(f"The bench book is {settings.database}", flush=True)
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


def _output_file(path: Path) -> Path:
    """The file that a path or link means. Raises Refused for a folder or a device: it would be replaced."""
    found = path.resolve()
    if found.exists() and not found.is_file():
        raise Refused(f"{path} is not a file. Nothing was written.")
    return found


def estimate(arguments: argparse.Namespace) -> None:
    from server.glass.batch import Options, estimate_csv

    output = _output_file(arguments.output)
    if output.exists() and arguments.source.exists() and output.samefile(arguments.source):
        raise Refused(f"{arguments.output} is the table of analyses itself. Name another file for the results.", code="same_file")
    part = output.with_name(f".{output.name}.part")
    try:
        with arguments.source.open(encoding="utf-8-sig", errors="surrogateescape", newline="") as source:
            with part.open("w", encoding="utf-8", errors="surrogateescape", newline="") as target:
                summary = estimate_csv(source, target, Options(arguments.models, arguments.json, arguments.method))
        os.replace(part, output)
    except OSError as error:
        place = arguments.source if error.filename == str(arguments.source) else arguments.output
        raise Unavailable(f"{place}: {error.strerror}. Nothing was written.") from error
    finally:
        with suppress(OSError):
            part.unlink()
    if summary.unread_columns:
        print(f"Not read: {', '.join(summary.unread_columns)}", file=sys.stderr)
    counts = ", ".join(f"{n} {name}" for name, n in summary.by_status.items())
    print(f"{summary.rows} rows: {counts}. Written to {arguments.output}", file=sys.stderr)


def accuracy(_arguments: argparse.Namespace) -> None:
    from server.glass.record import as_text

    with suppress(BrokenPipeError):
        print(as_text(), flush=True)


def end_as_ctrl_c() -> None:
    """Take a request to end, or a closed terminal, as Ctrl-C: everything is put away."""
    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), lambda *_: signal.raise_signal(signal.SIGINT))


def main(words: list[str] | None = None) -> int:
    """Run a command; returns its exit code."""
    end_as_ctrl_c()
    arguments = _parser().parse_args(words)
    commands = {"demo": demo, "serve": serve, "estimate": estimate, "accuracy": accuracy}
    try:
        commands[arguments.command](arguments)
    except Failure as failure:
        print(f"isokom: {failure.message}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130
    return 0


if __name__ == "__main__":
    sys.exit(main())
