"""Takes in a pack, or the file that a tablet saved. What is damaged is refused before anything of it is stored; one entry that cannot be taken stops none of the others."""

import hashlib
import json
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from server.errors import Refused, Unavailable
from server.exchange import tablet
from server.exchange.pack import ABOUT, ENTRIES, FORMAT
from server.exchange.tablet import damaged
from server.package.reading import BROKEN
from server.store.engine import Store
from server.sync.push import Batch, push

LARGEST_UNPACKED_BYTES = 4_000_000_000
LARGEST_ABOUT_BYTES = 20_000
LONGEST_LINE = 1_000_000
AT_ONCE = 400


class About(BaseModel):
    """What a pack says of itself."""

    model_config = ConfigDict(extra="ignore", strict=True)

    isokom_pack: int
    machine: str = Field(default="", max_length=200)
    made_ms: int = Field(default=0, ge=0)
    entries: int = Field(ge=0)
    sha256: str = Field(pattern=r"^[0-9a-f]{64}$")


@dataclass
class Unpacked:
    """What became of the entries of a file."""

    stored: int = 0
    same: int = 0
    refused: dict[str, int] = field(default_factory=dict)

    @property
    def sentence(self) -> str:
        """As one would say it."""
        told = f"{self.stored:,} new, {self.same:,} were here already"
        if self.refused:
            told += f"; {sum(self.refused.values()):,} were NOT taken in ({' '.join(list(self.refused)[:2])[:200]}) Keep this file"
        return told + "."


def _about(file: zipfile.ZipFile, path: Path) -> About:
    """What the pack says of itself. Raises Refused."""
    parts = {part.filename: part for part in file.infolist()}
    if set(parts) != {ABOUT, ENTRIES} or len(file.infolist()) != 2 or parts[ABOUT].file_size > LARGEST_ABOUT_BYTES:
        raise damaged(path)
    if parts[ENTRIES].file_size > LARGEST_UNPACKED_BYTES:
        raise Refused(f"{path.name} unpacks to more than {LARGEST_UNPACKED_BYTES // 10**9} GB. That is more than is taken in.", code="too_large")
    try:
        about = About.model_validate(json.loads(file.read(ABOUT)))
    except (ValueError, ValidationError, RecursionError):
        raise damaged(path) from None
    if about.isokom_pack < 1:
        raise damaged(path)
    if about.isokom_pack != FORMAT:
        raise Refused(f"{path.name} was made by a newer Isokom. Nothing of it was taken in: use the newer program.", code="newer_pack")
    return about


def _lines(file: zipfile.ZipFile, path: Path) -> Iterator[bytes]:
    """Line by line; no more is held in memory than one. Raises Refused for a line that no entry can have."""
    total = 0
    with file.open(ENTRIES) as lines:
        while line := lines.readline(LONGEST_LINE + 1):
            total += len(line)
            if len(line) > LONGEST_LINE or total > LARGEST_UNPACKED_BYTES:
                raise damaged(path)
            yield line


def _check(file: zipfile.ZipFile, about: About, path: Path) -> None:
    """Raises Refused where the entries are not those that the pack speaks of."""
    seal, count = hashlib.sha256(), 0
    for line in _lines(file, path):
        seal.update(line)
        count += 1
    if (seal.hexdigest(), count) != (about.sha256, about.entries):
        raise damaged(path)


def _take(store: Store, entries: Iterator[dict], now_ms: int) -> Unpacked:
    """Hand all in, a batch at a time, so that tablets get in between."""
    told = Unpacked()
    while part := list(islice(entries, AT_ONCE)):
        with store.write() as session:
            verdicts = push(session, Batch(entries=part), now_ms)
        told.stored += sum(v.verdict == "stored" for v in verdicts)
        told.same += sum(v.verdict == "same" for v in verdicts)
        for verdict in (v for v in verdicts if v.verdict == "refused"):
            told.refused[verdict.message] = told.refused.get(verdict.message, 0) + 1
    return told


def unpack(store: Store, path: Path, now_ms: int) -> Unpacked:
    """Take in the file. Raises Refused (nothing of it was stored) or Unavailable (what was stored stays; to do it again goes on from there)."""
    try:
        if not zipfile.is_zipfile(path):
            return _take(store, tablet.entries_of(path), now_ms)
        with zipfile.ZipFile(path) as file:
            _check(file, _about(file, path), path)
            return _take(store, (tablet.entry_of(tablet.json_of(line)) for line in _lines(file, path)), now_ms)
    except BROKEN as error:
        if isinstance(error, OSError) and error.strerror:
            raise Unavailable(f"{path} cannot be read ({error.strerror}). Nothing of it was taken in.") from error
        raise damaged(path) from error
