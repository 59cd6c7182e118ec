"""Ask every model, keep who may answer, and combine: inverse-variance weights and a between-model term, calibrated.

The rule in words stands in data/rules.json under 'combination'.
"""

from dataclasses import dataclass, fields, replace

import numpy as np

from server.physics.accuracy import combined_table, u_table
from server.physics.bounds import EPS, Glasses, edge, first_broken
from server.physics.table import table

ANSWERED, EXTRAPOLATED, STOOD_ASIDE, REFUSED = range(4)
STATES = ("answered", "extrapolated", "stood_aside", "refused")


@dataclass
class Verdict:
    """What one model said of n glasses. state, broken, ignored_wt, edge and used are (n,); values and u are (levels, n).

    used: whether the combined answer is made of it, which combine() knows.
    """

    model: dict
    state: np.ndarray
    broken: np.ndarray
    ignored_wt: np.ndarray
    edge: np.ndarray
    values: np.ndarray
    u: np.ndarray
    used: np.ndarray | bool = False


@dataclass
class Combined:
    """Weighted answer of the models per level (levels, n); state (n,) is the best state among them.

    weights (levels, n) are each model's share. spread_u is what the models' records and their disagreement give; u, u95 and bias
    are what such answers were worth on
    measured glasses of the family (data/accuracy.json, 'combined').
    """

    state: np.ndarray
    weights: list[np.ndarray]
    value: np.ndarray
    spread_u: np.ndarray
    u: np.ndarray
    u95: np.ndarray
    bias: np.ndarray
    verdicts: list[Verdict]

    def at(self, rows: np.ndarray) -> "Combined":
        """The same for the glasses of an index."""
        return Combined(*(_at(getattr(self, f.name), rows) for f in fields(self)))


def _at(part, rows: np.ndarray):
    """The glasses of an index in an array whose last axis they are, in a verdict, or in a list of these."""
    if isinstance(part, list):
        return [_at(x, rows) for x in part]
    if isinstance(part, Verdict):
        return replace(part, **{f.name: _at(getattr(part, f.name), rows) for f in fields(part) if f.name != "model"})
    return part[..., rows]


def ignored_wt(model: dict, glasses: Glasses) -> np.ndarray:
    """wt% of the base glass that the model has no coefficient for, shape (n,)."""
    return 100.0 - glasses.of(model["reads"])


def first_passed(model: dict, glasses: Glasses, which: str, far: np.ndarray | None) -> np.ndarray:
    """Index of the first of the model's bounds or reach that does not hold, -1 where all hold; shape (n,).

    A learned model has one limit more, the distance `far` to its measured glasses: it counts as the bound after the last.
    """
    broken = first_broken(glasses, model[which])
    if far is None:
        return broken
    return np.where((broken == -1) & ~(far <= model["domain"][which]), len(model[which]), broken)


def may_answer(model: dict, glasses: Glasses, open_to: np.ndarray, far: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(state, index of the first broken bound or reach, ignored wt%) of a model for each glass.

    open_to is False where the analysis itself is refused; far is the distance of a learned model.
    """
    rules = table("rules")["ignored"]
    ignored = ignored_wt(model, glasses)
    broken = first_passed(model, glasses, "bounds", far)
    state = np.where(broken == -1, ANSWERED, STOOD_ASIDE)
    if model["reach"] is not None:
        out_of_reach = first_passed(model, glasses, "reach", far)
        further = np.where(broken == -1, ANSWERED, EXTRAPOLATED)
        state = np.where(out_of_reach == -1, further, REFUSED)
        broken = np.where(state == REFUSED, out_of_reach, broken)
    state = np.where((state == ANSWERED) & (ignored > rules["note_above_wt"] + EPS), EXTRAPOLATED, state)
    state = np.where((state <= EXTRAPOLATED) & (ignored > rules["refuse_above_wt"] + EPS), REFUSED, state)
    return np.where(open_to, state, REFUSED), broken, ignored


def edge_of(model: dict, glasses: Glasses, ignored: np.ndarray, far: np.ndarray | None) -> np.ndarray:
    """How far a glass is from the middle of what a model knows, shape (n,): 0 inside, 1 well outside; the ± goes from one count to the other.

    The furthest of its bounds, of what it ignores, and of a learned model's distance. Widths: data/rules.json under 'edge'.
    """
    rule, note = table("rules")["edge"], table("rules")["ignored"]["note_above_wt"]
    parts = [edge(glasses, bound, rule["bound_share"]) for bound in model["bounds"]]
    parts.append(np.clip((ignored - note) / rule["ignored_wt"] + 0.5, 0.0, 1.0))
    if far is not None:
        start, end = (share * model["domain"]["bounds"] for share in rule["distance_shares"])
        parts.append(np.clip((far - start) / (end - start), 0.0, 1.0))
    return np.max(parts, axis=0)


def between(counted: np.ndarray, edge_share: np.ndarray, shares: np.ndarray) -> np.ndarray:
    """A count by (inside or outside, family) for each glass (n,), from the one to the other by its edge; the one there is where the other is not."""
    inside, outside = shares @ counted[0], shares @ counted[1]
    inside, outside = np.where(np.isfinite(inside), inside, outside), np.where(np.isfinite(outside), outside, inside)
    return inside + edge_share * (outside - inside)


def ask(model: dict, glasses: Glasses, shares: np.ndarray, open_to: np.ndarray, props: tuple[str, ...], said: tuple) -> Verdict:
    """One model's verdict on what it said: (values (levels, n), distance or None). A value that is no number refuses.

    shares (n, families) is how far each glass counts with each family.
    """
    values, far = said
    state, broken, ignored = may_answer(model, glasses, open_to, far)
    near_edge = edge_of(model, glasses, ignored, far)
    u = np.array([between(u_table(model["key"], p), near_edge, shares) for p in props])
    sound = np.isfinite(values).all(axis=0) & np.isfinite(u).all(axis=0)
    state = np.where((state <= EXTRAPOLATED) & ~sound, REFUSED, state)
    return Verdict(model, state, broken, ignored, near_edge, values, u)


def combine(verdicts: list[Verdict], shares: np.ndarray, props: tuple[str, ...]) -> Combined:
    """Models inside their bounds where there is one, else those that may be carried further: learned ones where one can."""
    states = np.array([v.state for v in verdicts])
    best = states.min(axis=0)
    state = np.where(best <= EXTRAPOLATED, best, REFUSED)
    used = (states == best) & (best <= EXTRAPOLATED)
    learned = np.array([v.model["kind"] == "learned" for v in verdicts])[:, None]
    used &= (best != EXTRAPOLATED) | learned | ~(used & learned).any(axis=0)
    weights = [np.where(part, 1.0 / v.u**2, 0.0) for v, part in zip(verdicts, used, strict=True)]
    total = sum(weights)
    total = np.where(total > 0, total, np.nan)

    def mean(values: list[np.ndarray]) -> np.ndarray:
        parts = [np.where(w > 0, w * x, 0.0) for w, x in zip(weights, values, strict=True)]
        return sum(parts) / total

    value = mean([v.values for v in verdicts])
    spread = mean([(v.values - value) ** 2 for v in verdicts])
    spread_u = np.sqrt(mean([v.u**2 for v in verdicts]) + spread)
    u, u95, bias = (calibrated(state, shares, props, what) for what in ("c68", "c95", "bias"))
    parts = [np.where(w > 0, w / total, 0.0) for w in weights]
    told = [replace(v, used=part) for v, part in zip(verdicts, used, strict=True)]
    return Combined(state, parts, value, spread_u, u * spread_u, u95 * spread_u, bias, told)


def furthest_apart(combined: Combined, level: int) -> tuple[np.ndarray, np.ndarray]:
    """(gap, its u) (n,) of the two combined models that lie furthest beyond their errors in quadrature; 0 where none do."""
    gap, doubt, worst = (np.zeros(len(combined.state)) for _ in range(3))
    parts = list(zip(combined.verdicts, combined.weights, strict=True))
    for i, (one, weight) in enumerate(parts):
        for other, other_weight in parts[:i]:
            both = (weight[level] > 0) & (other_weight[level] > 0)
            size, u = np.abs(one.values[level] - other.values[level]), np.hypot(one.u[level], other.u[level])
            ratio = np.where(both, size / np.where(both, u, 1.0), 0.0)
            further = (ratio > 1.0) & (ratio > worst)
            gap, doubt, worst = np.where(further, size, gap), np.where(further, u, doubt), np.where(further, ratio, worst)
    return gap, doubt


def calibrated(state: np.ndarray, shares: np.ndarray, props: tuple[str, ...], what: str) -> np.ndarray:
    """What the combined answers showed on measured glasses, shape (props, n); NaN where there is no answer."""
    return np.where(state <= EXTRAPOLATED, np.array([by_family(combined_table(p, what), state, shares) for p in props]), np.nan)


def by_family(counted: np.ndarray, state: np.ndarray, shares: np.ndarray) -> np.ndarray:
    """A count by (answered or not, family) for each glass, shape (n,): the mean over its families by its shares (n, families)."""
    return np.where(state == ANSWERED, shares @ counted[0], shares @ counted[1])
