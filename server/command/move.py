"""isokom move: a bench book from a file into PostgreSQL, or back."""

import argparse
from contextlib import closing

from server.errors import Refused


def add(commands) -> None:
    """The commands of this module."""
    command = commands.add_parser("move", help="copy a bench book into another, new database, and check that both hold the same")
    command.add_argument("--from", dest="source", required=True, metavar="A", help="file or address (postgresql://…) of the bench book")
    command.add_argument("--to", dest="target", required=True, metavar="B", help="file or address of the new one")
    command.set_defaults(run=move)


def move(arguments: argparse.Namespace) -> None:
    """Copy, verify, and print what was found on both sides."""
    import server.app  # which knows every table
    from server.store import move as moving
    from server.store.engine import Store

    with closing(Store(arguments.source)) as source, closing(Store(arguments.target)) as target:
        if source.place == target.place or (source.path and target.path and source.path.resolve() == target.path.resolve()):
            raise Refused(f"{source.place} is named on both sides. Name a new place for the copy.", code="same_place")
        if source.path and not source.path.is_file():
            raise Refused(f"There is no bench book at {source.place}. Nothing was made.", code="no_bench_book")
        moved = moving.move(source, target)
    for part in moved:
        print(f"{part.table}: {part.rows:,} row{'' if part.rows == 1 else 's'} on both sides, SHA-256 {part.sha256}")
    print(f"Copied from {source.place} to {target.place}. Both hold the same; the first was not changed.")
