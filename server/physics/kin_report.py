"""One glass's kin as plain data and plain words: what it is consistent with, by which rule, near misses, marks of recycling."""

import numpy as np

from server.physics.composition import OXIDE_OF_ELEMENT, wt_pct_from_ppm
from server.physics.kin import CONSISTENT, NEAR, NOT, RULES, UNKNOWN, VERDICTS, Asked, Judged, analyses, kin, quantity

_FIGURES = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
RECYCLING = RULES["recycling"]


def figure(value: float) -> str:
    """A number as one would print it beside a limit: two decimals under 2, else one."""
    return f"{value:.{2 if abs(value) < 2 else 1}f}".replace("-", "−")


def name_of(condition: dict) -> str:
    """What a condition speaks of: 'Na₂O + K₂O', 'CaO / K₂O', 'Na₂O less K₂O'."""
    name = " + ".join(condition["of"])
    if "minus" in condition:
        name += " less " + " + ".join(condition["minus"])
    if "over" in condition:
        name += " / " + " + ".join(condition["over"])
    return name.translate(_FIGURES)


def limits_of(condition: dict) -> str:
    """A condition's limits: 'at most 1.5', 'at least 10', '7.5 to 11.5'."""
    if "min" in condition and "max" in condition:
        return f"{condition['min']:g} to {condition['max']:g}"
    return f"at most {condition['max']:g}" if "max" in condition else f"at least {condition['min']:g}"


def unit_of(condition: dict) -> str:
    return "" if "over" in condition else " wt%"


def rule_words(kind: dict) -> str:
    """A kind's whole rule in words, for the page of the rules."""
    return "; ".join(f"{name_of(c)} {limits_of(c)}{unit_of(c)}{' of the whole' if c.get('basis') == 'whole' else ''}" for c in kind["when"])


def _value(asked: Asked, i: int) -> str:
    low, high = asked.low[i], asked.high[i]
    return figure(low) if high - low < 0.005 else f"under {figure(high)}" if low == 0 else f"{figure(low)} to {figure(high)}"


def _held(judged: Judged, i: int) -> str:
    """The conditions that decided, with their numbers; neighbours with the same limits are said together."""
    said: list[tuple[str, list[str]]] = []
    for asked in judged.asked:
        if asked.condition.get("decides", True):
            limits = limits_of(asked.condition) + unit_of(asked.condition)
            words = f"{name_of(asked.condition)} {_value(asked, i)}"
            if said and said[-1][0] == limits:
                said[-1][1].append(words)
            else:
                said.append((limits, [words]))
    return "; ".join(f"{' and '.join(words)}, {'both ' if len(words) == 2 else ''}{limits}" for limits, words in said)


def _missed(judged: Judged, i: int, verdict: int) -> str:
    """The conditions of that verdict: the number, and what the rule wants."""
    missed = [a for a in judged.asked if a.verdict[i] == verdict]
    return "; ".join(f"{name_of(a.condition)} {_value(a, i)}, wants {limits_of(a.condition)}{unit_of(a.condition)}" for a in missed)


def _lacking(judged: Judged, i: int) -> str:
    """What was not reported, or not closely enough, to judge by: 'TiO₂, MnO'. A ratio or difference only where nothing plainer is open."""
    open_ones = [a.condition for a in judged.asked if a.verdict[i] == UNKNOWN]
    plain = [condition for condition in open_ones if not {"over", "minus"} & set(condition)]
    return ", ".join(dict.fromkeys(name_of(condition) for condition in plain or open_ones))


def _line(judged: Judged, i: int) -> dict:
    """One kind's line for glass i: verdict, the rule that decided in words (or the oxides it lacks), and what holds only barely."""
    verdict, kind = int(judged.verdict[i]), judged.kind
    own = max(int(a.verdict[i]) for a in judged.asked)
    if own == CONSISTENT:
        rule = _held(judged, i)
    else:
        rule = _lacking(judged, i) if own == UNKNOWN else _missed(judged, i, own)
    barely = [name_of(a.condition) for a in judged.asked if a.barely[i]] if own == CONSISTENT else []
    return {
        "key": kind["key"], "label": kind["label"], "within": kind.get("within"), "verdict": VERDICTS[verdict], "rule": rule,
        "barely": barely, "cite": kind["cite"], "citation": kind["citation"], "evidence": kind["evidence"],
    }


def _within_twice(asked: Asked, i: int) -> bool:
    """Whether a quantity lies within a factor of two of what its condition wants."""
    condition = asked.condition
    return 2 * asked.high[i] >= condition.get("min", 0.0) and asked.low[i] <= 2 * condition.get("max", np.inf)


def _nearest(found: list[Judged], i: int) -> list[str]:
    """Keys of at most two families that miss by less than a factor of two: fewest broken conditions first, then least, in margins."""
    families = [j for j in found if "within" not in j.kind and j.verdict[i] == NOT and all(_within_twice(a, i) for a in j.asked)]
    miss = {j.kind["key"]: (sum(a.verdict[i] == NOT for a in j.asked), sum(a.outside[i] for a in j.asked)) for j in families}
    return sorted(miss, key=miss.get)[:2]


def _phosphate(low: float, high: float) -> dict | None:
    """What the phosphate speaks for; None where it was not reported or lies beyond the bands."""
    rule = RULES["phosphate"]
    for band in rule["bands"]:
        if high <= band["max"]:
            return {"value": figure(low), "label": band["label"], "cite": rule["cite"]}
    return None


def _recycling(wt: np.ndarray, most: np.ndarray) -> dict:
    """Marks of recycling of one glass: mixed decolourants, raised metals in mg/kg, those above the band, those not reported."""
    given = analyses(wt[None, :], most[None, :])
    mixed, raised = RECYCLING["mixed"], RECYCLING["raised"]
    both = [quantity(given, {"of": [name], "basis": "whole"})[0][0] for name in mixed["of"]]
    found = {"mixed": None, "raised": [], "above": [], "not_reported": []}
    if min(both) >= mixed["min_wt"]:
        found["mixed"] = [f"{name.translate(_FIGURES)} {figure(value)}" for name, value in zip(mixed["of"], both, strict=True)]
    for element in raised["elements"]:
        low, high = (x[0] for x in quantity(given, {"of": [OXIDE_OF_ELEMENT[element]], "basis": "whole"}))
        mg_kg = low / wt_pct_from_ppm(element, 1.0)
        if np.isinf(high):
            found["not_reported"].append(element)
        elif mg_kg >= raised["from_mg_kg"]:
            found["raised" if mg_kg <= raised["to_mg_kg"] else "above"].append(f"{element} {mg_kg:.0f}")
    return found


def kin_report(wt_pct: np.ndarray, most_pct: np.ndarray) -> dict:
    """What one glass, wt% and most by OXIDES of shape (oxides,), is consistent with; every kind in the order of the rules.

    lines: {key, label, within, verdict, rule, barely, cite, citation, evidence}; nearest: keys of families when none fits.
    """
    found = kin(wt_pct[None, :], most_pct[None, :])
    lines = [_line(judged, 0) for judged in found]
    families = [j for j in found if "within" not in j.kind]
    given = analyses(wt_pct[None, :], most_pct[None, :])
    fits = {line["key"] for line in lines if line["verdict"] in (VERDICTS[CONSISTENT], VERDICTS[NEAR])}
    low, high = (x[0] for x in quantity(given, {"of": ["P2O5"], "basis": "whole"}))
    return {
        "lines": lines,
        "nearest": _nearest(found, 0) if all(j.verdict[0] == NOT for j in families) else [],
        "phosphate": _phosphate(low, high) if fits & set(RULES["phosphate"]["within"]) else None,
        "recycling": _recycling(wt_pct, most_pct) if RECYCLING["within"] in fits else None,
        "brought_to_100": bool(given.brought_to_100[0]),
    }
