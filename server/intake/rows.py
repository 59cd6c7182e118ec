"""Rows of a settled table -> analyses: every figure with its original text, every row with its name and what kind of row it is."""

import re
from dataclasses import dataclass, field, replace
from decimal import ROUND_HALF_UP, Decimal

from server.errors import BadComposition, Refused
from server.glass.cells import Cell, clean, read_cell
from server.intake.columns import Column, column_of
from server.intake.labels import SPREADS, counted, is_ordinal, statistic_among, statistic_of
from server.intake.layout import Table, kept_unit
from server.physics.composition import LARGEST, amount, parse_number

WITHIN = {"name": 120, "family": 80, "period": 80, "region": 80, "source": 400, "note": 2000}
_SIGNED = re.compile(r"(?:±|\+/-|\+-)\s*([\d.,]+)|\(\s*(?:±\s*)?([\d.,]+)\s*\)")
_CONTROLS = re.compile(r"[\x00-\x1f\x7f]+")


@dataclass(frozen=True)
class Note:
    """One finding; `is_caution` where the analysis should not be used as it stands, `unticks` where it is not ticked at first for that."""

    code: str
    text: str
    is_caution: bool = False
    unticks: bool = False


@dataclass(frozen=True)
class Figure:
    """One amount: `text` is what is kept (readable by physics.composition), `raw` the cell, `sd` in the kept unit.

    `written` is the unit of the column, and 10**power brings a figure from it to the kept unit.
    """

    of: str
    unit: str
    text: str
    raw: str
    heading: str
    sd: float | None = None
    remark: str = ""
    problem: str = ""
    written: str = ""
    power: int = 0

    @property
    def shown(self) -> str:
        """What is kept, in the unit that the column was written in."""
        mark, figure = ("<", self.text[1:]) if self.text.startswith("<") else ("", self.text)
        return self.text if figure in ("", "bd") or not self.power else f"{mark}{plain_text(Decimal(figure).scaleb(-self.power).normalize())}"

    @property
    def spread(self) -> str:
        """The sd as one says it, in the unit of the column. '' for none, and for figures that do not differ."""
        return "" if not self.sd else said(self.sd * 10.0**-self.power, len(self.shown.partition(".")[2]))


def said(spread: float, places: int) -> str:
    """A spread as one says it of a figure with so many decimal places: two figures, but only one where it is 3 or more and reaches further than the figure itself.

    Without noughts at the end, and never as a power of ten (common practice, no source).
    """
    two = Decimal(f"{spread:.2g}").normalize()
    is_long = -two.as_tuple().exponent > places and two.as_tuple().digits[0] > 2
    one = two.quantize(Decimal(1).scaleb(two.adjusted()), ROUND_HALF_UP).normalize()
    return f"{one if is_long else two:f}"


@dataclass
class Row:
    """One analysis. kind: single, mean (given or made here), part (behind a mean), or what is none: sd, two_sd, rsd, count, limit, words …

    `rest` is the label without its word for a statistic; `section` the line of words that the row stands under, `heading` those words where they name it; `is_spare` a mean whose own rows are here.
    """

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
    statistic: str = ""
    rest: str = ""
    section: int = 0
    heading: str = ""
    where: str = "line"
    is_spare: bool = False
    doubts: list[Note] = field(default_factory=list)

    @property
    def called(self) -> str:
        """The label; for a row without one, what it is."""
        return self.label or {"mean": "mean", "sd": "standard deviations", "two_sd": "2σ", "rsd": "relative standard deviations", "count": "n", "limit": "limits"}.get(self.kind, "no name")

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
    bare = Figure(column.of, unit, "", str(text).strip()[:80], column.heading, written=column.unit, power=power)
    try:
        cell = read_cell(text, mark, 1e6 if column.unit in ("ppm", "ppb") else 100.0)
        if cell.unit and cell.unit != column.unit:
            raise Refused(f"“{bare.raw[:40]}” names another unit than its column.", code="other_unit")
        kept = _kept_text(cell, power)
        amount(column.of, kept, unit)
    except (Refused, BadComposition) as error:
        message = error.message if error.message.startswith(column.of) else f"{column.of}: {error.message}"
        return replace(bare, problem=message)
    made = replace(bare, text=kept, remark=cell.remark)
    return made if cell.sd is None else with_spread(made, float(cell.sd.scaleb(power)))


def _kept_text(cell: Cell, power: int) -> str:
    if cell.value is None:
        return "bd"
    return f"{'<' if cell.is_below else ''}{plain_text(cell.value.scaleb(power))}"[:24]


def rows_of(table: Table, blank: str = "own") -> list[Row]:
    """Every row below the headings. blank: a row without a name stays without one ('own'), or bears the name above it ('above')."""
    rows = [_row(table, place, line, cells) for place, (line, cells) in enumerate(table.lines)]
    above, section, other = ("", 0), ("", 0), 0
    for row in rows:
        row.kind = _kind(row)
        other = row.line if row.kind == "other headings" else (0 if row.kind == "heading" else other)
        if other and row.line != other:
            row.kind, row.problem = "elsewhere", f"it stands under other headings ({row.where} {other}); bring that part in by itself"
        if row.kind == "words" and row.label:
            above = section = (row.label, row.line)
        row.section = section[1]
        if row.kind != "single":
            continue
        if not row.label and blank == "above" and above[0]:
            row.label = above[0]
            row.words.append(f"named as {row.where} {above[1]}, as you said")
            continue
        if section[0] and is_ordinal(row.label):
            row.heading, row.label = section[0], f"{section[0]}, {row.label}"[: WITHIN["name"]]
            row.words.append(f"named with {row.where} {section[1]}")
        above = (row.label, row.line) if row.label else above
    return rows


def _text(table: Table, cells: list[str], role: str) -> list[str]:
    return [_CONTROLS.sub(" ", cells[i]) for i, c in enumerate(table.columns) if c.role == role and cells[i]]


def _row(table: Table, place: int, line: int, cells: list[str]) -> Row:
    ids, names = _text(table, cells, "id"), _text(table, cells, "name")
    facts = {role: (_text(table, cells, role) or [""])[0][: WITHIN[role]] for role in ("family", "period", "region", "source")}
    notes = [f"{clean(c.heading)}: {_CONTROLS.sub(' ', cells[i])}" for i, c in enumerate(table.columns) if c.role in ("note", "repeat") and cells[i]]
    label, n = counted(" ".join(dict.fromkeys(ids[:1] + names[:1]))[: WITHIN["name"]].strip())
    label = "" if label.startswith("=") else label
    beside = [cells[i] for i, c in enumerate(table.columns) if not c.is_analyte and c.role not in ("sd", "total", "count")]
    statistic, rest = statistic_of(label)
    statistic = statistic or statistic_among(beside)
    cells, is_spread = _without_signs(table, cells, not label or statistic in SPREADS)
    statistic = statistic or ("sd" if is_spread else "")
    figures = [figure(c, cells[i], table.marks[i]) for i, c in enumerate(table.columns) if c.is_analyte]
    figures = [_with_sd(f, table, cells) for f in figures if f]
    facts = {**facts, "note": "; ".join(notes)[: WITHIN["note"]]}
    made = Row(line, label, facts, figures, n=_count(table, cells) or n, stated_total=_number(table, cells, "total"), statistic=statistic, rest=rest, where="column" if table.is_turned else "line")
    made.doubts = _doubts(table, place, cells)
    return made


def _without_signs(table: Table, cells: list[str], is_bare: bool) -> tuple[list[str], bool]:
    """(cells, whether every amount of the row stands behind a sign of its own, '±0.2', or in brackets under no name: a row of spreads)."""
    filled = [i for i, c in enumerate(table.columns) if c.is_analyte and cells[i]]
    found = {i: _SIGNED.fullmatch(cells[i].strip()) for i in filled}
    if not filled or not all(found.values()) or not (is_bare or all(match[1] for match in found.values())):
        return cells, False
    return [found[i][1] or found[i][2] if i in found else cell for i, cell in enumerate(cells)], True


def _doubts(table: Table, place: int, cells: list[str]) -> list[Note]:
    """What columns that are left out say against those that are counted, and spreads that are formulas without a value."""
    found = []
    for i, column in enumerate(table.columns):
        if place in column.apart:
            counted_in = table.columns[column.instead]
            found.append(Note("twice_apart", f"“{column.heading}” says {cells[i][:20]}, which is not what “{counted_in.heading}” says ({cells[column.instead][:20]}). “{counted_in.heading}” is counted: is it the right one?", True))
        if column.role == "sd" and cells[i].startswith("="):
            found.append(Note("formula_only", f"“{column.heading}” holds a formula without a value, so its ± is not known. Save the table in its spreadsheet, or type the figure.", True, True))
    return found


def with_spread(made: Figure, sd: float, **more) -> Figure:
    """The figure with an sd in its kept unit; one above the whole is set aside and said."""
    return replace(made, sd=sd, **more) if sd <= LARGEST[made.unit] else replace(made, sd=None, remark="its ± is more than the whole: set aside")


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
            return with_spread(made, _sd(made, float(cell.value), column, table))
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


def _kind(row: Row) -> str:
    if row.statistic and row.figures and not _is_whole_glass(row):
        return {"mean": "mean", "other": "limit"}.get(row.statistic, row.statistic)
    names = [(f.of, column_of(f.raw).of) for f in row.figures if f.problem]
    if sum(bool(named) for _of, named in names) >= 2:
        return "heading" if sum(of == named for of, named in names) > len(row.figures) / 2 else "other headings"
    readable = [f for f in row.figures if not f.problem]
    if not readable:
        return "words" if len(row.figures) < 2 else "single"
    return "single"


def _is_whole_glass(row: Row) -> bool:
    """True where a short label that could mean a spread or limit ('LD', '2S') stands over a whole analysis."""
    total = sum(row.value(f.of) or 0.0 for f in row.figures if f.unit == "wt")
    return total > 85 and (row.statistic in ("sd", "two_sd", "count") or (row.statistic == "other" and len(row.label) <= 3 and row.label.lower() not in ("min", "max")))


