"""Measured glasses nearest to one for which no viscosity model may answer: lead and borosilicate."""

import csv
from functools import cache
from pathlib import Path

from server.physics.composition import OXIDES

FILE = Path(__file__).with_name("data") / "neighbours.csv"
SHOWN = 2
FEW_WT = 1.0  # wt% of PbO or B2O3 from which a glass is of their kind
TOLD_WT = 1.0  # a difference in wt% that is worth telling
POINTS = (("softening_c", "softens", "°C"), ("working_c", "works to", "°C"), ("annealing_c", "annealing point", "°C"), ("alpha_1e7_per_k", "expansion", "× 10⁻⁷/K"))


@cache
def measured() -> tuple[dict, ...]:
    """The glasses of neighbours.csv with their amounts in wt% under "wt"."""
    with FILE.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return tuple({**row, "wt": {name: float(row[name]) for name in OXIDES if row.get(name)}} for row in rows)


def nearest(made: dict) -> list[dict]:
    """The nearest measured glasses of a report without a curve, nearest first: {name, differs, says, source, known}. Else none."""
    wt = made["wt"]
    is_theirs = max(wt.get("PbO", 0.0), wt.get("B2O3", 0.0)) >= FEW_WT
    if made["points"] is not None or not is_theirs or not any(note["code"] == "no_viscosity_model" for note in made["notes"]):
        return []
    ranked = sorted(measured(), key=lambda row: _distance(wt, row["wt"]))[:SHOWN]
    return [{"name": r["name"], "differs": _differs(wt, r["wt"]), "says": _says(r), "source": r["source"], "known": r["known"]} for r in ranked]


def _distance(one: dict[str, float], other: dict[str, float]) -> float:
    """Root of the summed squares of the differences in wt%."""
    return sum((one.get(name, 0.0) - other.get(name, 0.0)) ** 2 for name in OXIDES) ** 0.5


def _differs(one: dict[str, float], other: dict[str, float]) -> list[tuple[str, float, float]]:
    """(oxide, wt% here, wt% there) of the oxides that differ, the most first."""
    gaps = [(name, one.get(name, 0.0), other.get(name, 0.0)) for name in OXIDES]
    return sorted((gap for gap in gaps if abs(gap[1] - gap[2]) >= TOLD_WT), key=lambda gap: -abs(gap[1] - gap[2]))[:4]


def _says(row: dict) -> str:
    """The measured points in words."""
    return ", ".join(f"{words} {row[name]} {unit}" for name, words, unit in POINTS if row[name])
