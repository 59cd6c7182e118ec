"""The bench book that the settings name, made or brought to this version."""

from server.errors import Unavailable
from server.settings import Settings
from server.store import backup, migrate
from server.store.engine import MOST_CONNECTIONS, Store, address
from server.store.lock import hold_shared, in_use_of


def _of_file(path) -> Store:
    """A book in a file; other processes are told that it is open."""
    migrate.prepare_folder(path)
    migrate.known_step(path, migrate.found_version(path))  # before anything is laid beside it
    try:
        lock = hold_shared(in_use_of(path))
    except OSError as error:
        raise Unavailable(f"{path.parent} cannot be written ({error.strerror}). Name another place for the bench book.") from error
    if lock is None:
        raise Unavailable(f"A backup is just being put in the place of {path}. Try again in a moment.")
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
    except BaseException:
        store.close()
        raise
    return store
