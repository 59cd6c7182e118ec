"""A grid of cells -> a table with its columns settled: where the headings stand, which way it runs, units, decimal marks."""

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import accumulate
from statistics import median

from server.errors import Refused
from server.glass.cells import clean, decimal_mark, read_cell
from server.intake.columns import KEPT_AS, Column, analyte_of, column_of, corrected, is_unit, unit_of, words
from server.intake.labels import statistic_of
from server.intake.reading import Grid
from server.intake.twice import counted_once

MOST_ELEMENT_WT = 60  # no glass holds more of one element, and none so little of a major in ppm
LOOK_FOR_HEADINGS_IN = 40


@dataclass(frozen=True)
class Table:
    """Columns as settled, (line in the file, cells) of the rows below them, decimal mark by column, and the key of its headings."""

    columns: list[Column]
    lines: list[tuple[int, list[str]]]
    marks: list[str]
    is_turned: bool
    caption: str
    fingerprint: str
    how: str


def _analytes_in(cells: list[str]) -> int:
    """How many different oxides and elements the cells name."""
    found = {column_of(cell).of for cell in cells if cell and len(cell) < 60 and not re.fullmatch(r"[\d.,<±\s]*", cell)}
    return len(found - {""})


def _best_row(cells: list[list[str]]) -> tuple[int, int]:
    """(analytes, row) of the row that names most."""
    counts = [_analytes_in(row) for row in cells[:LOOK_FOR_HEADINGS_IN]]
    most = max(counts, default=0)
    return most, counts.index(most) if counts else 0


def _turned(cells: list[list[str]]) -> list[list[str]]:
    return [list(column) for column in zip(*cells, strict=True)]


def laid_out(grid: Grid, corrections: Mapping[int, tuple[str, str, str]], turn: str = "auto", decimal: str = "auto") -> Table:
    """The table in a grid. Raises Refused where no headings of oxides are found."""
    most, row = _best_row(grid.cells)
    side = _turned([line[:] for line in grid.cells])
    most_aside, column = _best_row(side)
    is_turned = turn == "yes" or (turn == "auto" and most_aside > max(most, 2))
    cells, row, most = (side, column, most_aside) if is_turned else (grid.cells, row, most)
    if most < 2:
        raise Refused("No line of headings with oxides such as SiO2 and Na2O was found. Bring the headings along with the figures.", code="no_headings")
    return _table(grid, cells, row, corrections, decimal, is_turned)


def _table(grid: Grid, cells: list[list[str]], row: int, corrections: Mapping, decimal: str, is_turned: bool) -> Table:
    headings = _headings(cells, row)
    units, skip = _unit_row(cells, row)
    headings, further = _with_spreads_below(headings, cells, row + skip + 1)
    skip += further
    caption = " ".join(cell for line in cells[:row] for cell in line if cell)[:400]
    lines = [(i + 1, line) for i, line in enumerate(cells) if i > row + skip and any(line)]
    columns = [column_of(heading, unit) for heading, unit in zip(headings, units, strict=True)]
    corner = next((unit_of(heading) for heading in headings if is_unit(heading)), "")
    columns = _settled(columns, [[line[i] for _, line in lines] for i in range(len(columns))], corner or unit_of(caption), corrections)
    marks = _marks(columns, lines, decimal)
    key = hashlib.sha256("\x1f".join([*(clean(h).lower() for h in headings), *units]).encode()).hexdigest()[:16]
    return Table(columns, lines, marks, is_turned, caption, key, grid.how)


def _headings(cells: list[list[str]], row: int) -> list[str]:
    """The headings; an empty one over a column takes the cell above it ('Sample' is often set one line higher)."""
    above = cells[row - 1] if row and sum(bool(c) for c in cells[row - 1]) > 1 else [""] * len(cells[row])
    return [(own or (upper if not analyte_of(upper)[0] else ""))[:200] for own, upper in zip(cells[row], above, strict=True)]


def _unit_row(cells: list[list[str]], row: int) -> tuple[list[str], int]:
    """(unit under or over each heading, lines that this takes below the headings). 'Majors (wt%)' and 'Traces (ppm)' over several columns hold for all of them."""
    for near, skip in ((row + 1, 1), (row - 1, 0)):
        line = cells[near] if 0 <= near < len(cells) else []
        filled = [cell for cell in line if cell]
        if filled and sum(is_unit(cell) for cell in filled) >= max(1, 0.6 * len(filled)):
            return [cell if is_unit(cell) else "" for cell in line], skip
    over = cells[row - 1] if row else []
    if sum(bool(unit_of(cell)) and not _analytes_in([cell]) for cell in over) > 1:
        return list(accumulate(over, lambda before, cell: cell if cell else before)), 0
    return [""] * len(cells[row]), 0


def _with_spreads_below(headings: list[str], cells: list[list[str]], below: int) -> tuple[list[str], int]:
    """(headings, lines taken): a line of 'mean' and 'sd' under the oxides names the columns that have no heading."""
    line = cells[below] if below < len(cells) else []
    known = {word for kind in ("mean", "sd", "two_sd", "rsd") for word in words()["statistics"][kind]}
    filled = [cell for cell in line if cell]
    if len(filled) < 2 or any(clean(cell).lower() not in known for cell in filled):
        return headings, 0
    return [own or lower for own, lower in zip(headings, line, strict=True)], 1


def _settled(columns: list[Column], cells: list[list[str]], caption_unit: str, corrections: Mapping) -> list[Column]:
    """Columns with their unit, no amount counted twice, and each sd beside what it belongs to."""
    default = caption_unit if caption_unit in ("wt", "mol", "ppm") else ""
    columns = [corrected(column, *corrections[i]) if i in corrections else column for i, column in enumerate(columns)]
    are_shares = _are_shares(columns, cells, default)
    columns = [_with_unit(column, values, default, are_shares) for column, values in zip(columns, cells, strict=True)]
    return _beside(counted_once(_with_name(columns, cells, corrections), cells, corrections))


def _are_shares(columns: list[Column], cells: list[list[str]], default: str) -> bool:
    """Whether elements without a unit stand in wt%: silicon decides, since iron may stand in ppm among wt%; else most of the majors; lead, which may be a trace, only without them.

    A caption that names ppm yields to them, since no glass holds 60 ppm of silicon; lead by itself does not overrule it.
    """
    plain = [(c.of, median(a)) for c, v in zip(columns, cells, strict=True) if c.role == "element" and not c.unit and c.of in words()["majors"] and (a := _amounts(v))]
    silicon, lead = [amount for of, amount in plain if of == "Si"], [amount for of, amount in plain if of == "Pb"]
    voting = silicon or [amount for of, amount in plain if of != "Pb"] or (lead if default != "ppm" else [])
    return bool(voting) and 2 * sum(amount > MOST_ELEMENT_WT for amount in voting) <= len(voting)


def _with_unit(column: Column, values: list[str], default: str, are_shares: bool) -> Column:
    """A unit that no heading names is the table's, else a guess from the size of the figures; a guess is said to be one."""
    if not column.is_analyte or column.unit:
        return column
    amounts = _amounts(values)
    if column.role == "oxide":
        if default in ("wt", "mol") or not amounts or median(amounts) <= 100:
            return replace(column, unit=default if default in ("wt", "mol") else "wt")
        return replace(column, unit="ppm", is_sure=False, why="no unit given; most figures above 100, so taken as ppm")
    is_share = column.of in words()["majors"] and amounts and are_shares and median(amounts) <= MOST_ELEMENT_WT
    if default == "ppm" and not is_share:
        return replace(column, unit="ppm")
    known = "the caption names ppm, but no glass holds so little of it" if default == "ppm" else "no unit given"
    return replace(column, unit="wt" if is_share else "ppm", is_sure=False, why=f"{known}; taken as {'wt% of the element' if is_share else 'ppm of the element'}")


def _amounts(values: list[str]) -> list[float]:
    found = []
    for text in values:
        try:
            cell = read_cell(text, "", 1e6)
        except Refused:
            continue
        if cell.value is not None:
            found.append(float(cell.value))
    return found


def _with_name(columns: list[Column], cells: list[list[str]], corrections: Mapping) -> list[Column]:
    """Where no heading says what names a row, a number of the spot does, else the first column of words, else a group or place that is told apart in every row.

    A later twin of a naming column is a remark.
    """
    if not any(c.role in ("id", "name") for c in columns):
        free = [i for i, c in enumerate(columns) if i not in corrections and any(cells[i])]
        spots = [i for i in free if columns[i].role == "repeat"]
        bare = [i for i in free if columns[i].role == "ignore" and not columns[i].why.startswith("Isokom")]
        groups = [i for i in free if columns[i].role in ("family", "region", "period") and all(cells[i]) and len(set(cells[i])) == len(cells[i])]
        for i in (spots + bare + groups)[:1]:
            columns = [*columns[:i], Column(columns[i].heading, "id", is_sure=i in spots or not columns[i].heading, why="names the rows"), *columns[i + 1 :]]
    columns = _told_apart(columns, cells, corrections)
    seen: set[str] = set()
    for i, column in enumerate(columns):
        if column.role in ("id", "name", "family", "period", "region", "source", "total", "count", "repeat"):
            if column.role in seen and i not in corrections:
                columns[i] = replace(column, role="ignore" if column.role in ("total", "count", "repeat") else "note", is_sure=False)
            seen.add(column.role)
    return columns


def _told_apart(columns: list[Column], cells: list[list[str]], corrections: Mapping) -> list[Column]:
    """Where the first column of names says one name over different figures, and a later one is different in every row, the later one names the rows.

    So a site or vessel under 'Sample' beside a number joins no pieces into one glass; it stays part of the name. Rows of statistics do not count.
    """
    first, *others = [i for i, c in enumerate(columns) if c.role == "id"] or [-1]
    if first in (-1, *corrections) or "name" in {c.role for c in columns}:
        return columns
    rows = [k for k, label in enumerate(cells[first]) if label and not statistic_of(label)[0]]
    if not _names_differing_figures(rows, columns, cells, first):
        return columns
    for i in others:
        labels = [cells[i][k] for k in rows]
        if i not in corrections and all(labels) and len(set(labels)) == len(labels):
            columns = columns[:]
            columns[first] = Column(columns[first].heading, "name", is_sure=False, why=f"one name stands over different figures; “{columns[i].heading}” tells the rows apart")
            break
    return columns


def _names_differing_figures(rows: list[int], columns: list[Column], cells: list[list[str]], first: int) -> bool:
    """True where two rows under one name give one amount differently; rows that fill each other's blanks do not."""
    amounts = [i for i, c in enumerate(columns) if c.is_analyte]
    told: dict[tuple[str, int], set[str]] = {}
    for k in rows:
        for i in amounts:
            if cells[i][k]:
                told.setdefault((cells[first][k], i), set()).add(cells[i][k])
    return any(len(texts) > 1 for texts in told.values())


def _beside(columns: list[Column]) -> list[Column]:
    """Each sd column points at the amounts it belongs to: those named in its heading, else the column before it."""
    for i, column in enumerate(columns):
        if column.role != "sd":
            continue
        named = [k for k, c in enumerate(columns) if c.is_analyte and c.of == column.of]
        before = [k for k in range(i - 1, -1, -1) if columns[k].is_analyte or columns[k].is_twice]
        place = (named if column.of else before)[:1]
        if place and columns[place[0]].is_analyte:
            columns[i] = replace(column, beside=place[0], of=columns[place[0]].of)
        else:
            columns[i] = replace(column, role="ignore", why="a standard deviation of nothing that is read")
    return columns


def _marks(columns: list[Column], lines: list[tuple[int, list[str]]], decimal: str) -> list[str]:
    """The decimal mark of each column: the person's, the column's own, else the table's."""
    fixed = {"comma": ",", "point": "."}.get(decimal)
    if fixed:
        return [fixed] * len(columns)
    figures = [c.is_analyte or c.role in ("sd", "total") for c in columns]
    own = [decimal_mark(line[i] for _, line in lines) if figures[i] else "" for i in range(len(columns))]
    votes = [mark for mark in own if mark in (",", ".")]
    table = max(set(votes), key=votes.count) if votes else ""
    return [mark if mark in (",", ".") else table for mark in own]


def kept_unit(column: Column) -> tuple[str, int]:
    """(unit that is kept, power of ten to it) of an amount's column."""
    return KEPT_AS[(column.role, column.unit)]
