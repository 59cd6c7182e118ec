"""What a glass is consistent with: published rules on oxides, asked of intervals so that a blank is never read as zero.

Arrays have one row per glass, shape (n,). The rules, their limits, citations and margins stand in data/kin.json.
"""

from dataclasses import dataclass

import numpy as np

from server.physics.bounds import EPS
from server.physics.composition import IN_GLASS, INDEX, OXIDES, SAME_ELEMENT
from server.physics.table import table

RULES = table("kin")
KINDS: tuple[dict, ...] = tuple(RULES["kinds"])
KIND_INDEX = {kind["key"]: i for i, kind in enumerate(KINDS)}
CONSISTENT, NEAR, UNKNOWN, NOT = range(4)
VERDICTS = ("consistent", "near miss", "cannot say", "not")
_KEPT = np.array([name not in RULES["reduced"]["left_out"] for name in OXIDES]) & IN_GLASS


@dataclass(frozen=True)
class Analyses:
    """n analyses as intervals: low and high are {basis: (n, oxides) wt%}; high is inf where nothing was reported."""

    low: dict[str, np.ndarray]
    high: dict[str, np.ndarray]
    brought_to_100: np.ndarray


@dataclass(frozen=True)
class Asked:
    """One condition asked of n glasses: the quantity's interval, its verdict, how far outside in margins (0 inside), whether barely inside."""

    condition: dict
    low: np.ndarray
    high: np.ndarray
    verdict: np.ndarray
    outside: np.ndarray
    barely: np.ndarray


@dataclass(frozen=True)
class Judged:
    """One kind asked of n glasses; the worst of its conditions, and of the kind it lies within, is its verdict."""

    kind: dict
    asked: tuple[Asked, ...]
    verdict: np.ndarray


def analyses(wt_pct: np.ndarray, most_pct: np.ndarray) -> Analyses:
    """Intervals from wt% and the most that each figure may stand for, both (n, oxides) by OXIDES, any total.

    most is the value itself where measured, the limit where "below" was published, inf where nothing was reported.
    Shares are brought to 100 on two bases, "whole" and "reduced" (without colourants); as given where SiO2 is not reported.
    """
    has_silica = wt_pct[:, INDEX["SiO2"]] > 0
    low, high = {}, {}
    for basis, kept in (("whole", IN_GLASS), ("reduced", _KEPT)):
        total = np.where(kept, wt_pct, 0.0).sum(axis=1)
        factor = np.where(has_silica, 100.0 / np.where(total > 0, total, 1.0), 1.0)[:, None]
        low[basis], high[basis] = wt_pct * factor, most_pct * factor
    return Analyses(low, high, has_silica)


def _oxide(given: Analyses, basis: str, name: str) -> tuple[np.ndarray, np.ndarray]:
    """Interval of an oxide with the other oxides of its element; unreported only where none of them was."""
    low = given.low[basis][:, INDEX[name]]
    high = given.high[basis][:, INDEX[name]]
    for other, factor in ((other, factor) for other, (kept, factor) in SAME_ELEMENT.items() if kept == name):
        other_high = given.high[basis][:, INDEX[other]] * factor
        low = low + given.low[basis][:, INDEX[other]] * factor
        both = np.where(np.isinf(high), 0.0, high) + np.where(np.isinf(other_high), 0.0, other_high)
        high = np.where(np.isinf(high) & np.isinf(other_high), np.inf, both)
    return low, high


def _sum(given: Analyses, condition: dict, names: list[str]) -> tuple[np.ndarray, np.ndarray]:
    parts = [_oxide(given, condition.get("basis", "reduced"), name) for name in names]
    low, high = sum(p[0] for p in parts), sum(p[1] for p in parts)
    return (low, np.where(np.isinf(high), low, high)) if condition.get("if_blank") == "absent" else (low, high)


def quantity(given: Analyses, condition: dict) -> tuple[np.ndarray, np.ndarray]:
    """Interval (low, high) of what a condition speaks of: a sum, a sum less another, or the ratio of two sums."""
    low, high = _sum(given, condition, condition["of"])
    if "minus" in condition:
        other_low, other_high = _sum(given, condition, condition["minus"])
        return low - other_high, high - other_low
    if "over" in condition:
        other_low, other_high = _sum(given, condition, condition["over"])
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            least = np.where(np.isinf(other_high), 0.0, low / other_high)
            most = np.where(other_low > 0, high / other_low, np.inf)
        return np.where(np.isnan(least), 0.0, least), most
    return low, high


def margin(condition: dict, limit: float) -> float:
    """How far outside a limit is still a near miss: wt%, or the ratio's own unit."""
    sizes = RULES["margin"]
    if "over" in condition:
        return sizes["ratio_relative"] * limit
    relative = sizes["silica_relative"] if condition["of"] == ["SiO2"] else sizes["relative"]
    return max(relative * limit, sizes["least_wt"])


def ask(given: Analyses, condition: dict) -> Asked:
    """Ask one condition. The limits themselves are inside; what the interval leaves open is "cannot say"."""
    low, high = quantity(given, condition)
    n = len(low)
    holds, surely_out, surely_near, barely = np.ones(n, bool), np.zeros(n, bool), np.ones(n, bool), np.zeros(n, bool)
    outside = np.zeros(n)
    for side, sign, inner, outer in (("min", 1.0, low, high), ("max", -1.0, high, low)):
        if side not in condition:
            continue
        limit = condition[side]
        room = margin(condition, limit)
        with np.errstate(invalid="ignore", over="ignore"):
            holds &= sign * (inner - limit) >= -EPS
            surely_out |= sign * (outer - limit) < -room - EPS
            surely_near &= sign * (inner - limit) >= -room - EPS
            barely |= np.abs(inner - limit) <= room + EPS
            outside = np.maximum(outside, np.where(np.isinf(outer), 0.0, -sign * (outer - limit) / room))
    verdict = np.select([surely_out, holds, surely_near], [NOT, CONSISTENT, NEAR], UNKNOWN)
    return Asked(condition, low, high, verdict, outside, barely & holds)


def kin(wt_pct: np.ndarray, most_pct: np.ndarray) -> list[Judged]:
    """Every kind asked of every glass, in the order of the rules. Shapes as in analyses()."""
    given = analyses(wt_pct, most_pct)
    found: list[Judged] = []
    for kind in KINDS:
        asked = tuple(ask(given, condition) for condition in kind["when"])
        verdicts = [a.verdict for a in asked]
        if "within" in kind:
            verdicts.append(found[KIND_INDEX[kind["within"]]].verdict)
        found.append(Judged(kind, asked, np.max(verdicts, axis=0)))
    return found
