"""The bench book that the settings name, made or brought to this version."""

from server.settings import Settings
from server.store import backup, migrate
from server.store.engine import Store


def open_store(settings: Settings) -> Store:
    """Raises Unavailable, Refused or NewerDatabase."""
    migrate.prepare_folder(settings.database)
    store = Store(settings.database)
    migrate.upgrade(store, backup.folder_of(settings.database, settings.backup_folder))
    return store
