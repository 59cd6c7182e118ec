"""Pure: the bytes of a package -> its entries. What is no package is refused with one sentence; a row that is no entry stops none of the others."""

import csv
import hashlib
import io
import json
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from email.message import Message

from server.errors import Refused
from server.package.tables import CELL_CHARACTERS, columns

LARGEST_UNPACKED_BYTES = 1_500_000_000
LARGEST_DESCRIPTOR_BYTES = 2_000_000
MOST_PARTS = 200
BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError, RuntimeError)  # what zipfile raises for damaged, encrypted and unusual archives


@dataclass(frozen=True)
class Row:
    """One row of entries.csv: its line in the table counted from 1 under the heading, and the entry, or why it is none."""

    line: int
    entry: dict | None
    why: str = ""


def file_of(body: bytes, content_type: str) -> bytes:
    """The file that a form with one file sends (RFC 7578), or the body itself where it is no form. Raises Refused for a form without a file."""
    about = Message()
    about["Content-Type"] = content_type
    boundary = about.get_boundary()
    if about.get_content_type() != "multipart/form-data" or not boundary:
        return body
    for part in body.split(b"--" + boundary.encode("utf-8", "replace")):
        head, _, content = part.partition(b"\r\n\r\n")
        if b"filename=" in head and content.endswith(b"\r\n"):
            return content[:-2]
    raise Refused("No file came with it: choose the ZIP of a data package.", code="no_file")


def _member(package: zipfile.ZipFile, name: str, most: int) -> bytes:
    """The bytes of a part. Raises Refused."""
    found = [part for part in package.infolist() if part.filename == name]
    if len(found) != 1:
        raise Refused(f"There is {'no' if not found else 'more than one'} {name} in this ZIP. Bring in the package as Isokom made it, not unpacked and packed anew in a folder.", code="no_package")
    if found[0].file_size > most:
        raise Refused(f"{name} unpacks to more than {most // 1_000_000} MB. That is more than is taken in.", code="too_large")
    with package.open(found[0]) as file:
        return file.read(most)


def _strictly(text: str):
    """JSON without NaN and infinity. Raises ValueError."""
    try:
        return json.loads(text, parse_constant=lambda word: int(word))
    except RecursionError:
        raise ValueError("nested too deep") from None


def _described(data: bytes) -> dict:
    """The resource `entries` of datapackage.json. Raises Refused where there is none, or one of other columns."""
    try:
        about = _strictly(data.decode("utf-8-sig"))
    except ValueError:  # UnicodeDecodeError is one
        raise Refused("datapackage.json cannot be read: it is no JSON in UTF-8.", code="no_package") from None
    resources = about.get("resources") if isinstance(about, dict) else None
    found = [one for one in resources if isinstance(one, dict) and one.get("name") == "entries"] if isinstance(resources, list) else []
    if len(found) != 1 or found[0].get("path") != "entries.csv":
        raise Refused("datapackage.json tells of no entries.csv: this is a data package, but not one that Isokom made.", code="no_package")
    schema = found[0].get("schema")
    fields = schema.get("fields") if isinstance(schema, dict) else None
    if not isinstance(fields, list) or [one.get("name") if isinstance(one, dict) else None for one in fields] != columns("entries"):
        raise Refused("The columns of entries.csv are not those that this Isokom knows; a newer one may know them.", code="other_columns")
    return found[0]


def _check_seal(described: dict, data: bytes) -> None:
    """Raises Refused where entries.csv is not the one described."""
    seal = described.get("hash")
    is_ours = isinstance(seal, str) and seal.startswith("sha256:")
    if is_ours and seal.removeprefix("sha256:").lower() != hashlib.sha256(data).hexdigest():
        raise Refused("entries.csv was changed after the package was made: it is not the one that datapackage.json describes. Bring in the package as it was made.", code="changed")


def _entry(cells: list[str]) -> dict:
    """The entry in a row. Raises ValueError."""
    if len(cells) != len(columns("entries")):
        raise ValueError("it has too few or too many cells")
    found = dict(zip(columns("entries"), cells, strict=True))
    try:
        numbers = {name: int(found[name]) for name in ("n", "at_ms")}
    except ValueError:
        raise ValueError("n and at_ms are whole numbers") from None
    try:
        body = _strictly(found["body"])
    except ValueError:
        raise ValueError("its body is no JSON") from None
    return {**found, **numbers, "body": body}


def _reader(data: bytes):
    """entries.csv row by row, decoded as it goes: a text of its own would take several times its size."""
    csv.field_size_limit(CELL_CHARACTERS)
    return csv.reader(io.TextIOWrapper(io.BytesIO(data), encoding="utf-8-sig", newline=""), strict=True)


def _check_table(data: bytes) -> None:
    """Raises Refused where the heading is another or it is no CSV, before any of it is taken in."""
    reader = _reader(data)
    try:
        if next(reader, None) != columns("entries"):
            raise Refused("The heading of entries.csv is not the one that datapackage.json tells.", code="other_columns")
        for _cells in reader:
            pass
    except csv.Error:
        raise Refused("entries.csv cannot be read as a table: a quotation mark may be missing.", code="no_package") from None
    except UnicodeDecodeError:
        raise Refused("entries.csv is not written in UTF-8.", code="no_package") from None


def rows(table: bytes) -> Iterator[Row]:
    """The rows of an entries.csv that read() gave, in their order."""
    reader = _reader(table)
    next(reader)
    for line, cells in enumerate(reader, 1):
        try:
            yield Row(line, _entry(cells))
        except ValueError as error:
            yield Row(line, None, f"Row {line} of entries.csv is no entry: {error}.")


def read(data: bytes) -> bytes:
    """The entries.csv of a package. Raises Refused for what is no package of Isokom, damaged, changed or too large."""
    if not data:
        raise Refused("The file is empty.", code="no_file")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            parts = package.infolist()
            if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > LARGEST_UNPACKED_BYTES:
                raise Refused(f"This ZIP holds more than {MOST_PARTS} files or unpacks to more than {LARGEST_UNPACKED_BYTES // 1_000_000} MB. That is more than is taken in.", code="too_large")
            described = _described(_member(package, "datapackage.json", LARGEST_DESCRIPTOR_BYTES))
            table = _member(package, "entries.csv", LARGEST_UNPACKED_BYTES)
    except BROKEN:
        raise Refused("This is no ZIP that can be read: it is damaged, encrypted, or another kind of file.", code="no_zip") from None
    _check_seal(described, table)
    _check_table(table)
    return table
