"""A lock between processes that is gone with the process that held it, however that ended. Advisory; on a system without flock nothing is locked."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None


@contextmanager
def held(path: Path, shared: bool = False) -> Iterator[bool]:
    """True inside where the lock could be had at once."""
    if fcntl is None:
        yield True
        return
    with path.open("a") as file:
        try:
            fcntl.flock(file, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except OSError:
            yield False
            return
        yield True


def hold_shared(path: Path) -> TextIO | None:
    """A lock that is shared until the file is closed, or the process ends; None where somebody has it alone. Raises OSError where the file cannot be made."""
    file = path.open("a")
    try:
        if fcntl is not None:
            fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except OSError:
        file.close()
        return None
    return file


def in_use_of(database: Path) -> Path:
    """The file that whoever has a book open holds, shared."""
    return database.with_name(f"{database.name}.in-use")
