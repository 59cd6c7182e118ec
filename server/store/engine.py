"""SQLite engine with read() and write() sessions. Writes are immediate, synchronous and durable."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from sqlalchemy import event
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session, create_engine

from server.errors import Unavailable


def _on_connect(connection, _record) -> None:
    """Durable settings on each connection; isolation is left to the explicit BEGIN below."""
    connection.isolation_level = None
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "busy_timeout=5000"):
        connection.execute(f"PRAGMA {pragma}")


def _on_begin(connection) -> None:
    """A writer takes its lock at once, so that two writers queue instead of failing half way."""
    mode = connection.get_execution_options().get("begin", "DEFERRED")
    connection.exec_driver_sql(f"BEGIN {mode}")


class Store:
    """One bench book. The caller of write() owns the transaction; domains never commit."""

    def __init__(self, path: Path, lock: TextIO | None = None):
        """lock: what says to other processes that the book is open; let go of on close."""
        self.path, self.lock = Path(path), lock
        self.engine = create_engine(f"sqlite:///{self.path}", connect_args={"check_same_thread": False})
        event.listen(self.engine, "connect", _on_connect)
        event.listen(self.engine, "begin", _on_begin)

    @contextmanager
    def read(self) -> Iterator[Session]:
        """A session to read from; nothing it changes is kept."""
        with self._wrapped(), Session(self.engine) as session:
            yield session

    @contextmanager
    def write(self) -> Iterator[Session]:
        """A session whose changes are on disk when the block ends, or not at all. Raises Unavailable."""
        engine = self.engine.execution_options(begin="IMMEDIATE")
        with self._wrapped(), Session(engine) as session, session.begin():
            yield session

    @contextmanager
    def _wrapped(self) -> Iterator[None]:
        try:
            yield
        except DBAPIError as error:
            raise Unavailable(
                f"The bench book at {self.path} could not be read or written ({error.orig}). Nothing was changed.",
                code="storage_failed",
            ) from error

    def close(self) -> None:
        """Let go of the file."""
        self.engine.dispose()
        if self.lock:
            self.lock.close()
