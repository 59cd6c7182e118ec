"""A backup put in the place of the book: the book of before is saved first, and who was turned away stays so."""

import os
import shutil
import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from server.errors import Refused, Unavailable
from server.store import backup, migrate
from server.store.backup import Sound
from server.store.lock import held, in_use_of


@dataclass(frozen=True)
class PutBack:
    """What was done. `sound`: the backup that the book now is; `before`: where the book of before lies; `still_away`: how many devices were turned away since, and stay so; `to_join`: how many joined since, and must again. Both None where the book of before cannot tell."""

    sound: Sound
    before: Path | None
    still_away: int | None
    to_join: int | None


def put_back(chosen: Path, book: Path, folder: Path, now: datetime | None = None) -> PutBack:
    """Raises Refused or Unavailable; then the book is what it was."""
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
        before, passes = None, {}
        if book.exists() and book.stat().st_size:
            before, passes = _saved(book, folder, now or datetime.now(UTC)), _passes(book)
        return PutBack(sound, before, *_replace(chosen, book, passes))


def _passes(book: Path) -> dict[str, int | None] | None:
    """Pass -> when it was taken back; None where that cannot be read."""
    try:
        with closing(sqlite3.connect(book, timeout=5)) as connection:
            return dict(connection.execute("SELECT id, revoked_ms FROM device_pass").fetchall())
    except sqlite3.Error:
        return None


def _keep_away(part: Path, passes: dict[str, int | None] | None) -> tuple[int | None, int | None]:
    """Devices that the book of before had turned away are turned away in this one too: (how many, how many it does not know)."""
    with closing(sqlite3.connect(part)) as connection:
        if passes is None or not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'device_pass'").fetchone():
            return None, None
        known = {one for (one,) in connection.execute("SELECT id FROM device_pass")}
        away = [(moment, one) for one, moment in passes.items() if moment is not None]
        changed = connection.executemany("UPDATE device_pass SET revoked_ms = ? WHERE id = ? AND revoked_ms IS NULL", away).rowcount
        connection.commit()
    return max(changed, 0), sum(1 for one, moment in passes.items() if moment is None and one not in known)


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


def _replace(chosen: Path, book: Path, passes: dict[str, int | None] | None) -> tuple[int | None, int | None]:
    """Put a copy in the book's place: no word of the old one's journal may be read into the new. As _keep_away."""
    part = book.with_name(f".{book.name}.part")
    try:
        shutil.copyfile(chosen, part)
        told = _keep_away(part, passes)
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        with suppress(sqlite3.Error), closing(sqlite3.connect(book, timeout=5)) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        for ending in ("-wal", "-shm"):
            book.with_name(book.name + ending).unlink(missing_ok=True)
        os.replace(part, book)
        return told
    except (OSError, sqlite3.Error) as error:
        raise Unavailable(f"{chosen.name} could not be put in the place of {book} ({getattr(error, 'strerror', None) or error}).") from error
    finally:
        with suppress(OSError):
            part.unlink()
