"""isokom backup, restore, check: keep the bench book safe."""

import argparse
import json
import sys
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

from server.command.serve import of_a_book, settings_from
from server.errors import Refused


def add(commands) -> None:
    """The commands of this module."""
    make = commands.add_parser("backup", help="make a sound copy of the bench book now, also while it is served")
    make.add_argument("target", nargs="?", type=Path, metavar="FOLDER", help="where to; the folder of backups when not named")
    back = commands.add_parser("restore", help="put a backup in the place of the bench book; what is there now is saved first")
    back.add_argument("backup", type=Path, metavar="BACKUP")
    look = commands.add_parser("check", help="look whether the bench book is sound; 1 where it is damaged")
    look.add_argument("--json", action="store_true", help="for programs")
    for command, run in ((make, run_backup), (back, run_restore), (look, run_check)):
        command.add_argument("--database", type=Path, help="the bench book's file")
        command.set_defaults(run=run)


def run_backup(arguments: argparse.Namespace) -> None:
    from server.keeping import backups
    from server.store.backup import copy, folder_of, name_at

    settings = settings_from(arguments)
    book = backups.only_file(settings)
    if not book.is_file():
        raise Refused(f"There is no bench book at {book}.")
    if arguments.target is None:
        made = backups.make(book, folder_of(book, settings.backup_folder))
    else:
        made = copy(book, arguments.target / name_at(datetime.now(UTC)))
    print(f"{made.path}: {made.entries:,} entries, looked at and sound.")


def run_restore(arguments: argparse.Namespace) -> None:
    from server.keeping.backups import only_file, put_back
    from server.store.backup import folder_of

    settings = settings_from(arguments)
    book = only_file(settings)
    made, before = put_back(arguments.backup, book, folder_of(book, settings.backup_folder))
    print(f"{book} is now {made.path.name}, with {made.entries:,} entries.")
    if before:
        print(f"What was there before is {before}.")
    print("Tablets and other machines notice, and offer again what the book now lacks.")


def run_check(arguments: argparse.Namespace) -> None:
    from server.keeping.check import as_text, check
    from server.store.opening import open_store

    settings = of_a_book(arguments)
    store = open_store(settings)
    try:
        with store.read() as session:
            found = check(session)
    finally:
        store.close()
    print(json.dumps({**asdict(found), "is_sound": found.is_sound}, indent=1) if arguments.json else as_text(found))
    if not found.is_sound:
        sys.exit(1)
