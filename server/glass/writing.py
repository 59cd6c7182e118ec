"""How `isokom estimate` writes its rows: CSV (RFC 4180) or one JSON array, with or without what each model said by itself."""

import json
from dataclasses import dataclass
from typing import TextIO

import numpy as np

from server.physics.combine import EXTRAPOLATED, STATES
from server.physics.estimate import STATUS, Estimates
from server.physics.table import models_of

OUT_COLUMNS = (
    "id,status,t_working_c,t_working_u_c,t_softening_c,t_softening_u_c,t_annealing_c,t_annealing_u_c,"
    "t_strain_c,t_strain_u_c,alpha_1e7_per_k,alpha_u_1e7_per_k,vft_a,vft_b,vft_t0_c,notes"
).split(",")
DIGITS = (2, 1, 2, 1, 2, 1, 2, 1, 2, 1, 5, 3, 4)
ANSWERS = {"viscosity": ("t_working_c", "t_softening_c", "t_annealing_c"), "expansion": ("alpha_1e7_per_k",)}


def model_columns() -> list[str]:
    """Columns of each model's own say: its state and its values, blank where it did not answer."""
    return [f"{m['key']}:{name}" for q, names in ANSWERS.items() for m in models_of(q) for name in ("state", *names)]


@dataclass
class Rows:
    """Estimated rows, ready to write: ids and notes (n,), status words (n,), values (n, 13) with NaN for blank, models' say."""

    ids: list[str]
    words: list[str]
    values: np.ndarray
    says: list[tuple[np.ndarray, np.ndarray]]
    notes: list[str]


def rows_of(ids: list[str], e: Estimates, unread: np.ndarray, notes: list[str]) -> Rows:
    """unread (n,) is True where the row itself could not be read: refused, whatever the estimate of its blank says."""
    words = [STATUS[s] for s in np.where(unread, STATUS.index("refused"), e.status).tolist()]
    pairs = [(e.isokom_c[k], e.isokom_u_k[k]) for k in range(3)] + [(e.strain_c, e.strain_u_k), (e.alpha, e.alpha_u)]
    values = np.array([x for pair in pairs for x in pair] + list(e.vft)).T
    values[unread] = np.nan
    says = []
    for verdict in e.viscosity_verdicts + e.expansion_verdicts:
        state = np.where(unread, STATES.index("refused"), verdict.state)
        says.append((state, np.where(state <= EXTRAPOLATED, verdict.values, np.nan)))
    return Rows(ids, words, values, says, notes)


class CsvWriter:
    """A header line, then a line a row. A value that does not exist is blank."""

    def __init__(self, target: TextIO, with_models: bool):
        self.target, self.with_models = target, with_models
        target.write(",".join(OUT_COLUMNS + (model_columns() if with_models else [])) + "\n")

    def write(self, rows: Rows) -> None:
        """One line a row."""
        whole = np.isfinite(rows.values).all(axis=1).tolist()
        forms = [f"%.{digits}f" for digits in DIGITS]
        form = ",".join(forms)
        tails = self._tails(rows) if self.with_models else [""] * len(rows.ids)
        every = zip(rows.ids, rows.words, rows.values.tolist(), whole, rows.notes, tails, strict=True)
        self.target.writelines(
            f"{_cell(i)},{word},{form % tuple(row) if full else _gappy(forms, row)},{_cell(note)}{tail}\n"
            for i, word, row, full, note, tail in every
        )

    def close(self) -> None:
        """Nothing is left to write."""

    @staticmethod
    def _tails(rows: Rows) -> list[str]:
        columns = []
        for state, values in rows.says:
            columns.append([STATES[s] for s in state.tolist()])
            columns += [["" if x != x else f"{x:.2f}" for x in row] for row in values.tolist()]
        return ["," + ",".join(cells) for cells in zip(*columns, strict=True)]


class JsonWriter:
    """One JSON array of objects with the names of the CSV columns, null for blank; with_models adds them under "models"."""

    def __init__(self, target: TextIO, with_models: bool):
        self.target, self.with_models = target, with_models
        self.between = "[\n"

    def write(self, rows: Rows) -> None:
        """One object a line."""
        for i, made in enumerate(zip(rows.ids, rows.words, rows.values.tolist(), rows.notes, strict=True)):
            self.target.write(self.between + json.dumps(self._object(rows, i, *made), ensure_ascii=True))
            self.between = ",\n"

    def close(self) -> None:
        """End the array."""
        self.target.write("[]\n" if self.between == "[\n" else "\n]\n")

    def _object(self, rows: Rows, i: int, name: str, word: str, values: list[float], note: str) -> dict:
        numbers = [None if x != x else round(x, digits) for x, digits in zip(values, DIGITS, strict=True)]
        found = dict(zip(OUT_COLUMNS, (name, word, *numbers, note), strict=True))
        return {**found, "models": self._says(rows, i)} if self.with_models else found

    @staticmethod
    def _says(rows: Rows, i: int) -> dict:
        asked = [(m["key"], names) for q, names in ANSWERS.items() for m in models_of(q)]
        says = {}
        for (key, names), (state, values) in zip(asked, rows.says, strict=True):
            numbers = [None if x != x else round(float(x), 2) for x in values[:, i]]
            says[key] = {"state": STATES[state[i]], **dict(zip(names, numbers, strict=True))}
        return says


def _cell(text: str) -> str:
    """A CSV cell, quoted where it must be."""
    return '"' + text.replace('"', '""') + '"' if any(mark in text for mark in ',"\r\n') else text


def _gappy(forms: list[str], row: list[float]) -> str:
    return ",".join("" if value != value else form % value for form, value in zip(forms, row, strict=True))
