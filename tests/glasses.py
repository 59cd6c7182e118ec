"""Analyses that the tests share: rows of wt% by OXIDES, and the measured glasses with their values."""

import csv
from collections import defaultdict
from pathlib import Path

import numpy as np

from server.physics.bounds import Glasses
from server.physics.composition import INDEX, OXIDES, mol_pct_from_wt_pct

REFERENCE = Path(__file__).parent / "reference"


def row(**wt_pct: float) -> np.ndarray:
    """wt% by OXIDES from names."""
    made = np.zeros(len(OXIDES))
    for name, value in wt_pct.items():
        made[INDEX[name]] = value
    return made


FLOAT = row(SiO2=72.8, Na2O=13.7, CaO=8.8, MgO=4.0, Al2O3=0.6, K2O=0.1)
SRM_710 = row(SiO2=70.5, Na2O=8.7, K2O=7.7, CaO=11.6, Sb2O3=1.1, SO3=0.2)
NATRON = row(SiO2=69.5, Na2O=17.0, CaO=7.5, Al2O3=2.5, MgO=0.6, K2O=0.7, MnO=0.6, Fe2O3=0.5, Cl=1.1)
LEAD_22 = row(SiO2=63, Al2O3=1, PbO=22, Na2O=8, K2O=6)
LEAD_29 = row(SiO2=56, Al2O3=2, PbO=29, Na2O=4, K2O=9)
BOROSILICATE = row(SiO2=80.6, B2O3=13.0, Na2O=4.0, Al2O3=2.3)
WOOD_ASH = row(SiO2=56.5, Al2O3=1.5, Na2O=1.3, K2O=13.4, CaO=15.7, MgO=4.9, FeO=0.6, MnO=1.0, P2O5=3.2)
SOFT_BEAD = row(SiO2=68, Na2O=18.5, K2O=2, CaO=6, MgO=2.5, Al2O3=1.5)


def as_given(wt_pct: np.ndarray) -> Glasses:
    """One glass for a model asked directly: wt% untouched, as the published sums take it."""
    return Glasses(wt_pct[None, :], mol_pct_from_wt_pct(wt_pct[None, :]))


def values(name: str) -> list[dict]:
    """Rows of tests/reference/values/<name>.csv."""
    with (REFERENCE / "values" / f"{name}.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def measured() -> dict[str, tuple[np.ndarray, list[dict]]]:
    """Glass id -> (wt%, its measured values) from tests/reference/measured.csv; sources stand in the file."""
    found = defaultdict(list)
    with (REFERENCE / "measured.csv").open(encoding="utf-8") as file:
        for line in csv.DictReader(file):
            found[line["id"]].append(line)
    return {key: (row(**{n: float(lines[0][n]) for n in OXIDES if lines[0].get(n)}), lines) for key, lines in found.items()}
