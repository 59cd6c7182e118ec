"""Ask every model, keep who may answer, and combine: inverse-variance weights, no credit for averaging.

The rule in words stands in data/rules.json under 'combination'.
"""

from dataclasses import dataclass

import numpy as np

from server.physics.accuracy import u_table
from server.physics.bounds import EPS, Glasses, first_broken
from server.physics.table import table

ANSWERED, EXTRAPOLATED, STOOD_ASIDE, REFUSED = range(4)
STATES = ("answered", "extrapolated", "stood_aside", "refused")


@dataclass
class Verdict:
    """What one model said of n glasses. state and broken are (n,); values and u are (levels, n)."""

    model: dict
    state: np.ndarray
    broken: np.ndarray
    ignored_wt: np.ndarray
    values: np.ndarray
    u: np.ndarray
    u95: np.ndarray
    bias: np.ndarray


@dataclass
class Combined:
    """Weighted answer of the models per level (levels, n), and the weighted bias that they showed on measured glasses.

    state (n,) is the best state among them.
    """

    state: np.ndarray
    value: np.ndarray
    u: np.ndarray
    u95: np.ndarray
    bias: np.ndarray
    verdicts: list[Verdict]


def ignored_wt(model: dict, glasses: Glasses) -> np.ndarray:
    """wt% of the base glass that the model has no coefficient for, shape (n,)."""
    return 100.0 - glasses.of(model["reads"])


def may_answer(model: dict, glasses: Glasses, open_to: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(state, index of the first broken bound or reach, ignored wt%) of a model for each glass.

    open_to is False where the analysis itself is refused.
    """
    rules = table("rules")["ignored"]
    ignored = ignored_wt(model, glasses)
    broken = first_broken(glasses, model["bounds"])
    state = np.where(broken == -1, ANSWERED, STOOD_ASIDE)
    if model["reach"] is not None:
        out_of_reach = first_broken(glasses, model["reach"])
        further = np.where(out_of_reach == -1, EXTRAPOLATED, REFUSED)
        state = np.where(broken == -1, state, further)
        broken = np.where(state == REFUSED, out_of_reach, broken)
    state = np.where((state == ANSWERED) & (ignored > rules["note_above_wt"] + EPS), EXTRAPOLATED, state)
    state = np.where((state <= EXTRAPOLATED) & (ignored > rules["refuse_above_wt"] + EPS), REFUSED, state)
    return np.where(open_to, state, REFUSED), broken, ignored


def ask(model: dict, glasses: Glasses, family: np.ndarray, open_to: np.ndarray, props: tuple[str, ...], compute) -> Verdict:
    """One model's verdict. `compute` returns its values (levels, n); a value that is no number refuses."""
    state, broken, ignored = may_answer(model, glasses, open_to)
    values = compute()
    side = np.where(broken == -1, 0, 1)
    u, u95, bias = (np.array([u_table(model["key"], p, what)[side, family] for p in props]) for what in ("u", "u95", "bias"))
    sound = np.isfinite(values).all(axis=0) & np.isfinite(u).all(axis=0)
    state = np.where((state <= EXTRAPOLATED) & ~sound, REFUSED, state)
    return Verdict(model, state, broken, ignored, values, u, u95, bias)


def combine(verdicts: list[Verdict]) -> Combined:
    """Models inside their bounds where there is one, else those that may be carried further."""
    states = np.array([v.state for v in verdicts])
    best = states.min(axis=0)
    state = np.where(best <= EXTRAPOLATED, best, REFUSED)
    used = (states == best) & (best <= EXTRAPOLATED)
    weights = [np.where(part, 1.0 / v.u**2, 0.0) for v, part in zip(verdicts, used, strict=True)]
    total = sum(weights)
    total = np.where(total > 0, total, np.nan)

    def mean(values: list[np.ndarray]) -> np.ndarray:
        parts = [np.where(w > 0, w * x, 0.0) for w, x in zip(weights, values, strict=True)]
        return sum(parts) / total

    value = mean([v.values for v in verdicts])
    spread = mean([(v.values - value) ** 2 for v in verdicts])
    u = np.sqrt(mean([v.u**2 for v in verdicts]) + spread)
    u95 = np.sqrt(mean([v.u95**2 for v in verdicts]) + 4 * spread)
    return Combined(state, value, u, u95, mean([v.bias for v in verdicts]), verdicts)
