"""isokom demo, serve: run the app until Ctrl-C."""

import argparse
import errno
import socket
import tempfile
from pathlib import Path

from pydantic import ValidationError

from server.errors import Refused, Unavailable
from server.settings import Settings

OPTIONS = ("port", "processes", "database", "lan", "lan_name", "lan_port", "help_port", "certificate", "private_key")

HOST_NAME = "it should be a host name in small letters, digits, points and hyphens, such as isokom-desk.local"


def add(commands) -> None:
    """The commands of this module."""
    demo_command = commands.add_parser("demo", help="run a seeded, invented workshop in a throwaway bench book")
    serve_command = commands.add_parser("serve", help="run on your own bench book")
    for command in (demo_command, serve_command):
        command.add_argument("--port", type=int, help="port to listen on (0 takes a free one)")
    serve_command.add_argument("--database", type=Path, help="the bench book's file")
    serve_command.add_argument("--processes", type=int, metavar="N", help="server processes behind the one address; more than one needs a bench book in PostgreSQL (1)")
    lan = serve_command.add_argument_group("tablets on the local network")
    lan.add_argument("--lan", action="store_const", const=True, help="also serve tablets, over HTTPS")
    lan.add_argument("--lan-name", metavar="NAME", help="this machine's name for tablets; kept once it was used")
    lan.add_argument("--lan-port", type=int, help="their port; kept once it was used (first time 8729)")
    lan.add_argument("--help-port", type=int, help="port of the plain page that explains how to trust the certificate (8730)")
    lan.add_argument("--certificate", type=Path, help="a certificate of your own (PEM with chain)")
    lan.add_argument("--private-key", type=Path, help="its private key (PEM)")
    lan.add_argument("--new-address", action="store_true", help="really change the name or port that tablets know")
    demo_command.set_defaults(run=demo)
    serve_command.set_defaults(run=serve)


def _about(wrong: dict, given: dict) -> str:
    """A setting that cannot be used, by the name under which it was given, without what was given: it may hold a password."""
    name = str(wrong["loc"][0])
    shown = f"--{name.replace('_', '-')}" if given.get(name) is not None else f"ISOKOM_{name.upper()}"
    why = HOST_NAME if wrong["type"] == "string_pattern_mismatch" else wrong["msg"].removeprefix("Value error, ").replace("Input should be", "it should be")
    return f"{shown} cannot be used: {why}."


def settings_from(arguments: argparse.Namespace) -> Settings:
    """Settings from the environment, overruled by the command's own options. Raises Refused for a bad one."""
    given = {name: getattr(arguments, name, None) for name in OPTIONS}
    if given["database"] is not None:
        given["database_url"] = ""  # a file named at the command line is the one that is meant
    try:
        return Settings(**{name: value for name, value in given.items() if value is not None})
    except ValidationError as error:
        raise Refused(_about(error.errors()[0], given)) from error
    except ValueError as error:  # a list that is no list
        raise Refused("A setting cannot be used: ISOKOM_ALLOWED_HOSTS is a list in brackets, for example [\"desk.example\"].") from error


def of_a_book(arguments: argparse.Namespace) -> Settings:
    """The same, for what makes no sense without a bench book: a misspelt name makes no new one. Raises Refused."""
    settings = settings_from(arguments)
    if settings.is_file and not settings.file.is_file():
        raise Refused(f"There is no bench book at {settings.file}. Nothing was made.", code="no_bench_book")
    return settings


def listen(host: str, port: int, option: str = "--port") -> socket.socket:
    """A socket that listens on the wanted address; who calls early waits. Raises Unavailable for a taken port."""
    sock = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET, socket.SOCK_STREAM)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    if ":" in host:
        sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
    try:
        sock.bind((host, port))
        sock.listen(128)
    except OSError as error:
        sock.close()
        if isinstance(error, socket.gaierror) or error.errno == errno.EADDRNOTAVAIL:
            raise Unavailable(f"“{host}” is no address of this machine ({error.strerror}). Name one with ISOKOM_HOST, or leave it out.") from error
        raise Unavailable(f"Port {port} on {host} cannot be used ({error.strerror}). Is Isokom running already? Stop it, or choose another port with {option}.") from error
    return sock


def listen_everywhere(port: int, option: str) -> list[socket.socket]:
    """Sockets on every address of this machine. Raises Unavailable for a taken port."""
    found = [listen("0.0.0.0", port, option)]
    if socket.has_ipv6:
        try:
            found.append(listen("::", found[0].getsockname()[1], option))
        except Unavailable:
            pass  # a machine without IPv6, or where 0.0.0.0 takes both
    return found


def run(settings: Settings, sock: socket.socket, prepare=None) -> None:
    """Serve the desk's own door until Ctrl-C on a bound socket. `prepare` may fill the bench book first."""
    from server.app import create_app
    from server.command.doors import Listener, run_all

    with sock:
        app = create_app(settings)
        if prepare:
            prepare(app.state.store)
        say_where(settings, app.state.store.place, sock)
        try:
            run_all([Listener(app, [sock])])
        finally:
            app.state.store.close()
    print("Stopped. Everything that was confirmed is in the bench book.")


def say_where(settings: Settings, place: str, sock: socket.socket, *more: str) -> None:
    """Print where the desk is, the last line being how to stop it."""
    lines = [f"Isokom is at http://{settings.host}:{sock.getsockname()[1]}", f"The bench book is {place}", *more, "Ctrl-C stops it."]
    print("\n".join(lines), flush=True)


def serve(arguments: argparse.Namespace) -> None:
    settings = settings_from(arguments)
    if settings.processes > 1:
        from server.command.several import run_several

        return run_several(settings, arguments.new_address)
    sock = listen(settings.host, settings.port)
    if not settings.lan:
        return run(settings, sock)
    from server.command.doors import run_lan

    return run_lan(settings, sock, arguments.new_address)


def demo(arguments: argparse.Namespace) -> None:
    from demo.workshop import fill

    with tempfile.TemporaryDirectory(prefix="isokom-demo-") as folder:
        arguments.database = Path(folder) / "demo.db"
        settings = settings_from(arguments).model_copy(update={"backup_every_hours": 0})
        print("An invented workshop: no real site, find or person. It is thrown away when you stop.", flush=True)
        run(settings, listen(settings.host, settings.port), fill)
