"""The bench book that the settings name, made or brought to this version."""

from pathlib import Path

from server.errors import NewerDatabase, Unavailable
from server.settings import Settings
from server.store import backup, migrate
from server.store.engine import MOST_CONNECTIONS, Store, address
from server.store.lock import hold, in_use_of, share

PATIENCE_S = 30.0


def _known(path: Path) -> None:
    """Raises NewerDatabase or Unavailable for a file that is no book of ours, before anything is laid beside it."""
    try:
        migrate.known_step(path, migrate.found_version(path))
    except Unavailable as error:
        if isinstance(error, NewerDatabase) or not in_use_of(path).exists():
            raise  # else another process may just be making it


def _of_file(path: Path) -> Store:
    """A book in a file, this process's alone until share(): of several that open a new one, one makes it and the others wait."""
    migrate.prepare_folder(path)
    _known(path)
    try:
        lock = hold(in_use_of(path), PATIENCE_S)
    except OSError as error:
        raise Unavailable(f"{path.parent} cannot be written ({error.strerror}). Name another place for the bench book.") from error
    if lock is None:
        raise Unavailable(f"Another Isokom is just preparing {path}, or puts a backup in its place. Try again in a moment.")
    return Store(path, lock)


def _connections(processes: int) -> int:
    """How many connections one of so many processes may have, so that all together leave PostgreSQL some for others."""
    return max(4, min(MOST_CONNECTIONS, 2 * MOST_CONNECTIONS // processes))


def open_store(settings: Settings) -> Store:
    """Raises Unavailable, Refused or NewerDatabase."""
    url = address(settings.database_url) if settings.database_url else None
    is_file = url is None or url.drivername == "sqlite"
    store = _of_file(settings.file) if is_file else Store(settings.database_url, most=_connections(settings.processes))
    try:
        migrate.upgrade(store, backup.folder_of(settings.file, settings.backup_folder) if is_file else None)
        if store.lock:
            share(store.lock)
    except BaseException:
        store.close()
        raise
    return store
