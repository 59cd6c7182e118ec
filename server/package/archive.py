"""Pure: a book and its entries -> the ZIP of a package. The same book, moment and licence give the same bytes."""

import hashlib
import json
import zipfile
from collections.abc import Iterable, Iterator
from typing import BinaryIO

from server import __version__
from server.package import facts, rows
from server.package.descriptor import descriptor, readme, resource
from server.package.gather import Book
from server.package.tables import lines, tables

ROWS = {
    "trials": rows.trials, "presses": rows.presses, "sessions": rows.sessions, "runs": rows.runs, "setups": rows.setups, "tested": rows.tested, "measured": rows.measured,
    "glasses": facts.glasses, "finds": facts.finds, "pieces": facts.pieces,
}  # fmt: skip
FIRST_DAY = (1980, 1, 1, 0, 0, 0)  # the earliest that a ZIP knows: the time of making is in datapackage.json


def _part(name: str) -> zipfile.ZipInfo:
    part = zipfile.ZipInfo(name, FIRST_DAY)
    part.compress_type, part.external_attr, part.create_system = zipfile.ZIP_DEFLATED, 0o644 << 16, 3
    return part


def _write(package: zipfile.ZipFile, name: str, told: Iterator[str]) -> tuple[dict, int]:
    """(the table's resource, how many rows it has), with the table written line by line."""
    seal, size_bytes, count = hashlib.sha256(), 0, -1
    with package.open(_part(f"{name}.csv"), "w", force_zip64=True) as file:
        for line in told:
            written = line.encode()
            file.write(written)
            seal.update(written)
            size_bytes += len(written)
            count += 1
    return resource(name, size_bytes, seal.hexdigest()), count


def write(target: BinaryIO, book: Book, entries: Iterable[dict], created: str, licence: dict) -> None:
    """The ZIP into an open file: datapackage.json, README.txt and the tables, line by line. created: RFC 3339; licence as tables.licence gives it; entries as gather.entries gives them."""
    resources, counts = [], {}
    with zipfile.ZipFile(target, "w") as package:
        for name in tables():
            told = entries if name == "entries" else ROWS[name](book)
            made, counts[name] = _write(package, name, lines(name, told))
            resources.append(made)
        about = descriptor(book, resources, created, licence)
        package.writestr(_part("datapackage.json"), json.dumps(about, ensure_ascii=False, indent=1))
        package.writestr(_part("README.txt"), readme(book, counts, created, licence, __version__))
