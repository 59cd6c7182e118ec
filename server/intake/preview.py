"""Everything the preview shows of a table, and the body of the entry that each row would become. Nothing is stored."""

from base64 import b64decode
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from server.errors import Refused
from server.intake.checks import notes_on, readable, twins
from server.intake.columns import Column
from server.intake.layout import Table, laid_out
from server.intake.means import brought_together
from server.intake.reading import Grid, read_file, read_text
from server.intake.rows import Figure, Note, Row, rows_of


@dataclass(frozen=True)
class Options:
    """What a person has said about a table. corrections: {column: (role, oxide or element, unit)}."""

    corrections: Mapping[int, tuple[str, str, str]] = field(default_factory=dict)
    turn: str = "auto"
    decimal: str = "auto"
    repeats: str = "mean"
    blank: str = "own"
    method: str = "not stated"
    surface: str = "not stated"
    source: str = ""


@dataclass
class Line:
    """One row as shown: `body` is what is kept when it is ticked, None where it cannot be."""

    row: Row
    problem: str
    total_wt: float | None
    notes: list[Note]
    body: dict | None

    @property
    def is_ticked(self) -> bool:
        """Ticked at first: whole analyses with a name, but not the repeats behind a mean, nor what a note speaks against."""
        return self.body is not None and self.row.kind != "part" and not any(n.unticks for n in self.notes)

    @property
    def is_fine_but_nameless(self) -> bool:
        """Nothing but a name is missing for it to be ticked."""
        return self.body is not None and self.row.kind != "part" and [n.code for n in self.notes if n.unticks] == ["no_name"]

    @property
    def reason(self) -> str:
        """Why it cannot be kept, as a sentence."""
        return f"{self.problem[:1].upper()}{self.problem[1:]}{'' if self.problem.endswith('.') else '.'}"

    @property
    def is_analysis(self) -> bool:
        return self.row.kind in ("single", "mean", "part", "elsewhere")


@dataclass(frozen=True)
class Preview:
    """A table as understood."""

    grid: Grid
    table: Table
    lines: list[Line]

    @property
    def glasses(self) -> list[Line]:
        return [line for line in self.lines if line.body is not None]

    @property
    def unread(self) -> list[Line]:
        """Rows that should be analyses and cannot be read."""
        return [line for line in self.lines if line.is_analysis and line.body is None]

    @property
    def ticked(self) -> list[Line]:
        return [line for line in self.lines if line.is_ticked]

    @property
    def nameless(self) -> list[Line]:
        """Analyses without a name of their own, though rows above them have one."""
        named = next((line.row.line for line in self.lines if line.row.label), None)
        return [] if named is None else [line for line in self.glasses if not line.row.label and line.row.line > named]

    @property
    def columns(self) -> list[tuple[int, Column]]:
        """Columns with their place."""
        return list(enumerate(self.table.columns))

    @property
    def doubtful(self) -> list[Column]:
        return [column for column in self.table.columns if not column.is_sure]

    def example(self, index: int) -> str:
        """The first cell of a column that says something."""
        return next((cells[index] for _line, cells in self.table.lines if cells[index]), "")


def grid_of(text: str, file_base64: str, sheet: str) -> Grid:
    """The grid of what was pasted or dropped. Raises Refused."""
    if not file_base64:
        return read_text(text)
    try:
        content = b64decode(file_base64, validate=True)
    except ValueError:  # also for what is not even ASCII
        raise Refused("The file did not arrive whole. Choose it again.", code="broken_file") from None
    return read_file(content, sheet)


def preview(grid: Grid, options: Options, at_the_desk: frozenset[str] = frozenset()) -> Preview:
    """A grid as understood under the options. at_the_desk: small names of own glasses. Raises Refused."""
    table = laid_out(grid, options.corrections, options.turn, options.decimal)
    lines = [_line(row, options, grid) for row in brought_together(rows_of(table, options.blank), options.repeats)]
    kept = [(line, wt) for line, wt in lines if wt is not None]
    found = twins([(line.row, wt) for line, wt in kept], set(at_the_desk))
    for place, notes in found.items():
        kept[place][0].notes.extend(notes)
    return Preview(grid, table, [line for line, _wt in lines])


def _line(row: Row, options: Options, grid: Grid) -> tuple[Line, np.ndarray | None]:
    wt, problem = readable(row)
    if wt is None:
        return Line(row, problem, None, [], None), None
    return Line(row, "", float(wt.sum()), notes_on(row, wt, options.method), _body(row, options)), wt


def _body(row: Row, options: Options) -> dict:
    """The body of a glass.added entry (server/glass/own.py GlassIn); a row without a name gets one from the person first."""
    surface = "weathered" if options.method == "weathered-surface" else options.surface
    facts = {**row.facts, "source": (row.facts["source"] or options.source)[:400]}
    counted = {} if row.n is None else {"n": row.n}
    return {"name": row.label, **facts, "surface": surface, "replaces": "", "method": options.method, **counted, "amounts": [_amount(f) for f in row.figures]}


def _amount(figure: Figure) -> dict:
    spread = {} if figure.sd is None else {"sd": figure.sd}
    return {"name": figure.of, "text": figure.text, "unit": figure.unit, "raw": figure.raw, "heading": figure.heading[:60], **spread}
