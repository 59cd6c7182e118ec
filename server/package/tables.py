"""The tables of the package: their columns with types and units, from data/tables.json; how a value becomes a cell; licences."""

import csv
import json
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from server.errors import Refused
from server.physics.composition import OXIDES

DATA = Path(__file__).with_name("data")
TYPES = {"uuid": {"type": "string", "format": "uuid"}}
LATEST_MS = 253_402_300_800_000  # the year 10000, which no ISO 8601 day of four figures names
CELL_CHARACTERS = 2**31 - 1  # a photo is longer than what csv takes by itself


def oxide_column(name: str) -> str:
    """SiO2 -> sio2_wt_pct."""
    return f"{name.lower()}_wt_pct"


@cache
def tables() -> dict[str, dict]:
    """Table -> {title, about, key, refers: {column: [table, column]}, fields: [{name, type, about, unit?}]}; the oxides follow the other columns of glasses."""
    found = json.loads((DATA / "tables.json").read_text(encoding="utf-8"))
    found["glasses"]["fields"] += [{"name": oxide_column(name), "type": "number", "about": name, "unit": "wt%"} for name in OXIDES]
    return found


@cache
def licences() -> dict[str, dict]:
    """Key -> licence of the data: its words on the page, and name, title and address as the standard has them. The first is the usual one."""
    return {one["key"]: one for one in json.loads((DATA / "licences.json").read_text(encoding="utf-8"))}


def licence(key: str) -> dict:
    """The licence as datapackage.json carries it. Raises Refused."""
    if key not in licences():
        raise Refused("This licence is none of those to choose from.", code="no_such_licence")
    return {name: said for name, said in licences()[key].items() if name in ("name", "title", "path")}


def columns(table: str) -> list[str]:
    """Names of the columns, in order."""
    return [field["name"] for field in tables()[table]["fields"]]


def utc(at_ms: float | None) -> str | None:
    """A moment as 2026-11-25T14:05:09Z; None for nothing, and where no such day can be written."""
    if at_ms is None or not 0 <= at_ms < LATEST_MS:
        return None
    return datetime.fromtimestamp(at_ms // 1000, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def cell(value: str | float | bool | None) -> str:
    """A value as a cell, exact: nothing is rounded, no mark is set before a text."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return value if isinstance(value, str) else repr(value)


class _Line:
    """Takes what csv writes and gives it back."""

    def write(self, text: str) -> str:
        return text


def lines(table: str, rows: Iterable[dict]) -> Iterator[str]:
    """The lines of a table as CSV (RFC 4180), its heading first. A row has the very columns of its table. Raises ValueError where it has others."""
    names = columns(table)
    writer = csv.writer(_Line(), lineterminator="\r\n")
    yield writer.writerow(names)
    for row in rows:
        if row.keys() != set(names):
            raise ValueError(f"{table}: {sorted(row.keys() ^ set(names))}")
        yield writer.writerow([cell(row[name]) for name in names])
