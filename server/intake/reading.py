"""A file or pasted text -> a grid of cells. What is too large or no table is refused with one sentence."""

import csv
import io
import re
import zipfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from xml.etree import ElementTree

from openpyxl import load_workbook
from openpyxl.utils.cell import coordinate_to_tuple

from server.errors import Refused
from server.glass.cells import Exact

LARGEST_FILE_BYTES = 700_000
LARGEST_UNPACKED_BYTES = 30_000_000
LARGEST_PARTS = 1000
MOST_ROWS, MOST_COLUMNS, LONGEST_CELL = 400, 150, 2000
MARKS = {"\t": "tabs", ";": "semicolons", "|": "bars", ",": "commas"}
NO_BREAK = "\ue000"  # a space that does not divide: 12.3 (5) is not 12.3(5)
LINE_ENDS = re.compile(r"\r\n|\r|\n")


@dataclass(frozen=True)
class Grid:
    """Rows of cells as they stand, how they were read, and the sheets to choose from."""

    cells: list[list[str]]
    how: str
    sheets: tuple[str, ...] = ()
    sheet: str = ""


def read_text(text: str) -> Grid:
    """A grid from pasted text or the text of a CSV file. Raises Refused."""
    if len(text) > LARGEST_FILE_BYTES:
        raise Refused(f"That is {len(text) // 1000:,} thousand characters. A table may have up to {LARGEST_FILE_BYTES // 1000}: bring it in parts.", code="too_large")
    text = text.removeprefix("\ufeff")
    if "\0" in text:
        raise Refused("This is no table: it holds bytes that no text has.", code="no_table")
    lines = [line for line in LINE_ENDS.split(text) if line.strip()]
    if not lines:
        raise Refused("There is nothing in it: paste the table with its line of headings.", code="empty")
    mark = _divided_by(lines)
    rows = _rows(text, mark) if mark else [_words(line) for line in lines]
    return Grid(_within_limits(rows), f"cells divided by {MARKS[mark]}" if mark else "cells divided by spaces")


def read_file(data: bytes, sheet: str = "") -> Grid:
    """A grid from the bytes of a CSV or XLSX file. Raises Refused."""
    if len(data) > LARGEST_FILE_BYTES:
        raise Refused(f"The file has {len(data) // 1000:,} kB. Up to {LARGEST_FILE_BYTES // 1000} kB are read: save the sheet alone, or bring it in parts.", code="too_large")
    if data.startswith(b"PK\x03\x04"):
        return _workbook(data, sheet)
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise Refused("This is the old Excel format (.xls). Save it as .xlsx or CSV.", code="old_excel")
    if data.startswith((b"%PDF", b"{\\rtf", b"\x89PNG", b"\xff\xd8\xff")):
        raise Refused("This is no table but a document or picture. Copy the table out of it and paste it.", code="no_table")
    return read_text(_decoded(data))


def _decoded(data: bytes) -> str:
    """Text in UTF-8, UTF-16 (with or without its mark) or, failing those, Windows-1252."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    if data[1:200:2].count(0) > len(data[:200]) // 4:
        return data.decode("utf-16-le", errors="replace")
    if data[0:200:2].count(0) > len(data[:200]) // 4:
        return data.decode("utf-16-be", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _divided_by(lines: list[str]) -> str:
    """The mark that divides most lines into the most equal cells; '' where none does. A comma loses a draw: it may be decimal."""
    best, most = "", 0.0
    for mark in MARKS:
        widths = Counter(line.count(mark) for line in lines[:200])
        width, how_often = max(((w, n) for w, n in widths.items() if w), key=lambda found: found[0] * found[1], default=(0, 0))
        score = width * how_often / len(lines[:200])
        if width and score > most * 1.001:
            best, most = mark, score
    return best


def _rows(text: str, mark: str) -> list[list[str]]:
    """RFC 4180 rows; where a quotation mark is never closed, the marks are plain characters."""
    csv.field_size_limit(2**31 - 1)
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=mark))
        if any(len(LINE_ENDS.findall(cell)) > 8 for row in rows for cell in row):
            raise csv.Error
    except csv.Error:
        rows = list(csv.reader(LINE_ENDS.split(text), delimiter=mark, quoting=csv.QUOTE_NONE))
    return rows


def _words(line: str) -> list[str]:
    """Cells of a line copied out of a printed page: two spaces divide, or one; a sign stays with its figure."""
    line = re.sub(r"\s*(±|\+/-)\s*", r"\1", line.strip())
    line = re.sub(r"([<≤])\s+(?=[\d.,])", r"\1", line)
    if re.search(r"\S\s{2,}\S", line):
        return re.split(r"\s{2,}", line)
    line = re.sub(r"\s+(?=\([^()]*\))", NO_BREAK, line)
    return [re.sub(rf"{NO_BREAK}(?!\(\d+\))", "", cell).replace(NO_BREAK, " ") for cell in line.split()]


def _within_limits(rows: list[list[str]]) -> list[list[str]]:
    """The rows without empty edges, every cell trimmed. Raises Refused where there are too many."""
    rows = [[cell if isinstance(cell, Exact) else cell[:LONGEST_CELL].strip() for cell in row] for row in rows]
    rows = [row for row in rows if any(row)]
    width = max((i + 1 for row in rows for i, cell in enumerate(row) if cell), default=0)
    if not width:
        raise Refused("There is nothing in it: every cell is empty.", code="empty")
    if max(len(rows), width) > MOST_ROWS or min(len(rows), width) > MOST_COLUMNS:
        raise Refused(f"The table has {len(rows):,} rows and {width:,} columns. Up to {MOST_ROWS} rows and {MOST_COLUMNS} columns are read at once: bring it in parts.", code="too_many_cells")
    return [(row + [""] * width)[:width] for row in rows]


def _workbook(data: bytes, sheet: str) -> Grid:
    _check_package(data)
    try:
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
        names = tuple(s.title for s in book.worksheets)
        grids = {name: _sheet(book[name], data) for name in ([sheet] if sheet in names else names[:20])}
        book.close()
    except Refused:
        raise
    except Exception as error:  # a damaged package raises whatever its broken part leads to
        raise Refused("The Excel file cannot be read: it is damaged or of an unusual kind. Save it as CSV, or copy the cells and paste them.", code="no_table") from error
    filled = {name: rows for name, rows in grids.items() if any(any(row) for row in rows)}
    if not filled:
        raise Refused("The sheet is empty." if sheet in names else "The Excel file is empty.", code="empty")
    chosen = max(filled, key=lambda name: _formulas(filled[name]))
    return Grid(_within_limits(filled[chosen]), f"sheet “{chosen}”", names if len(names) > 1 else (), chosen)


def _formulas(rows: list[list[str]]) -> int:
    """How many cells look like oxides: the sheet with the analyses has most."""
    return sum(bool(re.match(r"(Si|Na|Ca|Al|Mg|K|Fe|Ti|Mn|P|S|Pb)\d?O", cell)) for row in rows for cell in row)


def _check_package(data: bytes) -> None:
    """Raises Refused for a package that unpacks to far more than it says, or is no workbook."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            parts = package.infolist()
            names = {part.filename for part in parts}
            if len(parts) > LARGEST_PARTS or sum(part.file_size for part in parts) > LARGEST_UNPACKED_BYTES:
                raise Refused(f"The Excel file unpacks to more than {LARGEST_UNPACKED_BYTES // 1_000_000} MB. Save the sheet alone, or as CSV.", code="too_large")
            if "mimetype" in names and "content.xml" in names:
                raise Refused("This is an OpenDocument sheet. Save it as .xlsx or CSV.", code="open_document")
            if "[Content_Types].xml" not in names or "xl/workbook.xml" not in names:
                raise Refused("This is a package, but no Excel sheet. Save the table as .xlsx or CSV.", code="no_table")
    except zipfile.BadZipFile:
        raise Refused("The Excel file is damaged. Save it again, or copy the cells and paste them.", code="no_table") from None


def _sheet(sheet, data: bytes) -> list[list[str]]:
    """Cells of a worksheet up to one more than the limits, so that 'too many' is seen and endless rows are not."""
    far = MOST_ROWS + 1
    rows = [[_cell(value) for value in row] for row in sheet.iter_rows(min_row=1, min_col=1, max_row=far, max_col=far, values_only=True)]
    for row, column, formula in _formulas_alone(data, sheet._worksheet_path):
        if row <= len(rows) and column <= len(rows[row - 1]):
            rows[row - 1][column - 1] = formula
    return rows


def _formulas_alone(data: bytes, part: str) -> Iterator[tuple[int, int, str]]:
    """(row, column, '=formula') of the cells of a sheet that hold a formula and no value, counted from 1: no spreadsheet has reckoned them yet.

    openpyxl reads them as blank, as it does a formula whose value is an empty text; only the part itself tells one from the other.
    """
    with zipfile.ZipFile(io.BytesIO(data)) as package, package.open(part.removeprefix("/")) as file:
        for _event, cell in ElementTree.iterparse(file):
            if not cell.tag.endswith("}c"):
                continue
            space = cell.tag[:-1]
            formula, value = cell.find(f"{space}f"), cell.findtext(f"{space}v")
            if formula is not None and not value and cell.get("t") != "str" and re.fullmatch(r"[A-Z]{1,3}[1-9]\d{0,6}", cell.get("r", "")):
                yield *coordinate_to_tuple(cell.get("r")), f"={formula.text or '…'}"[:40]
            cell.clear()


def _cell(value) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, int | float):
        return Exact(f"{value:.12g}")
    if isinstance(value, datetime | date | time):
        return value.isoformat()[:10]
    return str(value)
