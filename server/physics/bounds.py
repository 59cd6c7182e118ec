"""Bounds of models, families and gates: sums of oxides in wt% or mol% between limits."""

from dataclasses import dataclass

import numpy as np

from server.physics.composition import INDEX

EPS = 1e-9  # so that a printed limit itself is inside, on every machine


@dataclass(frozen=True)
class Glasses:
    """Base glass of n analyses: wt and mol are (n, oxides), each summing to 100."""

    wt: np.ndarray
    mol: np.ndarray

    def of(self, names: list[str], unit: str = "wt") -> np.ndarray:
        """Sum of the named oxides, shape (n,)."""
        values = self.wt if unit == "wt" else self.mol
        total = np.zeros(len(values))
        for name in names:
            total = total + values[:, INDEX[name]]
        return total


def measured(glasses: Glasses, bound: dict) -> np.ndarray:
    """The quantity that a bound speaks of, shape (n,)."""
    value = glasses.of(bound["of"], bound["unit"])
    return value - glasses.of(bound["minus"], bound["unit"]) if bound.get("minus") else value


def holds(glasses: Glasses, bound: dict) -> np.ndarray:
    """True where the bound holds, shape (n,). The limits themselves are inside."""
    value = measured(glasses, bound)
    ok = np.ones(len(value), dtype=bool)
    if "min" in bound:
        ok &= value >= bound["min"] - EPS
    if "max" in bound:
        ok &= value <= bound["max"] + EPS
    return ok


def first_broken(glasses: Glasses, bounds: list[dict]) -> np.ndarray:
    """Index of the first bound that does not hold, -1 where all hold; shape (n,)."""
    first = np.full(len(glasses.wt), -1)
    for i in reversed(range(len(bounds))):
        first = np.where(holds(glasses, bounds[i]), first, i)
    return first


def family_index(glasses: Glasses, families: list[dict]) -> np.ndarray:
    """Index of the first family whose rules all hold, shape (n,). The last family has no rule."""
    found = np.full(len(glasses.wt), -1)
    for i in reversed(range(len(families))):
        inside = first_broken(glasses, families[i]["when"]) == -1
        found = np.where(inside, i, found)
    return found


def family_shares(glasses: Glasses, families: list[dict], width: dict[str, float]) -> np.ndarray:
    """How far a glass counts with each family, shape (n, families), rows summing to 1: like family_index, but without its jumps.

    A limit is passed by degrees over `width` of its unit, half on each side.
    """
    shares, left = np.zeros((len(glasses.wt), len(families))), np.ones(len(glasses.wt))
    for i, family in enumerate(families):
        inside = np.ones(len(left))
        for bound in family["when"]:
            inside = inside * _degree(glasses, bound, width[bound["unit"]])
        shares[:, i] = left * inside
        left = left - shares[:, i]
    return shares


def _degree(glasses: Glasses, bound: dict, width: float) -> np.ndarray:
    value = measured(glasses, bound)
    over = np.clip((value - bound["min"]) / width + 0.5, 0, 1) if "min" in bound else 1.0
    under = np.clip((bound["max"] - value) / width + 0.5, 0, 1) if "max" in bound else 1.0
    return over * under
