"""The bench book that the settings name, made or brought to this version."""

from server.errors import Unavailable
from server.settings import Settings
from server.store import backup, migrate
from server.store.engine import Store
from server.store.lock import hold_shared, in_use_of


def open_store(settings: Settings) -> Store:
    """Raises Unavailable, Refused or NewerDatabase."""
    migrate.prepare_folder(settings.database)
    try:
        lock = hold_shared(in_use_of(settings.database))
    except OSError as error:
        raise Unavailable(f"{settings.database.parent} cannot be written ({error.strerror}). Name another place for the bench book.") from error
    if lock is None:
        raise Unavailable(f"A backup is just being put in the place of {settings.database}. Try again in a moment.")
    store = Store(settings.database, lock)
    migrate.upgrade(store, backup.folder_of(settings.database, settings.backup_folder))
    return store
