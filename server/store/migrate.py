"""Bring a bench book to the schema of this version. Forward only; a newer file is refused untouched."""

import os
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import inspect, text
from sqlalchemy.exc import DBAPIError
from sqlmodel import SQLModel

from server.errors import Damaged, NewerDatabase, Unavailable
from server.store import backup
from server.store.engine import Store

COPIES_KEPT = 3
STEPS = Path(__file__).with_name("steps")
FIRST = {"alembic_version", "counter", "trial_entry", "own_glass"}  # what every bench book has had from its first step on
LOCK = 1_769_172_851  # of PostgreSQL's advisory locks, the one under which steps run; any fixed number does


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(STEPS))
    config.set_main_option("path_separator", "os")
    return config


def _step_of(place: Path | str, tables: set[str], rows: list[str]) -> str | None:
    """The step that a database has been through, by the names of its tables and the rows of alembic_version; None for an empty one. Raises Unavailable for a database of somebody else."""
    if tables and (len(rows) != 1 or not FIRST <= tables):
        raise Unavailable(f"{place} is a database, but no bench book. It was left untouched: name another one.")
    return rows[0] if tables else None


def found_version(path: Path) -> str | None:
    """Name of the last step that the file has been through; None for a new file. Looks without changing a byte.

    raises Unavailable for a file that is no bench book or cannot be read.
    """
    if not path.exists() or path.stat().st_size == 0:
        return None
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            rows = [step for (step,) in connection.execute("SELECT version_num FROM alembic_version")] if "alembic_version" in tables else []
    except sqlite3.OperationalError as error:
        raise Unavailable(f"{path} cannot be read as a bench book ({error}). It was left untouched.") from error
    except sqlite3.Error as error:
        raise Damaged(f"{path} is damaged, or no bench book ({error}). It was left untouched.") from error
    return _step_of(path, tables, rows)


def found_in_postgres(store: Store) -> str | None:
    """As found_version, of a database in PostgreSQL."""
    with store.wrapped(), store.engine.connect() as connection:
        tables = set(inspect(connection).get_table_names())
        rows = list(connection.execute(text("SELECT version_num FROM alembic_version")).scalars()) if "alembic_version" in tables else []
    return _step_of(store.place, tables, rows)


def _missing_columns(store: Store) -> set[tuple[str, str]]:
    """(table, column) of all that this version keeps in a book and that is not there."""
    with store.wrapped(), store.engine.connect() as connection:
        there = {(table, column["name"]) for (_schema, table), columns in inspect(connection).get_multi_columns().items() for column in columns}
    return {(table.name, column.name) for table in SQLModel.metadata.sorted_tables for column in table.columns} - there


def whole(store: Store) -> None:
    """Raises Unavailable for a book of this version in which tables or columns are missing."""
    if missing := sorted({table for table, _column in _missing_columns(store)}):
        failure = Unavailable if store.is_postgres else Damaged
        raise failure(f"The bench book at {store.place} is not whole: {', '.join(missing)} is missing or lacks columns. It was left untouched: put a backup back.")


def found(store: Store) -> str | None:
    """Name of the last step that a bench book has been through; None for a new one."""
    return found_in_postgres(store) if store.path is None else found_version(store.path)


def head() -> str:
    """Name of the last step that this version knows."""
    return ScriptDirectory.from_config(_config()).get_current_head()


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


def known_step(place: Path | str, step: str | None) -> None:
    """Raises NewerDatabase for a step that this version does not know."""
    known = {one.revision for one in ScriptDirectory.from_config(_config()).walk_revisions()}
    if step is not None and step not in known:
        raise NewerDatabase(f"The bench book at {place} was written by a newer Isokom (step {step}). It was left untouched: use the newer program to open it.")


def _copy_first(path: Path, backups: Path) -> None:
    """A sound copy of the book before its tables change; the last few stay. Raises Unavailable or Refused: then nothing is changed."""
    backup.copy(path, backups / backup.name_at(datetime.now(UTC), f"before-step-{head()}"))
    for old in sorted(backups.glob("before-step-*.db"), key=lambda one: one.stem[-16:], reverse=True)[COPIES_KEPT:]:
        for one in (old, backup.sidecar(old)):
            one.unlink(missing_ok=True)


def upgrade(store: Store, backups: Path | None = None) -> None:
    """Run the steps that the book has not been through, each in a transaction of its own on a file, after a copy of the file was put into `backups`. Raises NewerDatabase, Unavailable or Refused."""
    config, version = _config(), found(store)
    known_step(store.place, version)
    if version == head():
        return whole(store)
    if version is not None and backups is not None and store.path is not None:
        _copy_first(store.path, backups)
    try:
        with store.engine.connect() as connection:
            if store.is_postgres:  # several servers may start at once: one runs the steps, the others find them done
                connection.execute(text("SET LOCAL lock_timeout = '60s'"))
                connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": LOCK})
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
    except DBAPIError as error:
        raise Unavailable(f"The bench book at {store.place} could not be prepared ({error.orig}).") from error
