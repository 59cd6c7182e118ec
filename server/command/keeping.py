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
    from server.store.backup import folder_of

    settings = settings_from(arguments)
    book = backups.only_file(settings)
    if not book.is_file():
        raise Refused(f"There is no bench book at {book}.")
    if arguments.target is None:
        made = backups.make(book, folder_of(book, settings.backup_folder))
    else:
        made = backups.copy_to(book, arguments.target, datetime.now(UTC))
    print(f"{made.path}: {made.entries:,} entries, looked at and sound.")


def run_restore(arguments: argparse.Namespace) -> None:
    from server.errors import Damaged
    from server.keeping.backups import damage_in, only_file
    from server.keeping.put_back import put_back
    from server.store.backup import Sound, folder_of

    settings = settings_from(arguments)
    book = only_file(settings)
    done = put_back(arguments.backup, book, folder_of(book, settings.backup_folder))
    print(f"{book} is now {done.sound.path.name}, with {done.sound.entries:,} entries.")
    if done.before:
        print(f"What was there before is {done.before}.")
        for sentence in _about_devices(done):
            print(sentence)
    print("Tablets and other machines notice, and offer again what the book now lacks.")
    if found := damage_in(Sound(book, done.sound.step, done.sound.entries, done.sound.last)):
        raise Damaged(f"The entries of this backup are not what was once sent: {found[0].words} ({found[0].count:,}) isokom check tells more; an earlier backup may be sound.")


def _about_devices(done) -> list[str]:
    """What a person must know of who may come in."""
    if done.still_away is None:
        return ["Which devices were turned away since the backup cannot be told: look at the page “Devices” before tablets come."]
    counted = ((done.still_away, "turned away", "stays turned away", "stay turned away"), (done.to_join, "let in", "must join again", "must join again"))
    return [f"{'One device' if count == 1 else f'{count} devices'} that {'was' if count == 1 else 'were'} {what} since then {one if count == 1 else several}." for count, what, one, several in counted if count]


def _checked(settings):
    """Look at the book, also at one that cannot even be opened. Raises Failure."""
    from server.errors import Damaged
    from server.keeping.check import check, unreadable
    from server.store.backup import is_still
    from server.store.opening import open_store

    try:
        if settings.is_file and is_still(settings.file):
            return _checked_where_it_lies(settings.file)
        store = open_store(settings)
    except Damaged as error:
        return unreadable(error.message)
    try:
        with store.read() as session:
            return check(session)
    except Damaged as error:
        return unreadable(error.message)
    finally:
        store.close()


def _checked_where_it_lies(book: Path):
    """A book on a disk that cannot be written. Raises Failure."""
    from server.keeping.check import check, unreadable
    from server.store import migrate
    from server.store.backup import look
    from server.store.engine import still

    try:
        found = look(book)
    except Refused as refused:
        return unreadable(refused.message)
    migrate.known_step(book, found.step)
    if found.step != migrate.head():
        raise Refused(f"{book} was written by an older Isokom and cannot be written where it lies. Copy it to a disk that can be written, and name it there.")
    with still(book) as session:
        return check(session)


def run_check(arguments: argparse.Namespace) -> None:
    from server.keeping.check import as_text

    found = _checked(of_a_book(arguments))
    print(json.dumps({**asdict(found), "is_sound": found.is_sound}, indent=1) if arguments.json else as_text(found))
    if not found.is_sound:
        sys.exit(1)
