"""`isokom estimate`: a CSV of analyses in, a CSV of working properties out, one row per row, nothing ever stops the file."""

import csv
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice, repeat
from typing import TextIO

import numpy as np

from server.errors import BadComposition, Refused
from server.glass.cells import read_typed
from server.glass.records import records
from server.glass.writing import CsvWriter, JsonWriter, Rows, rows_of
from server.physics.analysis import default_sd
from server.physics.composition import INDEX, OXIDES
from server.physics.estimate import STATUS, Estimates, Note, estimate
from server.physics.refusal import shared_reasons, why_none
from server.physics.report import report, sentence_form

CHUNK_ROWS = 20_000
NO_MODEL = {"no_viscosity_model": "viscosity", "no_expansion_model": "expansion"}
_SUBSCRIPTS = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")
_WT_PCT = re.compile(r"[\s_]*[\[(,]?\s*(wt|mass|weight)[\s.-]*%\s*[\])]?$", re.IGNORECASE)
_BY_LOWER = {name.lower(): name for name in OXIDES}


@dataclass
class Summary:
    """What was done: rows, rows by status, and the columns that were not read."""

    rows: int = 0
    by_status: dict[str, int] = field(default_factory=lambda: dict.fromkeys(STATUS, 0))
    unread_columns: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Options:
    """What to write, and the method of analysis whose own ± is added (None: the analyses count as exact)."""

    with_models: bool = False
    as_json: bool = False
    method: str | None = None


@dataclass
class Header:
    """Where the id and the oxides stand. oxide_columns: (column, oxide index, name)."""

    width: int
    id_column: int
    oxide_columns: list[tuple[int, int, str]]
    unread: list[str]


def read_header(cells: list[str]) -> Header:
    """Raises Refused where there is no id column, no oxide, or an oxide twice."""
    names = [_WT_PCT.sub("", cell.strip().translate(_SUBSCRIPTS)) for cell in cells]
    lowered = [name.lower() for name in names]
    if "id" not in lowered:
        raise Refused(f"The file has no column called id.{_looks_like(cells)}", code="no_id_column")
    oxides = [(i, INDEX[_BY_LOWER[low]], _BY_LOWER[low]) for i, low in enumerate(lowered) if low in _BY_LOWER]
    found = [name for _, _, name in oxides]
    for name in found:
        if found.count(name) > 1:
            raise Refused(f"The file has two columns called {name}.", code="column_twice")
    if not oxides:
        raise Refused("The file has no oxide column such as SiO2 or Na2O.", code="no_oxide_column")
    unread = [name for name, low in zip(names, lowered, strict=True) if low != "id" and low not in _BY_LOWER]
    return Header(len(names), lowered.index("id"), oxides, unread)


def _looks_like(cells: list[str]) -> str:
    """What the header looks like when it is no comma-separated table in UTF-8."""
    whole = ",".join(cells)
    if "\0" in whole or "\ufffd" in whole:
        return " It looks like another encoding than UTF-8 (UTF-16?): save it as CSV in UTF-8."
    for mark, word in ((";", "semicolons"), ("\t", "tabs")):
        if whole.count(mark) > whole.count(","):
            return f" Its cells seem to be divided by {word}: save it as CSV with commas, and with decimal points."
    return ""


def read_amounts(rows: list[list[str]], header: Header) -> tuple[np.ndarray, np.ndarray | None, dict[int, str]]:
    """(wt% (n, oxides), sd in wt% as given in the cells or None, reason by row for the rows that cannot be read)."""
    reasons = {i: f"the row has {len(r)} cells, the header {header.width}" for i, r in enumerate(rows) if len(r) > header.width}
    wt, sd = np.zeros((len(rows), len(OXIDES))), None
    for column, index, name in header.oxide_columns:
        cells = [row[column] if column < len(row) else "" for row in rows]
        wt[:, index], spreads = _column(cells, name, reasons)
        if spreads:
            sd = np.zeros_like(wt) if sd is None else sd
            sd[list(spreads), index] = list(spreads.values())
    return wt, sd, reasons


def _column(cells: list[str], name: str, reasons: dict[int, str]) -> tuple[np.ndarray, dict[int, float]]:
    """(one oxide column, sd by row); cells that are no plain amount are read one by one, and a bad one is reasoned."""
    try:
        values = np.array([float(cell or 0) for cell in cells])
    except ValueError:
        values = np.array([_plain(cell) for cell in cells])
    odd = ~((values >= 0) & (values <= 100))
    if "_" in "".join(cells):
        odd |= ["_" in cell for cell in cells]
    spreads = {}
    for i in np.flatnonzero(odd).tolist():
        try:
            values[i], sd = _careful(cells[i], name)
        except BadComposition as error:
            values[i] = 0.0
            reasons.setdefault(i, error.message)
        else:
            spreads.update({} if sd is None else {i: sd})
    return values, spreads


def _plain(cell: str) -> float:
    """A plain number, NaN for what is none."""
    try:
        return float(cell or 0)
    except ValueError:
        return math.nan


def _careful(cell: str, name: str) -> tuple[float, float | None]:
    """(wt%, sd) of a cell that is no plain number; nothing found and below a limit count as 0. Raises BadComposition."""
    read = read_typed(cell, name)
    value = 0.0 if read.value is None or read.is_below else float(read.value)
    if value > 100:
        raise BadComposition(f"{name}: {cell.strip()[:40]} is more than the whole.", code="too_large", field=name)
    return value, None if read.sd is None else float(read.sd)


def _model_words(e: Estimates) -> list[str]:
    """Per row, the models that its figures come from; empty where none answered."""
    verdicts = e.viscosity_verdicts + e.expansion_verdicts
    code = sum(v.used.astype(int) << k for k, v in enumerate(verdicts))
    kinds, which = np.unique(code, return_inverse=True)
    words = [_used_in_words([v.model for k, v in enumerate(verdicts) if kind >> k & 1]) for kind in kinds.tolist()]
    return [words[k] for k in which.tolist()]


def _used_in_words(used: list[dict]) -> str:
    """'Viscosity: Lakatos 1972, Okhotin. Expansion: Appen.'"""
    said = {q: ", ".join(m["name"] for m in used if m["quantity"] == q) for q in ("viscosity", "expansion")}
    return " ".join(f"{quantity.capitalize()}: {names}." for quantity, names in said.items() if names)


def _notes(e: Estimates, reasons: dict[int, str]) -> list[str]:
    """The notes cell of each row: the reason for a refusal alone, or cautions and then the models that answered."""
    texts = _model_words(e)
    for note in reversed(e.notes):
        rows = np.flatnonzero(note.where)
        if note.code in NO_MODEL:
            words = _no_model(e, note)
        else:
            form, names = sentence_form(note.code)
            columns = [note.values[name][rows].tolist() for name in names]
            words = (form % numbers for numbers in zip(*columns, strict=True)) if names else repeat(form % ())
        for i, said in zip(rows.tolist(), words, strict=False):
            texts[i] = f"{said} {texts[i]}".rstrip()
    for i, reason in reasons.items():
        texts[i] = reason
    return texts


def _no_model(e: Estimates, note: Note) -> Iterator[str]:
    """For each row of a note that no model may answer: which limit stopped them."""
    quantity = NO_MODEL[note.code]
    shared = shared_reasons(e.glasses, quantity, note.where)
    for i in np.flatnonzero(note.where).tolist():
        reason = shared[i] or why_none(report(e, i), quantity)
        yield f"No {quantity} model may answer{f': {reason}' if reason else ''}."


def estimate_csv(source: TextIO, target: TextIO, options: Options | None = None) -> Summary:
    """Estimate every row of source into target, a part at a time. Raises Refused only for a file that is no such table."""
    options = options or Options()
    lines = records(source)
    first, _broken = next(lines, ("", False))
    header = read_header(next(csv.reader([first]), []))
    writer = (JsonWriter if options.as_json else CsvWriter)(target, options.with_models)
    summary = Summary(unread_columns=header.unread)
    while chunk := list(islice(lines, CHUNK_ROWS)):
        rows = _estimated(chunk, header, options.method)
        writer.write(rows)
        summary.rows += len(rows.ids)
        for name in STATUS:
            summary.by_status[name] += rows.words.count(name)
    writer.close()
    return summary


def _estimated(chunk: list[tuple[str, bool]], header: Header, method: str | None) -> Rows:
    cells = list(csv.reader(line for line, _broken in chunk))
    broken = [i for i, (_line, is_broken) in enumerate(chunk) if is_broken]
    wt, given, reasons = read_amounts(cells, header)
    reasons.update(dict.fromkeys(broken, "a quotation mark in this row is never closed"))
    ids = [row[header.id_column] if header.id_column < len(row) else "" for row in cells]
    usual = None if method is None else default_sd(wt, method)
    made = estimate(wt, sd_wt=usual if given is None else given if usual is None else np.maximum(usual, given))
    unread = np.zeros(len(ids), dtype=bool)
    unread[list(reasons)] = True
    return rows_of(ids, made, unread, _notes(made, reasons))
