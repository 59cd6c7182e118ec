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


def edge(glasses: Glasses, bound: dict, width_share: float) -> np.ndarray:
    """How far a glass has come towards a bound and beyond, shape (n,): 0 well inside, 0.5 on the limit, 1 well outside.

    The way from 0 to 1 is width_share of the span between the limits, or of the one limit there is.
    """
    value, low, high = measured(glasses, bound), bound.get("min"), bound.get("max")
    width = width_share * (abs(low) if high is None else high - (low or 0.0))
    if not width > 0:
        return np.where(holds(glasses, bound), 0.0, 1.0)
    beyond = np.maximum(-np.inf if low is None else low - value, -np.inf if high is None else value - high)
    return np.clip(beyond / width + 0.5, 0.0, 1.0)


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


def figures(value: float, limit: float) -> tuple[str, str]:
    """A value and the limit that it passes, as printed: as many decimals as show on which side the value lies."""
    for digits in range(1, 8):
        told = f"{value:.{digits}f}"
        if float(told) != limit and (float(told) > limit) == (value > limit):
            break
    return told.replace("-", "−"), f"{limit:g}".replace("-", "−")


def subject(bound: dict) -> str:
    """What a bound speaks of: 'CaO + MgO', 'Na2O less Al2O3'."""
    less = bound.get("minus")
    return " + ".join(bound["of"]) + (f" less {' + '.join(less)}" if less else "")


def passed(bound: dict, wt: dict, mol: dict) -> tuple[str, dict] | None:
    """("below" or "above", the words and figures of the sentence) where a bound does not hold for one glass, else None.

    wt and mol are base glass amounts by oxide; an oxide that is not named counts as 0.
    """
    amounts = wt if bound["unit"] == "wt" else mol
    value = sum(amounts.get(name, 0.0) for name in bound["of"]) - sum(amounts.get(name, 0.0) for name in bound.get("minus") or [])
    if "min" in bound and value < bound["min"] - EPS:
        side, limit = "below", bound["min"]
    elif "max" in bound and value > bound["max"] + EPS:
        side, limit = "above", bound["max"]
    else:
        return None
    told, edge = figures(value, limit)
    return side, {"what": subject(bound), "value": told, "limit": edge, "unit": bound["unit"]}
