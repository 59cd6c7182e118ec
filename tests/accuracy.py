"""Count every model's errors on the open measurements and write server/physics/data/accuracy.json.

Run `python -m tests.accuracy`. The result is deterministic; tests/reference/test_accuracy.py checks that the file is this count.
"""

import csv
import json
import re
from collections import defaultdict
from pathlib import Path

import numpy as np

from server.physics.bounds import Glasses, family_index, first_broken
from server.physics.composition import INDEX, OXIDES, wt_pct_from_mol_pct
from server.physics.evaluate import EXPANSION_KINDS, VISCOSITY_KINDS
from server.physics.table import DATA, models_of, table

OPEN = Path(__file__).parent / "reference" / "open"
LEVELS = (4.0, 7.6, 13.0)
WIDEST_GAP = 2.5  # decades between the two measurements that an isokom is read between
READ_ALONG_A = -1.5  # readings between two points follow a VFT of this A, typical of the measured glasses
# Melts that a model was made from say nothing of how it does on others. The compiled glasses 834 to 859, each read at whole
# decades from log 3 and laid out like a design, are almost certainly the authors' own melts (they are met within 1-5 K).
MADE_FROM = {"lakatos-1972": range(834, 860)}
CITATION = (
    "Viscosity: Ferraina, Baldoni & Le Losq (2024), silicate melt viscosity database, IPGP Research Collection, "
    "doi 10.18715/IPGP.2024.lycv4gsa. Expansion: data accompanying Le Losq, Valentine, Mysen & Neuville (2021), "
    "Geochim. Cosmochim. Acta 314, 27-54. One value per glass, without the melts that a model was made from; error = model minus measured."
)


def _rows(name: str) -> list[dict]:
    with (OPEN / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def _mol_row(row: dict) -> np.ndarray:
    """mol% by our oxide order from lower-case columns."""
    mol = np.zeros(len(OXIDES))
    for name in OXIDES:
        mol[INDEX[name]] = float(row.get(name.lower()) or 0)
    return mol


def glasses_of(mol: np.ndarray) -> Glasses:
    """Glasses from mol% of any total, shape (n, oxides)."""
    return Glasses(wt_pct_from_mol_pct(mol), 100 * mol / mol.sum(axis=1, keepdims=True))


def read_isokom(points: list[tuple[float, float]], level: float) -> float | None:
    """Temperature in °C read at log10(dPa·s) = level between two measured (log_eta, temperature_c), or None."""
    points = sorted(points)
    for (low, t_low), (high, t_high) in zip(points, points[1:], strict=False):
        if low <= level <= high and 0 < high - low <= WIDEST_GAP:
            u_low, u_high, u = (1 / (x - READ_ALONG_A) for x in (low, high, level))
            return t_high + (t_low - t_high) * (u - u_high) / (u_low - u_high)
    return None


def measured_isokoms() -> tuple[Glasses, np.ndarray, np.ndarray]:
    """(glasses, temperatures (levels, n) in °C with NaN where not measured, glass numbers (n,))."""
    points, mol = defaultdict(list), {}
    for row in _rows("viscosity.csv"):
        points[row["glass"]].append((float(row["log_eta_dpas"]), float(row["temperature_c"])))
        mol[row["glass"]] = _mol_row(row)
    keys = sorted(points, key=int)
    read = [[read_isokom(points[key], level) for key in keys] for level in LEVELS]
    return glasses_of(np.array([mol[key] for key in keys])), np.array(read, dtype=float), np.array(keys, dtype=int)


def measured_expansion() -> tuple[Glasses, np.ndarray]:
    """(glasses, alpha (n,) in 1e-7/K)."""
    rows = _rows("expansion.csv")
    return glasses_of(np.array([_mol_row(row) for row in rows])), np.array([float(r["alpha_1e6_per_k"]) * 10 for r in rows])


def count(errors: np.ndarray) -> dict | None:
    """n, median error, median |error|, and the half-widths round zero that hold 68.3 % (u) and 95.4 % (u95) of the errors."""
    errors = errors[np.isfinite(errors)]
    if not len(errors):
        return None
    size = np.abs(errors)
    return {
        "n": len(errors),
        "bias": round(float(np.median(errors)), 1),
        "median_abs": round(float(np.median(size)), 1),
        "u": round(float(np.quantile(size, 0.683)), 1),
        "u95": round(float(np.quantile(size, 0.954)), 1),
    }


def count_model(model: dict, glasses: Glasses, errors: dict[str, np.ndarray]) -> dict:
    """Counts by family and side (inside or outside the model's bounds, but within its reach)."""
    families = [family["key"] for family in table("families")["families"]]
    family = family_index(glasses, table("families")["families"])
    inside = first_broken(glasses, model["bounds"]) == -1
    outside = ~inside & ((first_broken(glasses, model["reach"]) == -1) if model["reach"] else False)
    counts = {}
    for name in (*families, "any"):
        members = np.ones(len(family), dtype=bool) if name == "any" else family == families.index(name)
        counts[name] = {}
        for side, where in (("inside", inside), ("outside", outside)):
            cells = {prop: count(e[members & where]) for prop, e in errors.items()}
            counts[name][side] = {prop: cell for prop, cell in cells.items() if cell}
    return counts


def count_all() -> dict:
    """The whole content of accuracy.json."""
    glasses, read, numbers = measured_isokoms()
    result = {}
    for model in models_of("viscosity"):
        own_melts = np.isin(numbers, MADE_FROM.get(model["key"], ()))
        errors = np.where(own_melts, np.nan, VISCOSITY_KINDS[model["kind"]](model, glasses, LEVELS) - read)
        by_prop = {"4": errors[0], "7.6": errors[1], "13": errors[2], "range": errors[0] - errors[1]}
        result[model["key"]] = count_model(model, glasses, by_prop)
    glasses, alpha = measured_expansion()
    for model in models_of("expansion"):
        errors = EXPANSION_KINDS[model["kind"]](model, glasses) - alpha
        result[model["key"]] = count_model(model, glasses, {"alpha": errors})
    return {"citation": CITATION, "units": "K; 1e-7/K for alpha", "models": result}


def written(counts: dict) -> str:
    """The file's text: one line a cell, so that a change shows."""
    text = json.dumps(counts, indent=1, ensure_ascii=False)
    return re.sub(r"\{\s+(\"n\"[^}]*?)\s+\}", lambda cell: "{" + " ".join(cell[1].split()) + "}", text) + "\n"


if __name__ == "__main__":
    target = DATA / "accuracy.json"
    target.write_text(written(count_all()), encoding="utf-8")
    print(f"wrote {target}")
