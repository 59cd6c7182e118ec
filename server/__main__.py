"""Command line. One clear sentence and a code other than 0 when something cannot be done."""

import argparse
import signal
import sys

from server import __version__
from server.command import access, estimate, exchange, keeping, move, serve
from server.errors import Failure

COMMANDS = (serve, access, exchange, keeping, move, estimate)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="isokom", description="The bench book of people who study ancient glass by working it.")
    parser.add_argument("--version", action="version", version=f"isokom {__version__}")
    commands = parser.add_subparsers(dest="command", required=True)
    for module in COMMANDS:
        module.add(commands)
    return parser


def end_as_ctrl_c() -> None:
    """Take a request to end, or a closed terminal, as Ctrl-C: everything is put away."""
    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), lambda *_: signal.raise_signal(signal.SIGINT))


def main(words: list[str] | None = None) -> int:
    """Run a command; returns its exit code."""
    end_as_ctrl_c()
    arguments = _parser().parse_args(words)
    try:
        arguments.run(arguments)
    except Failure as failure:
        print(f"isokom: {failure.message}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130
    return 0


if __name__ == "__main__":
    sys.exit(main())
