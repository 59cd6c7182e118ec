"""What the analysis itself is unsure of, and what that does to an estimate."""

import numpy as np

from server.physics.bounds import Glasses
from server.physics.combine import Combined
from server.physics.composition import INDEX, base_glass, mol_pct_from_wt_pct
from server.physics.evaluate import answer
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


def propagated(combined: Combined, wt_pct: np.ndarray, sd: np.ndarray, levels: tuple[float, ...]) -> np.ndarray:
    """Standard uncertainty that sd (n, oxides) in wt% leaves in the combined answers, shape (answers, n).

    Each oxide is moved by its sd alone, brought to 100 again, and asked of the models with the weights they had; the moves
    are added as squares. For viscosity a last row holds the width from softening to working.
    """
    squares = 0.0
    for i in np.flatnonzero(sd.any(axis=0)):
        moved = wt_pct.copy()
        moved[:, i] += sd[:, i]
        shift = _shift(combined, moved, levels)
        if len(shift) > 1:
            shift = np.vstack([shift, shift[0] - shift[1]])
        squares = squares + shift**2
    return np.sqrt(squares + np.zeros((len(combined.value) + (len(combined.value) > 1), len(wt_pct))))


def _shift(combined: Combined, moved: np.ndarray, levels: tuple[float, ...]) -> np.ndarray:
    """How far the combined answer goes with the analysis, shape (answers, n). A model that falls silent there adds nothing."""
    base = base_glass(moved)
    glasses = Glasses(base, mol_pct_from_wt_pct(base))
    total = np.zeros_like(combined.value)
    for verdict, weight in zip(combined.verdicts, combined.weights, strict=True):
        if (weight > 0).any():
            step = answer(verdict.model, glasses, levels)[0] - verdict.values
            total = total + np.where((weight > 0) & np.isfinite(step), weight * step, 0.0)
    return total

