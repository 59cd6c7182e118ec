"""The bench book that the settings name, made or brought to this version."""

from server.settings import Settings
from server.store import migrate
from server.store.engine import Store


def open_store(settings: Settings) -> Store:
    """Raises Unavailable or NewerDatabase."""
    migrate.prepare_folder(settings.database)
    store = Store(settings.database)
    migrate.upgrade(store)
    return store
