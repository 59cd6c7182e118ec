"""The backups of a book: made when something new has arrived, rotated, listed."""

import logging
import re
import sqlite3
import threading
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from server.errors import Damaged, Failure, Refused
from server.keeping.check import Finding, damage
from server.keeping.rotate import kept
from server.settings import Settings
from server.store import backup, migrate
from server.store.backup import Sound
from server.store.engine import still
from server.store.lock import held

log = logging.getLogger("isokom")
NAME = re.compile(r"bench-book-(\d{8}-\d{6})Z\.db")
DAMAGED = "damaged-book"
DAMAGED_KEPT = 3
ANY_NAME = re.compile(rf"(bench-book|{DAMAGED}|before-[a-z0-9-]+)" r"-\d{8}-\d{6}Z\.db")
LOOK_EVERY_S = 60.0


@dataclass(frozen=True)
class Backup:
    """One file in the folder of backups."""

    path: Path
    made: datetime
    size_bytes: int
    is_rotated: bool

    @property
    def is_damaged(self) -> bool:
        """Whether it is a copy of a book whose entries were not what was sent: no backup, but all that there was."""
        return self.path.name.startswith(DAMAGED)


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


def damage_in(copy: Sound) -> list[Finding]:
    """What is wrong with the entries of a copy; nothing of one that an older version wrote, which is looked at once it was brought to this one. Raises Damaged."""
    if copy.step != migrate.head():
        return []
    with still(copy.path) as session:
        return damage(session)


def copy_to(book: Path, folder: Path, now: datetime) -> Sound:
    """A sound copy in a folder, its entries compared with their seals. Raises Unavailable, or Damaged: then the copy is set aside under another name."""
    made = backup.copy(book, folder / backup.name_at(now))
    if wrong := damage_in(made):
        aside = backup.set_aside(made.path, backup.name_at(now, DAMAGED))
        raise Damaged(f"The bench book {book} is damaged: {wrong[0].words} ({wrong[0].count:,}) This is no backup, but it was copied as it is to {aside}. Earlier backups stay. isokom check tells more; isokom restore puts one back.")
    return made


def make(book: Path, folder: Path, now: datetime | None = None) -> Sound:
    """A backup now; those that no longer count go. Raises Unavailable, or Damaged: then none goes but old copies of a damaged book."""
    now = now or datetime.now(UTC)
    try:
        made = copy_to(book, folder, now)
    except Damaged:
        for old in [one for one in listed(folder) if one.is_damaged][DAMAGED_KEPT:]:
            old.path.unlink(missing_ok=True)
        raise
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
            newest = next((one for one in listed(self.folder) if one.is_rotated or one.is_damaged), None)
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
