"""Command line. One clear sentence and a code other than 0 when something cannot be done."""

import argparse
import os
import signal
import sys
from contextlib import suppress

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


def _say(sentence: str) -> int:
    print(f"isokom: {sentence}", file=sys.stderr)
    return 1


def _silence() -> None:
    """What is still to be written finds nobody: Python would complain of it while it ends."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _of_system(error: OSError) -> str:
    """What the system did not allow, in a sentence."""
    place = f"{error.filename}: " if error.filename else ""
    return f"{place}{error.strerror or error}. Nothing more was done."


def main(words: list[str] | None = None) -> int:
    """Run a command; returns its exit code."""
    end_as_ctrl_c()
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal that lacks a letter shows "?" for it
    arguments = _parser().parse_args(words)
    try:
        arguments.run(arguments)
        sys.stdout.flush()
    except Failure as failure:
        return _say(failure.message)
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:  # whoever read has gone
        _silence()
        return 1
    except OSError as error:
        with suppress(OSError):
            sys.stdout.flush()
        _silence()
        return _say(_of_system(error))
    return 0


if __name__ == "__main__":
    sys.exit(main())
