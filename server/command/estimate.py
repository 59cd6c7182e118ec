"""isokom estimate, accuracy: the models at the command line."""

import argparse
import os
import sys
from contextlib import suppress
from pathlib import Path

from server.errors import Refused, Unavailable

METHODS = ("certified", "epma-icp", "xrf", "portable-xrf")  # of server/physics/data/analysis.json, not loaded for a mere --help


def add(commands) -> None:
    """The commands of this module."""
    command = commands.add_parser("estimate", help="estimate a CSV of analyses")
    command.add_argument("source", type=Path, metavar="IN.csv")
    command.add_argument("-o", "--output", type=Path, required=True, metavar="OUT.csv")
    command.add_argument("--models", action="store_true", help="add what each model said by itself")
    command.add_argument("--json", action="store_true", help="write one JSON array instead of CSV")
    command.add_argument("--method", choices=METHODS, help="add the analysis's own uncertainty by its method; without it the analyses count as exact")
    command.set_defaults(run=estimate)
    commands.add_parser("accuracy", help="print what every model, and all together, were worth on measured glasses").set_defaults(run=accuracy)


def is_database(path: Path) -> bool:
    """Whether a file begins as SQLite's do (https://www.sqlite.org/fileformat.html, 1.3)."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        return file.read(16) == b"SQLite format 3\0"


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
    if is_database(output):
        raise Refused(f"{arguments.output} is a database, perhaps a bench book. It was left as it is: name another file for the results.", code="is_database")
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
