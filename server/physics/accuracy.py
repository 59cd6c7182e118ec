"""What each model did on measured glasses, family by family: the stated ± comes from here.

The counts in data/accuracy.json are written by `python -m tests.accuracy` from the open measurements kept in tests/.
"""

from functools import cache

import numpy as np

from server.physics.table import table

SIDES = ("inside", "outside")
STATES = ("answered", "extrapolated")


@cache
def _cell(model: str, family: str, side: str, prop: str) -> dict | None:
    """The count of one family where it has enough glasses, else that of all families together."""
    sides = table("accuracy")["models"].get(model, {})
    least = table("rules")["minimum_glasses"]
    for name in (family, "any"):
        cell = sides.get(name, {}).get(side, {}).get(prop)
        if cell and cell["n"] >= least:
            return {**cell, "family": name}
    return None


def cell(model: str, family: str, side: str, prop: str) -> dict | None:
    """n, bias, median_abs, u and u95 (K, or 1e-7/K for alpha) of a model in a family, never below the floor."""
    found = _cell(model, family, side, prop)
    if found is None:
        return None
    floor = table("rules")["floors"][prop]
    return {**found, "u": max(found["u"], floor), "u95": max(found["u95"], 2 * floor)}


@cache
def combined_table(prop: str, what: str) -> np.ndarray:
    """What the combined answers showed: c68 and c95 (factors on the models' spread), bias, by (answered or extrapolated, family)."""
    families = [family["key"] for family in table("families")["families"]]
    counted = table("accuracy")["combined"]
    return np.array([[_combined(counted, f, s, prop, what) for f in families] for s in STATES])


def _combined(counted: dict, family: str, state: str, prop: str, what: str) -> float:
    """A family's own count; that of all families where it has none, or, for the bias, too few glasses to speak of one."""
    found = counted[family][state].get(prop)
    too_few = found is None or (what == "bias" and found.get("n", 0) < table("rules")["minimum_glasses"])
    return (counted["any"][state][prop] if too_few else found)[what]


def pair_factors(prop: str, distance_mol: np.ndarray) -> np.ndarray:
    """What two glasses' half-widths, added as squares, must be multiplied by to hold 68 and 95 of 100 differences: (2, n).

    Counted on pairs of measured glasses ("pairs" in data/accuracy.json): glasses much alike (few mol% between them, distance_mol
    (n,) as the root of summed squares over all oxides) share part of their errors, and long tails do not add as squares.
    """
    counted = table("accuracy")["pairs"][prop]
    return np.array([np.interp(distance_mol, counted["distance_mol"], counted[name]) for name in ("f68", "f95")])


@cache
def u_table(model: str, prop: str, what: str = "u") -> np.ndarray:
    """u (68 %), u95 (95 %) or bias by (side, family), NaN where too little was counted. Shape (2, families)."""
    families = [family["key"] for family in table("families")["families"]]
    cells = [[cell(model, family, side, prop) for family in families] for side in SIDES]
    return np.array([[np.nan if c is None else c[what] for c in row] for row in cells])
