"""A lock between processes that is gone with the process that held it, however that ended. Advisory; on a system without flock nothing is locked."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

LOOK_EVERY_S = 0.05
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


def _had(file: TextIO, how: int) -> bool:
    try:
        fcntl.flock(file, how | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def hold(path: Path, patience_s: float) -> TextIO | None:
    """A lock until the file is closed or the process ends: alone where nobody else has it, else shared; None where somebody keeps it alone for longer than that. Raises OSError where the file cannot be made."""
    file, until = path.open("a"), time.monotonic() + patience_s
    while fcntl is not None and not _had(file, fcntl.LOCK_EX) and not _had(file, fcntl.LOCK_SH):
        if time.monotonic() > until:
            file.close()
            return None
        time.sleep(LOOK_EVERY_S)
    return file


def share(file: TextIO) -> None:
    """Let others in as well."""
    if fcntl is not None:
        _had(file, fcntl.LOCK_SH)


def in_use_of(database: Path) -> Path:
    """The file that whoever has a book open holds, shared."""
    return database.with_name(f"{database.name}.in-use")
