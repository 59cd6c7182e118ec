"""A lock between processes that is gone with the process that held it, however that ended. Advisory; on a system without flock nothing is locked."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

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


def in_use_of(database: Path) -> Path:
    """The file that whoever serves a book holds, shared."""
    return database.with_name(f"{database.name}.in-use")
