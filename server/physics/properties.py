"""Properties beyond viscosity and expansion: which models may answer, what they say together, and where they disagree.

Vectorised over n glasses. Quantities, units and rules: data/quantities.json; one file a model: data/properties/; what each did
on the open measurements: data/property_accuracy.json, written by `python -m tests.property_accuracy`.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from server.physics.bounds import EPS, Glasses, family_shares, first_broken
from server.physics.combine import ANSWERED, EXTRAPOLATED, REFUSED, STATES, by_family, may_answer
from server.physics.composition import OXIDES
from server.physics.learned import outputs
from server.physics.property_kinds import value
from server.physics.table import property_models, table

RULES = table("quantities")["rules"]
QUANTITIES = {quantity["key"]: quantity for quantity in table("quantities")["quantities"]}
FAMILIES = [*(family["key"] for family in table("families")["families"]), "any"]
SIDES = ("inside", "outside")


@dataclass
class Said:
    """One model on n glasses. value, u, u95, glasses_counted (0 where the stated error stands) and lacking (the needed
    quantity that was refused, else -1) are (n,); u is what held 68 of 100 measured glasses, or one stated standard error."""

    model: dict
    state: np.ndarray
    broken: np.ndarray
    ignored_wt: np.ndarray
    lacking: np.ndarray
    value: np.ndarray
    u: np.ndarray
    u95: np.ndarray
    glasses_counted: np.ndarray


@dataclass
class Property:
    """One quantity of n glasses in its unit, NaN where refused. used (models, n) tells who was combined.

    apart (n,) is how far the two models that disagree most beyond their errors lie from each other, NaN where none do; pair
    (2, n) are their places among the models.
    """

    quantity: dict
    state: np.ndarray
    value: np.ndarray
    u: np.ndarray
    u95: np.ndarray
    said: list[Said]
    used: np.ndarray
    apart: np.ndarray
    pair: np.ndarray


def answers(files: tuple[dict, ...], quantity: str) -> list[dict]:
    """The models that answer for a quantity, each as one flat table: the file's own words, then those of its answer."""
    flat = [{**file, **file["answers"][quantity], "quantity": quantity} for file in files if quantity in file["answers"]]
    return [{**model, "reads": list(OXIDES)} if model["reads"] == "all" else model for model in flat]


def estimate_properties(glasses: Glasses, open_to: np.ndarray, files: tuple[dict, ...] | None = None) -> dict[str, Property]:
    """Every quantity of n glasses, in the order of data/quantities.json. open_to (n,) is False where the analysis is refused.

    files: model files to ask, by default those of data/properties/.
    """
    found: dict[str, Property] = {}
    for quantity in QUANTITIES.values():
        asked = answers(property_models() if files is None else files, quantity["key"])
        if asked:
            found[quantity["key"]] = combine(quantity, [ask(model, quantity, glasses, open_to, found) for model in asked])
    return found


def ask(model: dict, quantity: dict, glasses: Glasses, open_to: np.ndarray, found: dict[str, Property]) -> Said:
    """One model's say. It is never surer than what it needs: refused or carried further where that is."""
    far = outputs(model, glasses)[1] if model["kind"] == "learned" else None
    state, broken, ignored = may_answer(model, glasses, open_to, far)
    needed = model.get("needs", [])
    lacking = np.full(len(state), -1)
    for i, need in enumerate(needed):
        lacking = np.where((lacking == -1) & (found[need].state > EXTRAPOLATED), i, lacking)
        carried = (state == ANSWERED) & (found[need].state == EXTRAPOLATED)
        state = np.where(carried, EXTRAPOLATED, state)
    says = value(model, glasses, quantity["at_c"], {need: found[need].value for need in needed})
    state = np.where((state <= EXTRAPOLATED) & ~np.isfinite(says), REFUSED, state)
    u, u95, counted = _errors(model, quantity, glasses, (state, ignored), says)
    return Said(model, state, broken, ignored, lacking, says, u, u95, counted)


def _errors(model: dict, quantity: dict, glasses: Glasses, asked: tuple, says) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(u, u95, glasses counted): the count where it speaks of such a glass, else the stated error; never below the floor.

    asked: (state, wt% that the model knows nothing of), each (n,).
    """
    state, ignored = asked
    outside = np.where(state == ANSWERED, 0, 1)
    stated = model["u_relative"] * np.abs(says) if "u_relative" in model else np.full(len(says), model["u_absolute"])
    stated = stated * np.where(outside == 1, RULES["stated_outside_factor"], 1)
    shares = family_shares(glasses, table("families")["families"], table("families")["blend"])
    u, u95, n = (by_family(counts(model, what), state, shares) for what in ("u", "u95", "n"))
    known = ignored <= table("rules")["ignored"]["note_above_wt"] + EPS
    counted = np.isfinite(u) & known & (first_broken(glasses, RULES["counted_where"]) == -1)
    floor = quantity["floor"]
    u = np.maximum(np.where(counted, u, stated), floor)
    u95 = np.maximum(np.where(counted, u95, 2 * stated), 2 * floor)
    return u, u95, np.where(counted, np.rint(n), 0).astype(int)


def counts(model: dict, what: str) -> np.ndarray:
    """n, u or u95 by (side, family), the count of all families where one has too few glasses, NaN without a count.

    A model fitted on the open measurements brings its own count of glasses kept back from the fit, under "counted".
    """
    cells = model.get("counted") or table("property_accuracy")["models"].get(model["key"], {}).get(model["quantity"], {})
    least = table("rules")["minimum_glasses"]

    def pick(side: str, family: str) -> float:
        found = (cells.get(name, {}).get(side) for name in (family, "any"))
        return next((cell[what] for cell in found if cell and cell["n"] >= least), np.nan)

    return np.array([[pick(side, family) for family in FAMILIES[:-1]] for side in SIDES], dtype=float)


def combine(quantity: dict, said: list[Said]) -> Property:
    """Models inside their bounds, else those carried further; weights 1/u², and their spread widens u."""
    states = np.array([s.state for s in said])
    best = states.min(axis=0)
    used = (states == best) & (best <= EXTRAPOLATED)
    values, u, u95 = (np.where(used, [getattr(s, name) for s in said], 0.0) for name in ("value", "u", "u95"))
    weight = np.where(used, 1.0 / np.where(used, u, 1.0) ** 2, 0.0)
    total = np.where(used.any(axis=0), weight.sum(axis=0), np.nan)
    share = weight / total
    mean = (share * values).sum(axis=0)
    spread = (share * (values - mean) ** 2).sum(axis=0)
    apart, pair = disagreement(values, u, used)
    return Property(
        quantity, np.where(best <= EXTRAPOLATED, best, REFUSED), mean, np.sqrt((share * u**2).sum(axis=0) + spread),
        np.sqrt((share * u95**2).sum(axis=0) + 4 * spread), said, used, apart, pair,
    )


def disagreement(values: np.ndarray, u: np.ndarray, used: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(apart (n,), pair (2, n)) of values and u (models, n): the two used ones furthest beyond their errors in quadrature."""
    worst, apart = np.ones(values.shape[1]), np.full(values.shape[1], np.nan)
    pair = np.full((2, values.shape[1]), -1)
    for i in range(len(values)):
        for j in range(i + 1, len(values)):
            both = used[i] & used[j]
            gap = np.abs(values[i] - values[j])
            ratio = np.where(both, gap / np.where(both, np.hypot(u[i], u[j]), 1.0), 0.0)
            further = ratio > worst
            worst, apart = np.where(further, ratio, worst), np.where(further, gap, apart)
            pair = np.where(further, np.array([[i], [j]]), pair)
    return apart, pair


def report_properties(found: dict[str, Property], i: int) -> list[dict]:
    """Glass i as plain data, one dict a quantity; value, u, u95 and apart are None where there is none."""
    return [_report(prop, i) for prop in found.values()]


def _report(prop: Property, i: int) -> dict:
    names = [s.model["name"] for s in prop.said]
    apart = None
    if np.isfinite(prop.apart[i]):
        one, other = prop.pair[:, i]
        apart = {"by": float(prop.apart[i]), "models": [names[one], names[other]], "values": [float(prop.said[k].value[i]) for k in (one, other)]}
    value_u = [float(x[i]) if np.isfinite(x[i]) else None for x in (prop.value, prop.u, prop.u95)]
    return {
        **{name: prop.quantity[name] for name in ("key", "label", "at_c", "unit", "digits")},
        "state": STATES[prop.state[i]],
        **dict(zip(("value", "u", "u95"), value_u, strict=True)),
        "apart": apart,
        "said": [_say(s, bool(prop.used[k, i]), i) for k, s in enumerate(prop.said)],
    }


def _say(s: Said, used: bool, i: int) -> dict:
    answered = int(s.state[i]) <= EXTRAPOLATED
    return {
        "model": s.model["key"],
        "name": s.model["name"],
        "state": STATES[s.state[i]],
        "used": used,
        "value": float(s.value[i]) if answered else None,
        "u": float(s.u[i]) if answered else None,
        "glasses_counted": int(s.glasses_counted[i]),
        "broken": int(s.broken[i]),
        "ignored_wt": float(s.ignored_wt[i]),
        "lacking": s.model["needs"][s.lacking[i]] if s.lacking[i] >= 0 else None,
    }


@cache
def asked_model(key: str, quantity: str) -> dict:
    """The flat table of one model of data/properties/ for one quantity."""
    return next(model for model in answers(property_models(), quantity) if model["key"] == key)
