"""Bring a bench book to the schema of this version. Forward only; a newer file is refused untouched."""

import os
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy.exc import DBAPIError

from server.errors import NewerDatabase, Unavailable
from server.store import backup
from server.store.engine import Store

COPIES_KEPT = 3
STEPS = Path(__file__).with_name("steps")


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(STEPS))
    config.set_main_option("path_separator", "os")
    return config


def found_version(path: Path) -> str | None:
    """Name of the last step that the file has been through; None for a new file. Looks without changing a byte.

    raises Unavailable for a file that is no bench book or cannot be read.
    """
    if not path.exists() or path.stat().st_size == 0:
        return None
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            if tables and "alembic_version" not in tables:
                raise Unavailable(f"{path} is a database, but no bench book. It was left untouched: name another file.")
            found = connection.execute("SELECT version_num FROM alembic_version").fetchone() if tables else None
    except sqlite3.Error as error:
        raise Unavailable(f"{path} cannot be read as a bench book ({error}). It was left untouched.") from error
    return found[0] if found else None


def prepare_folder(path: Path) -> None:
    """Make the folder of the bench book. Raises Unavailable where it cannot be written."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise Unavailable(f"The folder {path.parent} cannot be made ({error.strerror}). Nothing was changed.") from error
    if path.exists() and not path.is_file():
        raise Unavailable(f"{path} is not a file. Name the bench book's file.")
    for target in (path.parent, path) if path.exists() else (path.parent,):
        if not os.access(target, os.W_OK):
            raise Unavailable(f"{target} cannot be written. Give leave to write there, or name another file.")


def known_step(path: Path, step: str | None) -> None:
    """Raises NewerDatabase for a step that this version does not know."""
    known = {one.revision for one in ScriptDirectory.from_config(_config()).walk_revisions()}
    if step is not None and step not in known:
        raise NewerDatabase(f"The bench book at {path} was written by a newer Isokom (step {step}). It was left untouched: use the newer program to open it.")


def _copy_first(store: Store, backups: Path, head: str) -> None:
    """A sound copy of the book before its tables change; the last few stay. Raises Unavailable or Refused: then nothing is changed."""
    backup.copy(store.path, backups / backup.name_at(datetime.now(UTC), f"before-step-{head}"))
    for old in sorted(backups.glob("before-step-*.db"), key=lambda path: path.stem[-16:], reverse=True)[COPIES_KEPT:]:
        for path in (old, backup.sidecar(old)):
            path.unlink(missing_ok=True)


def upgrade(store: Store, backups: Path | None = None) -> None:
    """Run the steps that the file has not been through, each in a transaction of its own, after a copy was put into `backups`. Raises NewerDatabase, Unavailable or Refused."""
    config = _config()
    found, head = found_version(store.path), ScriptDirectory.from_config(config).get_current_head()
    known_step(store.path, found)
    if found == head:
        return
    if found is not None and backups is not None:
        _copy_first(store, backups, head)
    try:
        with store.engine.connect() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
    except DBAPIError as error:
        raise Unavailable(f"The bench book at {store.path} could not be prepared ({error.orig}).") from error
