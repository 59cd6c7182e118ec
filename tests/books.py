"""An empty bench book of this version, brought through all its steps once for each process of the tests and then copied: the steps cost more than most tests."""

import atexit
import shutil
import tempfile
from functools import cache
from pathlib import Path

from server.settings import Settings
from server.store.opening import open_store


@cache
def _made() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="isokom-empty-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    open_store(Settings(database=folder / "empty.db")).close()
    return folder / "empty.db"


def empty_book(path: Path) -> Path:
    """A new file with an empty book in it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(_made(), path)
    return path
