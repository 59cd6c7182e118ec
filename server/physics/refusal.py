"""Why no model of a quantity may answer, in one sentence: the limit that all of them share comes first. For many glasses at once."""

from functools import cache

import numpy as np

from server.physics.bounds import EPS, Glasses, figures, measured, subject
from server.physics.composition import OXIDES
from server.physics.report import sentence, why
from server.physics.table import models_of


@cache
def shared_limits(quantity: str, which: str) -> tuple[tuple[str, dict, float], ...]:
    """("below" or "above", bound, loosest limit) of what every model limits; which is "all", or "wide": those that may be carried further."""
    asked = [m for m in models_of(quantity) if which == "all" or m["reach"]]
    found: dict[tuple, list[float]] = {}
    for model in asked:
        for bound in model["reach"] or model["bounds"]:
            for side, end in (("below", "min"), ("above", "max")):
                if end in bound:
                    found.setdefault((side, tuple(bound["of"]), tuple(bound.get("minus") or ()), bound["unit"]), []).append(bound[end])
    shared = {key: limits for key, limits in found.items() if len(limits) == len(asked)}
    loosest = {"below": min, "above": max}
    return tuple((side, {"of": [*of], "minus": [*minus], "unit": unit}, loosest[side](limits)) for (side, of, minus, unit), limits in shared.items())


def shared_reasons(glasses: Glasses, quantity: str, where: np.ndarray) -> list[str]:
    """A clause a glass where `where` (n,) holds: the limits that every model has and the glass passes; empty where there are none."""
    parts: list[list[str]] = [[] for _ in where]
    for which in ("all", "wide"):
        still = where & np.array([not part for part in parts], dtype=bool)
        for side, bound, limit in shared_limits(quantity, which):
            value = measured(glasses, bound)
            passed = value < limit - EPS if side == "below" else value > limit + EPS
            words = {"what": subject(bound), "unit": bound["unit"]}
            for i in np.flatnonzero(still & passed).tolist():
                told, edge = figures(float(value[i]), limit)
                parts[i].append(sentence(f"{side}_{which}", {**words, "value": told, "limit": edge}))
    return ["; ".join(part) for part in parts]


def why_none(made: dict, quantity: str) -> str:
    """The clause for one report: the shared limits, else what each model that may be carried further says."""
    wt, mol = (np.array([[made[unit].get(name, 0.0) for name in OXIDES]]) for unit in ("wt", "mol"))
    (shared,) = shared_reasons(Glasses(wt, mol), quantity, np.array([True]))
    if shared:
        return shared
    wide = {m["key"]: m for m in models_of(quantity) if m["reach"]}
    said: dict[str, list[str]] = {}
    for verdict in made["verdicts"]:
        if verdict["model"] in wide:
            model = wide[verdict["model"]]
            said.setdefault(why(verdict, model, made["wt"], made["mol"], False), []).append(model["name"])
    return "; ".join(f"{', '.join(names)}: {reason}" for reason, names in said.items() if reason)
