"""The backups of a book: made when something new has arrived, rotated, listed, and put back."""

import logging
import os
import re
import shutil
import sqlite3
import threading
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from server.errors import Failure, Refused, Unavailable
from server.keeping.rotate import kept
from server.settings import Settings
from server.store import backup, migrate
from server.store.backup import Sound
from server.store.lock import held, in_use_of

log = logging.getLogger("isokom")
NAME = re.compile(r"bench-book-(\d{8}-\d{6})Z\.db")
ANY_NAME = re.compile(r"(bench-book|before-[a-z0-9-]+)-\d{8}-\d{6}Z\.db")
LOOK_EVERY_S = 60.0


@dataclass(frozen=True)
class Backup:
    """One file in the folder of backups."""

    path: Path
    made: datetime
    size_bytes: int
    is_rotated: bool


def only_file(settings: Settings) -> Path:
    """The file of the book. Raises Refused where it is in PostgreSQL, which has tools of its own."""
    if not settings.is_file:
        raise Refused("The bench book is kept in PostgreSQL: back it up with the database's own pg_dump, and put it back with pg_restore.", code="not_a_file")
    return settings.file


def listed(folder: Path) -> list[Backup]:
    """All backups, the newest first."""
    found = []
    for path in folder.glob("*.db") if folder.is_dir() else ():
        if ANY_NAME.fullmatch(path.name):
            try:
                made = datetime.strptime(path.stem[-16:], "%Y%m%d-%H%M%SZ").replace(tzinfo=UTC)
            except ValueError:
                continue  # no day that there is: none of ours
            found.append(Backup(path, made, path.stat().st_size, bool(NAME.fullmatch(path.name))))
    return sorted(found, key=lambda one: (one.made, one.path.name), reverse=True)


def make(book: Path, folder: Path, now: datetime | None = None) -> Sound:
    """A backup now; those that no longer count go. Raises Unavailable or Refused."""
    now = now or datetime.now(UTC)
    made = backup.copy(book, folder / backup.name_at(now))
    rotated = {one.made: one.path for one in listed(folder) if one.is_rotated}
    for moment in set(rotated) - kept(list(rotated), now):
        for path in (rotated[moment], backup.sidecar(rotated[moment])):
            path.unlink(missing_ok=True)
    return made


def last_number(book: Path) -> int:
    """Number of the entry that arrived last in a book or backup; 0 where it cannot be read."""
    try:
        with closing(sqlite3.connect(f"{book.absolute().as_uri()}?mode=ro", uri=True, timeout=5)) as connection:
            return connection.execute("SELECT last FROM counter WHERE name = 'feed'").fetchone()[0]
    except (sqlite3.Error, TypeError):
        return 0


class Keeper:
    """Makes backups beside a server, one process at a time. `problem`: why the last one failed, in a sentence."""

    def __init__(self, book: Path, folder: Path, every_hours: float):
        self.book, self.folder, self.every = book, folder, timedelta(hours=every_hours)
        self.problem = ""
        self._ended = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin to look, where backups are wanted at all."""
        if self.every:
            self._thread = threading.Thread(target=self._run, name="backups", daemon=True)
            self._thread.start()

    def end(self) -> None:
        """No more; waits for one that is under way."""
        self._ended.set()
        if self._thread:
            self._thread.join(timeout=20)

    def _run(self) -> None:
        while not self._ended.wait(LOOK_EVERY_S):
            self.look(datetime.now(UTC))

    def look(self, now: datetime) -> bool:
        """Make one where it is time and something has arrived; whether one was made. Never raises."""
        try:
            newest = next((one for one in listed(self.folder) if one.is_rotated), None)
            if newest and (now - newest.made < self.every or last_number(newest.path) == last_number(self.book)):
                return False
            if not newest and last_number(self.book) == 0:
                return False
            self.folder.mkdir(parents=True, exist_ok=True)
            with held(self.folder / ".one-at-a-time") as mine:
                if mine:
                    make(self.book, self.folder, now)
                self.problem = ""
                return mine
        except (Failure, OSError) as error:
            self.problem = error.message if isinstance(error, Failure) else f"No backup could be made in {self.folder} ({error.strerror})."
            log.warning("backup failed: %s", self.problem)
            return False


def put_back(chosen: Path, book: Path, folder: Path, now: datetime | None = None) -> tuple[Sound, Path | None]:
    """(the backup that the book now is, where the book of before lies). Raises Refused or Unavailable; then the book is what it was."""
    if book.exists() and chosen.exists() and chosen.samefile(book):
        raise Refused(f"{chosen} is the bench book itself. Name a backup of it.", code="same_file")
    beside = chosen.with_name(f"{chosen.name}-wal")
    if beside.exists() and beside.stat().st_size:
        raise Refused(f"Beside {chosen.name} lies {beside.name}, which holds entries that are not in it yet. Make one whole file of both first: isokom backup FOLDER --database {chosen}. Nothing was changed.", code="has_wal")
    sound = backup.look(chosen)
    migrate.known_step(chosen, sound.step)
    migrate.prepare_folder(book)
    with held(in_use_of(book)) as alone:
        if not alone:
            raise Refused(f"Isokom is running on {book}. Stop it first; nothing was changed.", code="in_use")
        before = None
        if book.exists() and book.stat().st_size:
            before = _saved(book, folder, now or datetime.now(UTC))
        _replace(chosen, book)
    return sound, before


def _saved(book: Path, folder: Path, now: datetime) -> Path:
    """The book of before, as it is, sound or not: nobody wants to lose it by putting back the wrong copy."""
    target = folder / backup.name_at(now, "before-restore")
    try:
        return backup.copy(book, target).path
    except (Refused, Unavailable):
        return _saved_damaged(book, target.with_suffix(".damaged"))


def _saved_damaged(book: Path, target: Path) -> Path:
    """The bytes as they are, with those that were not yet in the file itself. Raises Unavailable."""
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        for ending in ("", "-wal"):
            if (part := book.with_name(book.name + ending)).exists():
                shutil.copyfile(part, target.with_name(target.name + ending))
        return target
    except OSError as error:
        raise Unavailable(f"The book of before could not be saved in {target.parent} ({error.strerror}), so nothing was changed.") from error


def _replace(chosen: Path, book: Path) -> None:
    """Put a copy in the book's place: no word of the old one's journal may be read into the new."""
    part = book.with_name(f".{book.name}.part")
    try:
        shutil.copyfile(chosen, part)
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        with suppress(sqlite3.Error), closing(sqlite3.connect(book, timeout=5)) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        for ending in ("-wal", "-shm"):
            book.with_name(book.name + ending).unlink(missing_ok=True)
        os.replace(part, book)
    except OSError as error:
        raise Unavailable(f"{chosen.name} could not be put in the place of {book} ({error.strerror}).") from error
    finally:
        with suppress(OSError):
            part.unlink()
