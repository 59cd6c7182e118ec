"""What each kind of model computes from its data. One function a kind; the page's evaluator has the same ones.

Viscosity kinds return isokom temperatures in °C, shape (levels, n); expansion kinds alpha in 1e-7/K, shape (n,).
Learned models stand in learned.py.
"""

import numpy as np

from server.physics.basis import basis_amounts
from server.physics.bounds import EPS, Glasses
from server.physics.curve import isokom_vft
from server.physics.learned import isokoms_of, outputs


def sum_of_terms(terms: list[dict], x: dict[str, np.ndarray]) -> np.ndarray:
    """Sum of c × product over factors of (sum of the oxides in the factor)."""
    total = 0.0
    for term in terms:
        value = term["c"]
        for factor in term["of"]:
            value = value * sum(x[name] for name in factor)
        total = total + value
    return total


def vft(model: dict, glasses: Glasses, levels: tuple[float, ...]) -> np.ndarray:
    """Isokoms of a model that gives the VFT constants."""
    x = basis_amounts(model, glasses)
    a, b, t0 = (sum_of_terms(model["terms"][key], x) + np.zeros(len(glasses.wt)) for key in ("A", "B", "T0"))
    a = a + model["log_eta_offset"]
    t0 = t0 + model["temperature_offset_k"]
    with np.errstate(divide="ignore", invalid="ignore"):
        rows = [np.where((b > 0) & (level > a), isokom_vft(level, a, b, t0), np.nan) for level in levels]
    return np.array(rows)


def isokoms(model: dict, glasses: Glasses, levels: tuple[float, ...]) -> np.ndarray:
    """Isokoms of a model that tabulates them; between two rows along a VFT of the stated A."""
    x = basis_amounts(model, glasses)
    return np.array([_isokom_between(model, x, level) for level in levels])


def _isokom_between(model: dict, x: dict[str, np.ndarray], level: float) -> np.ndarray:
    rows, a = model["rows"], model["interpolation_a"]
    above = next(i for i, row in enumerate(rows) if row["log_eta_dpas"] >= level)
    upper = sum_of_terms(rows[above]["terms"], x)
    if rows[above]["log_eta_dpas"] == level:
        return upper
    low, high = rows[above - 1]["log_eta_dpas"], rows[above]["log_eta_dpas"]
    share = (1 / (level - a) - 1 / (high - a)) / (1 / (low - a) - 1 / (high - a))
    return upper + (sum_of_terms(rows[above - 1]["terms"], x) - upper) * share


def alpha_sum(model: dict, glasses: Glasses) -> np.ndarray:
    """Expansion of a model that sums factors: 1e-7/K over 20-300 °C after its range factor."""
    total = sum_of_terms(model["terms"], basis_amounts(model, glasses))
    return total * model["range_factor"] / model["divide_by"]


def alpha_partial(model: dict, glasses: Glasses) -> np.ndarray:
    """Expansion from partial properties, some of which depend on the glass: 1e-7/K over 20-300 °C."""
    x = basis_amounts(model, glasses)
    total = np.zeros(len(glasses.wt))
    for name, rule in model["partials"].items():
        total = total + x[name] * _partial(rule, x)
    return total / 100.0 * model["range_factor"]


def _partial(rule: dict, x: dict[str, np.ndarray]) -> np.ndarray | float:
    """A partial property: base, base + step where an oxide is present, or base + slope × a clamped sum."""
    if "step" in rule:
        return rule["base"] + rule["step"] * (sum(x[name] for name in rule["of"]) >= rule["at"] - EPS)
    if "slope" not in rule:
        return rule["base"]
    driver = sum(x[name] for name in rule["of"])
    for name in rule["minus"]:
        driver = driver - x[name]
    for name in rule["per"]:
        driver = driver / np.where(x[name] > 0, x[name], 1.0)
    return rule["base"] + rule["slope"] * np.clip(driver - rule["start"], rule["low"], rule["high"])


VISCOSITY_KINDS = {"vft": vft, "isokoms": isokoms}
EXPANSION_KINDS = {"sum": alpha_sum, "partial": alpha_partial}


def answer(model: dict, glasses: Glasses, levels: tuple[float, ...]) -> tuple[np.ndarray, np.ndarray | None]:
    """(values (levels, n) or (1, n) for expansion, distance (n,) of a learned model to its measured glasses or None)."""
    if model["kind"] == "learned":
        found, far = outputs(model, glasses)
        return (isokoms_of(model, found, levels) if model["quantity"] == "viscosity" else found), far
    if model["quantity"] == "viscosity":
        return VISCOSITY_KINDS[model["kind"]](model, glasses, levels), None
    return EXPANSION_KINDS[model["kind"]](model, glasses)[None, :], None
