"""Things laid aside in a temporary file, so that memory does not grow with their number; read back in whatever order is wanted."""

import pickle
import weakref
from tempfile import SpooledTemporaryFile

IN_MEMORY = 4_000_000  # bytes; beyond that they go to the disk, into a file without a name


class Shelf:
    """Gone with the last who holds it. Not for several threads at once."""

    def __init__(self):
        self._file = SpooledTemporaryFile(max_size=IN_MEMORY)
        self._end = 0
        weakref.finalize(self, self._file.close)

    def add(self, thing) -> int:
        """Its place."""
        told, at = pickle.dumps(thing, protocol=pickle.HIGHEST_PROTOCOL), self._end
        self._file.seek(at)
        self._end += self._file.write(told)
        return at

    def at(self, place: int):
        """What lies at a place."""
        self._file.seek(place)
        return pickle.load(self._file)
