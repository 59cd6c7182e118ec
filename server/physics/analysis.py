"""What the analysis itself is unsure of, and what that does to an estimate."""

from collections.abc import Callable

import numpy as np

from server.physics.bounds import EPS, Glasses
from server.physics.combine import Combined, Verdict
from server.physics.composition import INDEX, base_glass, mol_pct_from_wt_pct
from server.physics.evaluate import answer
from server.physics.learned import coordinates, isokom_shifts, slopes
from server.physics.table import table


def methods() -> dict[str, dict]:
    """Method key -> its rule (data/analysis.json)."""
    return {method["key"]: method for method in table("analysis")["methods"]}


def default_sd(wt_pct: np.ndarray, method: str) -> np.ndarray:
    """One standard deviation in wt% of each reported oxide, shape as given (n, oxides); 0 where nothing was reported."""
    rule = methods()[method]
    sd = np.hypot(rule["relative"] * wt_pct, rule["least_wt"])
    for name, blind_wt in rule.get("blind", {}).items():
        sd[..., INDEX[name]] = np.maximum(sd[..., INDEX[name]], blind_wt)
    return np.where(wt_pct > 0, sd, 0.0)


def total_sd(wt_pct: np.ndarray) -> np.ndarray:
    """One standard deviation in wt% of each oxide for a total that is not 100, shape as given (n, oxides); 0 where it is near.

    Rule and reason: data/rules.json under 'totals'.
    """
    rule = table("rules")["totals"]
    total = wt_pct.sum(axis=-1, keepdims=True)
    amiss = np.abs(100.0 - total) - rule["beyond_wt"]
    amiss = np.where(amiss > EPS, amiss, 0.0)
    share = wt_pct / np.where(total > 0, total, 1.0)
    return rule["on_one_oxide"] * amiss * np.sqrt(share * (1.0 - share))


def propagated(combined: Combined, wt_pct: np.ndarray, sd: np.ndarray, levels: tuple[float, ...]) -> np.ndarray:
    """Standard uncertainty that sd (n, oxides) in wt% leaves in the combined answers, shape (answers, n).

    Each oxide is moved by its sd alone, brought to 100 again, and asked of the models with the weights they had (learnt ones
    along their slopes); the moves are added as squares. For viscosity a last row holds the width from softening to working.
    """
    answers = len(combined.value)
    squares = np.zeros((answers + (answers > 1), len(wt_pct)))
    rows = np.flatnonzero(sd.any(axis=1))
    squares[:, rows] = _squares(combined.at(rows), wt_pct[rows], sd[rows], levels)
    return np.sqrt(squares)


def _squares(combined: Combined, wt_pct: np.ndarray, sd: np.ndarray, levels: tuple[float, ...]) -> np.ndarray:
    """The moves of every oxide, squared and summed, shape (answers, n), for rows that have an sd."""
    start = _glasses(wt_pct)
    asked = [(v, w, _steps(v, start, levels)) for v, w in zip(combined.verdicts, combined.weights, strict=True) if (w > 0).any()]
    answers = len(combined.value)
    squares = np.zeros((answers + (answers > 1), len(wt_pct)))
    for i in np.flatnonzero(sd.any(axis=0)):
        moved = wt_pct.copy()
        moved[:, i] += sd[:, i]
        glasses = _glasses(moved)
        shift = sum((_taken(weight, steps(glasses)) for _v, weight, steps in asked), np.zeros((answers, len(wt_pct))))
        squares[:answers] += shift**2
        if answers > 1:
            squares[answers] += (shift[0] - shift[1]) ** 2
    return squares


def _glasses(wt_pct: np.ndarray) -> Glasses:
    base = base_glass(wt_pct)
    return Glasses(base, mol_pct_from_wt_pct(base))


def _taken(weight: np.ndarray, step: np.ndarray) -> np.ndarray:
    """A model's part in the shift of the combined answer; one that falls silent there adds nothing."""
    return np.where((weight > 0) & np.isfinite(step), weight * step, 0.0)


def _steps(verdict: Verdict, start: Glasses, levels: tuple[float, ...]) -> Callable[[Glasses], np.ndarray]:
    """How far a model's answers (levels, n) go from the start to other glasses."""
    model = verdict.model
    if model["kind"] != "learned":
        return lambda moved: answer(model, moved, levels)[0] - verdict.values
    x = coordinates(model, start)
    slope = slopes(model, x)

    def along(moved: Glasses) -> np.ndarray:
        found = (slope * (coordinates(model, moved) - x).T).sum(axis=1)
        return isokom_shifts(model, found, levels) if model["quantity"] == "viscosity" else found

    return along
