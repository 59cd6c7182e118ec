"""Analyses: amounts as typed, wt%, mol%, element ppm, and conversions between them.

Arrays have one column per oxide in the order of OXIDES; rows are glasses.
source: molar masses from the atomic weights in data/oxides.json (IUPAC 2021, cited there).
"""

import re
from dataclasses import dataclass

import numpy as np

from server.errors import BadComposition
from server.physics.table import table

_DATA = table("oxides")
WEIGHTS = _DATA["atomic_weights_g_mol"]
OXIDES: tuple[str, ...] = tuple(_DATA["oxides"])
INDEX = {name: i for i, name in enumerate(OXIDES)}
OXIDE_OF_ELEMENT: dict[str, str] = _DATA["oxide_of_element"]
MOLAR_MASS_G_MOL = np.array([sum(WEIGHTS[e] * n for e, n in parts.items()) for parts in _DATA["oxides"].values()])
IN_GLASS = np.array([name not in _DATA["left_out_of_the_glass"] for name in OXIDES])
UNITS = ("wt", "mol", "ppm")
LARGEST = {"wt": 100.0, "mol": 100.0, "ppm": 1e6}

ABSENT = {"", "-", "–", "—", "*", "bd", "b.d.", "bdl", "b.d.l.", "<lod", "<dl", "nd", "n.d.", "na", "n.a.", "nan", "tr", "tr.", "trace"}
_NUMBER = re.compile(r"(\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,2})?", re.ASCII)


@dataclass(frozen=True)
class Amount:
    """One figure of an analysis. `limit` is set where the source says 'below'; the value is then 0."""

    name: str
    value: float
    unit: str
    limit: float | None = None


def parse_number(text: str, field: str) -> tuple[float, float | None]:
    """(value, limit) of a cell as published: '66,4', '<0.05', 'bd', blank.

    value is 0 for blank, not detected and below-limit cells; limit is the figure after '<', else None.
    raises BadComposition naming the field for anything that is no such figure.
    """
    cell = text.strip()
    if cell.lower() in ABSENT:
        return 0.0, None
    below = cell.startswith("<")
    digits = cell[1:].strip() if below else cell
    if digits.startswith(("-", "−")):
        raise BadComposition(f"{field}: {cell} is negative. An amount cannot be below zero.", code="negative", field=field)
    if not _NUMBER.fullmatch(digits):
        raise BadComposition(f"{field}: “{cell[:40]}” is not a number.", code="not_a_number", field=field)
    if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", digits):
        raise BadComposition(
            f"{field}: {digits} can be read two ways. Write {digits.replace(',', '.')} or {digits.replace(',', '')}.",
            code="ambiguous_comma", field=field,
        )
    value = float(digits.replace(",", "."))
    return (0.0, value) if below else (value, None)


def amount(name: str, text: str, unit: str) -> Amount:
    """A checked Amount from what was typed. raises BadComposition naming the field."""
    known = OXIDE_OF_ELEMENT if unit == "ppm" else INDEX
    if name not in known:
        what = "an element" if unit == "ppm" else "an oxide"
        raise BadComposition(f"{name[:40]} is not {what} that Isokom knows.", code="unknown_name", field=name[:40])
    value, limit = parse_number(text, name)
    if max(value, limit or 0.0) > LARGEST[unit]:
        raise BadComposition(f"{name}: {text.strip()[:40]} is more than the whole.", code="too_large", field=name)
    return Amount(name, value, unit, limit)


def wt_pct_of(amounts: list[Amount]) -> np.ndarray:
    """wt% per oxide, shape (len(OXIDES),), not normalised, from amounts in wt%, mol% or element ppm.

    mol% cannot be mixed with the others, since the share of the rest would be unknown.
    raises BadComposition for a mixture, a name given twice, or nothing at all.
    """
    units = {a.unit for a in amounts if a.value or a.limit}
    if "mol" in units and len(units) > 1:
        raise BadComposition("mol% cannot be mixed with wt% or ppm in one analysis.", code="mixed_units", field="unit")
    names = [(a.name, a.unit) for a in amounts]
    for name, _unit in names:
        if names.count((name, _unit)) > 1:
            raise BadComposition(f"{name} is given twice.", code="given_twice", field=name)
    row = np.zeros(len(OXIDES))
    for a in amounts:
        oxide = OXIDE_OF_ELEMENT[a.name] if a.unit == "ppm" else a.name
        row[INDEX[oxide]] += wt_pct_from_ppm(a.name, a.value) if a.unit == "ppm" else a.value
    if "mol" in units:
        total = row.sum()
        return wt_pct_from_mol_pct(row[None, :])[0] * (total / 100.0)
    return row


def wt_pct_from_ppm(element: str, ppm: float) -> float:
    """wt% of the usual oxide of an element given in mass ppm (mg/kg) of the element."""
    oxide = OXIDE_OF_ELEMENT[element]
    atoms = _DATA["oxides"][oxide][element]
    return ppm * 1e-4 * MOLAR_MASS_G_MOL[INDEX[oxide]] / (atoms * WEIGHTS[element])


def mol_pct_from_wt_pct(wt_pct: np.ndarray) -> np.ndarray:
    """mol% summing to 100, shape as given (n, oxides), from wt% of any total. A row of zeros stays zero."""
    return _to_100(wt_pct / MOLAR_MASS_G_MOL)


def wt_pct_from_mol_pct(mol_pct: np.ndarray) -> np.ndarray:
    """wt% summing to 100, shape as given (n, oxides), from mol% of any total. A row of zeros stays zero."""
    return _to_100(mol_pct * MOLAR_MASS_G_MOL)


def _to_100(amounts: np.ndarray) -> np.ndarray:
    """Amounts brought to a sum of 100 along the last axis, in place; a row of zeros stays zero. No matrix product: learnt fits must not hang on the processor."""
    total = amounts.sum(axis=-1, keepdims=True)
    amounts *= 100.0
    amounts /= np.where(total > 0, total, 1.0)
    return amounts


def _as(kept: str, other: str, moles: float) -> tuple[str, float]:
    """The form of an element that counts for both, and g of it that hold as much of the element as 1 g of the other; moles of it from one of the other."""
    return kept, float(moles * MOLAR_MASS_G_MOL[INDEX[kept]] / MOLAR_MASS_G_MOL[INDEX[other]])


SAME_ELEMENT = {"FeO": _as("Fe2O3", "FeO", 0.5), "Cu2O": _as("CuO", "Cu2O", 2.0), "Sb2O5": _as("Sb2O3", "Sb2O5", 1.0), "As2O5": _as("As2O3", "As2O5", 1.0)}


def fe2o3_from_feo(feo_wt_pct: float) -> float:
    """wt% Fe2O3 that holds the iron of a wt% FeO (factor 1.1113)."""
    return feo_wt_pct * SAME_ELEMENT["FeO"][1]


def feo_from_fe2o3(fe2o3_wt_pct: float) -> float:
    """wt% FeO that holds the iron of a wt% Fe2O3 (factor 0.8998)."""
    return fe2o3_wt_pct * 2.0 * MOLAR_MASS_G_MOL[INDEX["FeO"]] / MOLAR_MASS_G_MOL[INDEX["Fe2O3"]]


def base_glass(wt_pct: np.ndarray) -> np.ndarray:
    """wt% of the oxides normalised to 100 without chlorine and fluorine, shape as given (n, oxides)."""
    return _to_100(wt_pct * IN_GLASS)
