"""Rows of a settled table -> analyses: every figure with its original text; means, sd rows and repeats brought together."""

import re
from dataclasses import dataclass, field, replace
from decimal import Decimal
from os.path import commonprefix
from statistics import mean, stdev

from server.errors import BadComposition, Refused
from server.glass.cells import Cell, clean, read_cell
from server.intake.columns import Column, column_of, words
from server.intake.layout import Table, kept_unit
from server.physics.composition import LARGEST, amount, parse_number

WITHIN = {"name": 120, "family": 80, "period": 80, "region": 80, "source": 400, "note": 2000}
_CONTROLS = re.compile(r"[\x00-\x1f\x7f]+")


@dataclass(frozen=True)
class Figure:
    """One amount: `text` is what is kept (readable by physics.composition), `raw` the cell, `sd` in the kept unit."""

    of: str
    unit: str
    text: str
    raw: str
    heading: str
    sd: float | None = None
    remark: str = ""
    problem: str = ""


@dataclass
class Row:
    """One analysis. kind: single, mean (given or made here), part (behind a mean), or what is none: sd, limit."""

    line: int
    label: str
    facts: dict[str, str]
    figures: list[Figure]
    kind: str = "single"
    n: int | None = None
    stated_total: float | None = None
    problem: str = ""
    words: list[str] = field(default_factory=list)
    parts: list["Row"] = field(default_factory=list)

    def value(self, of: str) -> float | None:
        """The figure as a number in its kept unit; None where it is not given or cannot be read."""
        found = next((f for f in self.figures if f.of == of and not f.problem), None)
        return None if found is None else parse_number(found.text, of)[0]


def plain_text(value: Decimal) -> str:
    """A Decimal as one writes it: no exponent, at most 12 figures."""
    rounded = value if len(value.as_tuple().digits) <= 12 else Decimal(f"{value:.12g}")
    return f"{rounded:f}"


def figure(column: Column, text: str, mark: str) -> Figure | None:
    """What a cell of an amount's column says; None for a blank cell, which is 'not reported'."""
    if not clean(text):
        return None
    unit, power = kept_unit(column)
    bare = Figure(column.of, unit, "", str(text).strip()[:80], column.heading)
    try:
        cell = read_cell(text, mark, 1e6 if column.unit in ("ppm", "ppb") else 100.0)
        if cell.unit and cell.unit != column.unit:
            raise Refused(f"“{bare.raw[:40]}” names another unit than its column.", code="other_unit")
        kept = _kept_text(cell, power)
        amount(column.of, kept, unit)
    except (Refused, BadComposition) as error:
        message = error.message if error.message.startswith(column.of) else f"{column.of}: {error.message}"
        return replace(bare, problem=message)
    sd = None if cell.sd is None else float(cell.sd.scaleb(power))
    return replace(bare, text=kept, sd=sd, remark=cell.remark)


def _kept_text(cell: Cell, power: int) -> str:
    if cell.value is None:
        return "bd"
    return f"{'<' if cell.is_below else ''}{plain_text(cell.value.scaleb(power))}"[:24]


def rows_of(table: Table, repeats: str = "mean") -> list[Row]:
    """Every row below the headings. repeats: 'mean' makes one glass of rows with one label, 'each' leaves them."""
    rows = [_row(table, line, cells) for line, cells in table.lines]
    named = sum(bool(row.label) for row in rows)
    last, other = "", 0
    for row in rows:
        row.kind = _kind(row)
        other = row.line if row.kind == "other headings" else (0 if row.kind == "heading" else other)
        if other and row.line != other:
            row.kind, row.problem = "elsewhere", f"it stands under other headings (line {other}); bring that part in by itself"
        if not row.label and row.kind == "single" and 2 <= named < len(rows) and last and row.figures:
            row.label = last
        last = row.label if row.kind == "single" and row.label else last
    rows = _with_statistics(rows)
    return _grouped(rows) if repeats == "mean" else rows


def _text(table: Table, cells: list[str], role: str) -> list[str]:
    return [_CONTROLS.sub(" ", cells[i]) for i, c in enumerate(table.columns) if c.role == role and cells[i]]


def _row(table: Table, line: int, cells: list[str]) -> Row:
    ids, names = _text(table, cells, "id"), _text(table, cells, "name")
    facts = {role: (_text(table, cells, role) or [""])[0][: WITHIN[role]] for role in ("family", "period", "region", "source")}
    notes = [f"{clean(c.heading)}: {_CONTROLS.sub(' ', cells[i])}" for i, c in enumerate(table.columns) if c.role == "note" and cells[i]]
    figures = [figure(c, cells[i], table.marks[i]) for i, c in enumerate(table.columns) if c.is_analyte]
    figures = [_with_sd(f, table, cells) for f in figures if f]
    label = " ".join(dict.fromkeys(ids[:1] + names[:1]))[: WITHIN["name"]].strip()
    label, n = _counted(label)
    return Row(line, label, {**facts, "note": "; ".join(notes)[: WITHIN["note"]]}, figures, n=_count(table, cells) or n, stated_total=_number(table, cells, "total"))


def _counted(label: str) -> tuple[str, int | None]:
    """'BN-01 (n=5)' is the sample BN-01, analysed five times."""
    found = re.search(r"\s*[(,;]?\s*\bn\s*=\s*([1-9]\d{0,4})\s*\)?$", label)
    return (label[: found.start()], int(found[1])) if found and found.start() else (label, None)


def _with_sd(made: Figure, table: Table, cells: list[str]) -> Figure:
    """The figure with the sd that stands in a column beside it."""
    for i, column in enumerate(table.columns):
        if column.role != "sd" or table.columns[column.beside].of != made.of or made.problem:
            continue
        try:
            cell = read_cell(cells[i], table.marks[i], 1e6)
        except Refused:
            return replace(made, remark=f"its ± “{cells[i][:20]}” cannot be read")
        if cell.value is not None and cells[i]:
            return replace(made, sd=_sd(made, float(cell.value), column, table))
    return made


def _sd(made: Figure, value: float, column: Column, table: Table) -> float:
    if column.is_relative:
        return value / 100 * parse_number(made.text, made.of)[0]
    given = replace(table.columns[column.beside], unit=column.unit) if column.unit in ("wt", "ppm", "ppb") else table.columns[column.beside]
    return value * column.factor * 10.0 ** kept_unit(given)[1]


def _number(table: Table, cells: list[str], role: str) -> float | None:
    """The plain number of a row's total or count; None where there is none."""
    for i, column in enumerate(table.columns):
        if column.role == role and cells[i]:
            try:
                cell = read_cell(cells[i], table.marks[i], 1e6)
            except Refused:
                return None
            return None if cell.value is None else float(cell.value)
    return None


def _count(table: Table, cells: list[str]) -> int | None:
    value = _number(table, cells, "count")
    return int(value) if value is not None and value == int(value) and 1 <= value <= 100_000 else None


def statistic_of(label: str) -> tuple[str, str]:
    """(mean, sd, two_sd, rsd, count or other; the label without that word), or ('', label)."""
    low = clean(label).lower().strip(" :()")
    for kind, known in words()["statistics"].items():
        if low in known:
            return kind, ""
    parts = re.split(r"[\s,:;()/_]+", low)
    for kind in ("mean", "rsd", "two_sd", "sd"):
        known = set(words()["statistics"][kind])
        if len(parts) > 1 and (parts[0] in known or parts[-1] in known):
            rest = re.split(r"[\s,:;()/_]+", clean(label).strip(" :()"))
            return kind, " ".join(rest[1:] if parts[0] in known else rest[:-1])
    return "", label


def _kind(row: Row) -> str:
    statistic, _rest = statistic_of(row.label)
    if statistic and not _is_whole_glass(row, statistic):
        return {"mean": "mean", "other": "limit"}.get(statistic, statistic)
    names = [(f.of, column_of(f.raw).of) for f in row.figures if f.problem]
    if sum(bool(named) for _of, named in names) >= 2:
        return "heading" if sum(of == named for of, named in names) > len(row.figures) / 2 else "other headings"
    readable = [f for f in row.figures if not f.problem]
    if not readable:
        return "words" if not row.figures or len(row.figures) < 2 else "single"
    return "single"


def _is_whole_glass(row: Row, statistic: str) -> bool:
    """True where a short label that could mean a spread or limit ('LD', '2S') stands over a whole analysis."""
    total = sum(row.value(f.of) or 0.0 for f in row.figures if f.unit == "wt")
    return total > 85 and (statistic in ("sd", "two_sd", "count") or (statistic == "other" and len(row.label) <= 3 and row.label.lower() not in ("min", "max")))


def _with_statistics(rows: list[Row]) -> list[Row]:
    """Means take the rows before them as parts, sd and n rows go to the row that they follow."""
    since: list[Row] = []
    target: Row | None = None
    for row in rows:
        if row.kind == "mean":
            _name_mean(row, since)
            target, since = row, []
        elif row.kind in ("sd", "two_sd", "rsd", "count"):
            target = target or (since[-1] if since else None)
            if target:
                _apply(row, target)
                since = []
        elif row.kind == "single":
            target = None
            since.append(row)
    return rows


def _name_mean(row: Row, since: list[Row]) -> None:
    _kind_, rest = statistic_of(row.label)
    mine = [r for r in since if not rest or r.label.startswith(rest)]
    if not rest and len({r.label for r in mine}) > 1:
        mine, rest = _meant(mine)
    row.label = rest or (mine[-1].label if mine else row.label)
    row.n = row.n or (len(mine) if len(mine) > 1 else None)
    for part in mine:
        part.kind = "part"
        part.words.append(f"behind the mean in line {row.line}")
    if mine:
        row.facts = {key: value or mine[-1].facts[key] for key, value in row.facts.items()}
    row.parts = mine


def _meant(rows: list[Row]) -> tuple[list[Row], str]:
    """(rows behind a mean without a name, its name): A7-1 and A7-2 are A7; the last label where that is repeated; else a mean of several samples."""
    labels = [row.label for row in rows]
    stem = commonprefix(labels)
    if re.search(r"\w[-_ ./#(]+$", stem):
        return rows, stem.rstrip("-_ ./#(")
    last = [row for row in rows if row.label == labels[-1]]
    return (last, labels[-1]) if len(last) > 1 else ([], f"Mean of {labels[0]} to {labels[-1]}"[: WITHIN["name"]])


def _apply(row: Row, target: Row) -> None:
    if row.kind == "count":
        counts = [row.value(f.of) for f in row.figures]
        target.n = target.n or next((int(c) for c in counts if c and c == int(c)), None)
        return
    given = {(f.of, f.unit): f for f in row.figures if not f.problem}
    for i, made in enumerate(target.figures):
        spread = given.get((made.of, made.unit))
        if not spread or made.problem:
            continue
        value = parse_number(spread.text, made.of)[0]
        if value:
            share = parse_number(made.text, made.of)[0] / 100 if row.kind == "rsd" else (0.5 if row.kind == "two_sd" else 1.0)
            target.figures[i] = replace(made, sd=value * share, raw=f"{made.raw} ± {spread.raw}"[:80])


def _grouped(rows: list[Row]) -> list[Row]:
    """One glass of single rows that share a label, placed before them."""
    made: list[Row] = []
    by_label: dict[str, list[Row]] = {}
    for row in rows:
        if row.kind == "single" and row.label and not any(f.problem for f in row.figures) and row.figures:
            by_label.setdefault(row.label.lower(), []).append(row)
    for row in rows:
        group = by_label.get(row.label.lower(), []) if row.kind == "single" else []
        if len(group) > 1 and group[0] is row:
            made.append(_mean(group))
        made.append(row)
    for group in by_label.values():
        if len(group) > 1:
            for row in group:
                row.kind = "part"
                row.words.append("one of the repeats behind the mean above")
    return made


def _mean(group: list[Row]) -> Row:
    keys = dict.fromkeys((f.of, f.unit) for row in group for f in row.figures)
    figures = [_mean_figure([f for row in group for f in row.figures if (f.of, f.unit) == key]) for key in keys]
    facts = {key: next((row.facts[key] for row in group if row.facts[key]), "") for key in group[0].facts}
    row = Row(group[0].line, group[0].label, facts, figures, "mean", n=len(group), parts=group)
    row.words.append(f"mean of {len(group)} rows with this label, made here")
    return row


def _mean_figure(found: list[Figure]) -> Figure:
    """Mean and sd of repeats; what is below a limit counts as nothing, and where all are, the largest limit stays."""
    raw = " | ".join(f.raw for f in found)
    raw = raw if len(raw) <= 80 else raw[:79] + "…"
    read = [parse_number(f.text, f.of) for f in found]
    if not any(value for value, _ in read):
        worst = max(range(len(found)), key=lambda i: read[i][1] or 0.0)
        return replace(found[worst], raw=raw, sd=None)
    values = [value for value, _ in read]
    remark = "below the limit in some, counted there as nothing" if any(limit for _, limit in read) else ""
    text = plain_text(Decimal(f"{mean(values):.6g}"))
    if mean(values) > LARGEST[found[0].unit]:
        text = found[0].text
    return replace(found[0], text=text[:24], raw=raw, sd=float(f"{stdev(values):.4g}") if len(values) > 1 else None, remark=remark)
