"""Reads the file that a tablet saved (static/sync/file.js): one line about it, then one entry a line. What was cut or changed on the way is refused before anything of it is stored.

The first line: {isokom_entries: 2, device, made_ms, entries, sha256 of all that follows, or "" from an address where the browser reckons none}.
Files of before, {isokom_entries: 1, entries: […]} in one piece and without a seal, are read as well.
"""

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from server.errors import Refused

LARGEST_BYTES = 300_000_000
LONGEST_LINE = 1_000_000
KEYS = ("id", "kind", "subject", "n", "device", "at_ms", "body")


class About(BaseModel):
    """The first line."""

    model_config = ConfigDict(extra="ignore", strict=True)

    isokom_entries: int
    entries: int = Field(ge=0)
    sha256: str = Field(pattern=r"^([0-9a-f]{64})?$")


def damaged(path: Path) -> Refused:
    """What is said of a file that is none of ours, or not whole."""
    return Refused(f"{path.name} is damaged, or no file of Isokom's. Nothing of it was taken in; copy or make it again.", code="damaged")


def json_of(text: bytes) -> object:
    """The value, or None where it is none; nothing that nests too deep."""
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        return None


def entry_of(found: object) -> dict:
    """An entry without the tablet's own marks; what is none becomes one that is refused."""
    return {key: found[key] for key in KEYS if key in found} if isinstance(found, dict) else {}


def _about(line: bytes) -> About | None:
    try:
        return About.model_validate(json_of(line.removeprefix(b"\xef\xbb\xbf")))
    except ValidationError:
        return None


def _checked(path: Path, about: About) -> None:
    """Raises Refused where the lines are not those that the first one speaks of."""
    seal, count = hashlib.sha256(), 0
    with path.open("rb") as lines:
        lines.readline(LONGEST_LINE)
        while line := lines.readline(LONGEST_LINE + 1):
            if len(line) > LONGEST_LINE:
                raise damaged(path)
            seal.update(line.removesuffix(b"\r\n") + b"\n" if line.endswith(b"\r\n") else line)  # a mail program may have changed the line ends
            count += 1
    if count != about.entries or (about.sha256 and seal.hexdigest() != about.sha256):
        raise damaged(path)


def _lines(path: Path) -> Iterator[dict]:
    with path.open("rb") as lines:
        lines.readline(LONGEST_LINE)
        while line := lines.readline(LONGEST_LINE):
            yield entry_of(json_of(line))


def _in_one_piece(path: Path) -> Iterator[dict]:
    told = json_of(path.read_bytes().removeprefix(b"\xef\xbb\xbf"))
    entries = told.get("entries") if isinstance(told, dict) and told.get("isokom_entries") == 1 else None
    if not isinstance(entries, list):
        raise damaged(path)
    return iter([entry_of(one) for one in entries])


def entries_of(path: Path) -> Iterator[dict]:
    """Every entry of the file, in its order. Raises Refused, before the first one, for what is none, not whole, too large or of a newer Isokom."""
    if path.stat().st_size > LARGEST_BYTES:
        raise Refused(f"{path.name} is larger than a tablet's file can be.", code="too_large")
    with path.open("rb") as file:
        about = _about(file.readline(LONGEST_LINE))
    if about is None:
        return _in_one_piece(path)
    if about.isokom_entries != 2:
        raise Refused(f"{path.name} was made by a newer Isokom. Nothing of it was taken in: use the newer program.", code="newer_file")
    _checked(path, about)
    return _lines(path)
