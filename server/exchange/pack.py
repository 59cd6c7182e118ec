"""A file for machines that never meet: everything since the last one, in the order of arrival, checksummed. To take it in twice, or in any order, is harmless.

A ZIP of `entries.jsonl`, one entry a line as on the wire, and `about.json`: {isokom_pack: 1, made_ms, machine, version, after, until, entries, sha256 of entries.jsonl}.
"""

import hashlib
import json
import os
import zipfile
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from server import __version__
from server.errors import Refused, Unavailable
from server.exchange import peers
from server.exchange.peers import PACKS
from server.store.engine import Store
from server.sync import feed
from server.sync.feed import START, Mark

FORMAT = 1
ENTRIES, ABOUT = "entries.jsonl", "about.json"


@dataclass(frozen=True)
class Packed:
    """What was written: how many entries, after which place and up to which."""

    path: Path
    entries: int
    after: Mark
    until: Mark


def _place(store: Store) -> tuple[str, Mark]:
    """(id of the row that counts the files, the place up to which they have handed everything over)."""
    with store.write() as session:
        peer = peers.keep(session, PACKS, "Files")
        mark = peers.progress(session, peer.id).pushed
        return peer.id, mark if feed.knows(session, mark) else START


def _write(store: Store, target: Path, after: Mark, about: dict) -> Packed:
    """The whole ZIP, with what it says of itself last."""
    seal, count, until = hashlib.sha256(), 0, after
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as file:
        with file.open(ENTRIES, "w", force_zip64=True) as lines:
            for entries, mark in _pages(store, after):
                part = "".join(f"{text}\n" for text in entries).encode()
                lines.write(part)
                seal.update(part)
                count, until = count + len(entries), mark
        told = {**about, "after": after.model_dump(), "until": until.model_dump(), "entries": count, "sha256": seal.hexdigest()}
        file.writestr(ABOUT, json.dumps(told, indent=1))
    return Packed(target, count, after, until)


def _pages(store: Store, after: Mark):
    """Page by page, each read by itself: what arrives meanwhile comes along, and nobody waits."""
    more = True
    while more:
        with store.read() as session:
            entries, after, more = feed.page(session, after)
        if entries:
            yield entries, after


def name_of(made_ms: int, machine: str) -> str:
    """File name of a pack."""
    from datetime import UTC, datetime

    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in machine)[:40]
    return f"isokom-pack-{plain}-{datetime.fromtimestamp(made_ms / 1000, UTC):%Y%m%d-%H%M%S}.zip"


def _new_file(target: Path) -> Path:
    """A file that may be written: a ZIP by its name, in the place of nothing: an earlier pack may not have arrived yet. Raises Refused."""
    if target.suffix.lower() != ".zip":
        raise Refused(f"{target} is no folder that is there, and no name that ends in .zip. Nothing was packed.", code="bad_target")
    if target.exists():
        raise Refused(f"{target} is there already. It was left as it is, since a pack may not have arrived yet: name another file.", code="bad_target")
    return target


def pack(store: Store, target: Path, machine: str, now_ms: int, everything: bool = False) -> Packed:
    """Write what is new since the last pack, or everything, and only then count it as handed over. Raises Unavailable; a file that was there stays as it is until the new one is whole."""
    row, counted = _place(store)
    after = START if everything else counted
    path = target / name_of(now_ms, machine) if target.is_dir() else _new_file(target)
    part = path.with_name(f".{path.name}.part")
    about = {"isokom_pack": FORMAT, "made_ms": now_ms, "machine": machine, "version": __version__}
    try:
        made = _write(store, part, after, about)
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        os.replace(part, path)
    except OSError as error:
        raise Unavailable(f"{path} cannot be written ({error.strerror}). Nothing counts as packed.") from error
    finally:
        with suppress(OSError):
            part.unlink()
    with store.write() as session:
        peers.save(session, row, peers.progress(session, row).model_copy(update={"pushed": made.until}), f"{made.entries:,} entries packed.", now_ms)
    return Packed(path, made.entries, made.after, made.until)
