"""A sound copy of a bench book while it is in use, and the look whether a copy is sound. SQLite's own online backup (https://sqlite.org/backup.html); PostgreSQL has tools of its own."""

import hashlib
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from server.errors import Damaged, Refused, Unavailable

NUMBERED = ("trial_entry", "bench_entry", "own_glass")
PATIENCE_S = 30
AT_ONCE = 1 << 20


@dataclass(frozen=True)
class Sound:
    """A copy that was looked at: its step, how many entries it holds, and the number of the last one."""

    path: Path
    step: str
    entries: int
    last: int


def sidecar(path: Path) -> Path:
    """Where the checksum of a copy stands, as sha256sum writes it."""
    return path.with_name(f"{path.name}.sha256")


def _seal(path: Path) -> str:
    found = hashlib.sha256()
    with path.open("rb") as file:
        while part := file.read(AT_ONCE):
            found.update(part)
    return found.hexdigest()


@contextmanager
def _opened(path: Path) -> Iterator[sqlite3.Connection]:
    """A file that nobody writes, to be read only: not a byte of it changes."""
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro&immutable=1", uri=True, timeout=PATIENCE_S)) as connection:
        yield connection


def look(path: Path) -> Sound:
    """Whether a copy is sound. Raises Refused with the reason."""
    if not path.is_file():
        raise Refused(f"{path} is no file.", code="no_backup")
    told = sidecar(path)
    if told.is_file() and told.read_text(encoding="utf-8", errors="replace").split(" ")[0] != _seal(path):
        raise Refused(f"{path.name} was changed or damaged after it was made: its checksum is another. Use another backup.", code="damaged")
    try:
        with _opened(path) as connection:
            wrong = connection.execute("PRAGMA integrity_check").fetchall()
            tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            if wrong != [("ok",)] or not {"alembic_version", "counter", "trial_entry"} <= tables:
                raise Refused(f"{path.name} is damaged, or no bench book. Use another backup.", code="damaged")
            (step,) = connection.execute("SELECT version_num FROM alembic_version").fetchone()
            found = [connection.execute(f"SELECT count(*), coalesce(max(seq), 0) FROM {table}").fetchone() for table in NUMBERED if table in tables]
            (last,) = connection.execute("SELECT last FROM counter WHERE name = 'feed'").fetchone()
    except sqlite3.Error as error:
        raise Refused(f"{path.name} cannot be read as a bench book ({error}). Use another backup.", code="damaged") from error
    entries = sum(count for count, _max in found)
    if max(top for _count, top in found) != last or entries != last:
        raise Refused(f"{path.name} is not whole: entries are missing from it. Use another backup.", code="damaged")
    return Sound(path, step, entries, last)


def _sync_folder(folder: Path) -> None:
    """What was renamed in a folder is on the disk. Not every system can."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def is_still(book: Path) -> bool:
    """Whether a book lies where it cannot be written, as on a stick that is locked, and is whole as it is. Raises Unavailable where it is not."""
    if all(os.access(one, os.W_OK) for one in (book.parent, book)):
        return False
    beside = book.with_name(f"{book.name}-wal")
    if beside.exists() and beside.stat().st_size:
        raise Unavailable(f"{book} cannot be written, and beside it lies {beside.name}, which holds entries that are not in it yet. Copy both to a disk that can be written, and name the book there.")
    return True


@contextmanager
def _source(book: Path) -> Iterator[sqlite3.Connection]:
    """A book to copy from. Raises Unavailable."""
    opened = _opened(book) if is_still(book) else closing(sqlite3.connect(book, timeout=PATIENCE_S))
    with opened as source:
        yield source


def _copied(book: Path, part: Path) -> Sound:
    """Copy, and look at the copy. Raises Damaged for a book that is no longer sound."""
    try:
        with _source(book) as source, closing(sqlite3.connect(part)) as made:
            source.backup(made)
            made.execute("PRAGMA journal_mode=DELETE")
        return look(part)
    except (Refused, sqlite3.DatabaseError) as error:
        if isinstance(error, sqlite3.OperationalError):
            raise
        raise Damaged(f"The bench book {book} is damaged, so no backup of it was made. isokom check tells more; isokom restore puts a backup back.") from error


def copy(book: Path, target: Path) -> Sound:
    """Copy a book to a new file, look at the copy, and only then give it its name, with its checksum beside it. Whoever writes meanwhile is not held up. Raises Unavailable or Damaged; then nothing of it is left."""
    part = target.with_name(f".{target.name}.part")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        part.unlink(missing_ok=True)
        sound = _copied(book, part)
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        sidecar(target).write_text(f"{_seal(part)}  {target.name}\n", encoding="utf-8")
        os.replace(part, target)
        _sync_folder(target.parent)
    except (OSError, sqlite3.Error) as error:
        with suppress(OSError):
            sidecar(target).unlink()
        reason = error.strerror if isinstance(error, OSError) and error.strerror else error
        raise Unavailable(f"No backup could be made in {target.parent} ({reason}). The bench book itself is untouched.", code="backup_failed") from error
    finally:
        for left in (part, part.with_name(f"{part.name}-journal")):
            with suppress(OSError):
                left.unlink()
    return Sound(target, sound.step, sound.entries, sound.last)


def set_aside(path: Path, name: str) -> Path:
    """Give a copy another name, without its checksum: it is no backup."""
    sidecar(path).unlink(missing_ok=True)
    return path.rename(path.with_name(name))


def name_at(moment: datetime, prefix: str = "bench-book") -> str:
    """File name of a copy made at that moment."""
    return f"{prefix}-{moment.astimezone(UTC):%Y%m%d-%H%M%SZ}.db"


def folder_of(database: Path, chosen: Path | None) -> Path:
    """Where copies of a book go."""
    return chosen or database.parent / "backups"
