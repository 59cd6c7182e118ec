"""What each kind of property model computes from its data, one function a kind.

Every function takes (model, glasses, t_c, known) and returns values (n,) in the unit of its quantity (data/quantities.json).
model is one answer of a file in data/properties/ together with what the file says for all its answers; known holds what was
already estimated for the same glasses. NaN where the formula has no answer. Sources stand in the data.
"""

import numpy as np

from server.physics.bounds import EPS, Glasses, first_broken
from server.physics.composition import INDEX, MOLAR_MASS_G_MOL
from server.physics.evaluate import basis_amounts, sum_of_terms
from server.physics.learned import outputs
from server.physics.table import table

ZERO_C_K = 273.15
J_PER_CAL = 4.184


def mole_fractions(model: dict, glasses: Glasses) -> dict[str, np.ndarray]:
    """Oxide -> share of the moles of the oxides that the model has a coefficient for, each (n,)."""
    counted = {"basis": "mol_pct", "over": list(model["coefficients"]), "recast": model.get("recast", {})}
    amounts = basis_amounts(counted, glasses)
    return {name: amounts[name] / 100.0 for name in model["coefficients"]}


def weight_fractions(model: dict, glasses: Glasses) -> dict[str, np.ndarray]:
    """Oxide -> share of the weight of the oxides that the model has a coefficient for, each (n,)."""
    total = glasses.of(list(model["coefficients"]))
    total = np.where(total > 0, total, np.nan)
    return {name: glasses.of([name]) / total for name in model["coefficients"]}


def molar_mass(x: dict[str, np.ndarray]) -> np.ndarray:
    """Mean molar mass in g/mol of mole fractions."""
    return sum(share * MOLAR_MASS_G_MOL[INDEX[name]] for name, share in x.items())


def coefficient(rule: float | dict, mol_pct: np.ndarray, t_c: float) -> np.ndarray | float:
    """A coefficient that may change with its oxide's mol% in the glass (slope above so much) or with temperature (per_k from at_k)."""
    if not isinstance(rule, dict):
        return rule
    warmer = rule.get("per_k", 0.0) * (t_c + ZERO_C_K - rule.get("at_k", 0.0))
    return rule["base"] + rule.get("slope", 0.0) * np.maximum(mol_pct - rule.get("above", 0.0), 0.0) + warmer


def linear(model: dict, glasses: Glasses, t_c: float, _known: dict) -> np.ndarray:
    """constant + sum of coefficient × amount + sum of terms, in the model's basis; tempco is [°C, change per K]."""
    x = basis_amounts(model, glasses)
    total = model.get("constant", 0.0) + sum_of_terms(model.get("terms", []), x) + np.zeros(len(glasses.wt))
    for name, rule in model.get("coefficients", {}).items():
        total = total + coefficient(rule, glasses.of([name], "mol"), t_c) * x[name]
    at_c, per_k = model.get("tempco", (t_c, 0.0))
    return total / model.get("divide_by", 1.0) + per_k * (t_c - at_c)


def molar_volume(model: dict, glasses: Glasses, t_c: float, _known: dict) -> np.ndarray:
    """Density in g/cm3: mass over the sum of partial molar volumes (cm3/mol)."""
    x = mole_fractions(model, glasses)
    volume = sum(share * coefficient(model["coefficients"][name], glasses.of([name], "mol"), t_c) for name, share in x.items())
    return molar_mass(x) / volume


def volume_by_silica(model: dict, glasses: Glasses, _t_c: float, _known: dict) -> np.ndarray:
    """Density in g/cm3 from volumes per weight (cm3/g), one column for each range of Si atoms per O atom."""
    w, limits = weight_fractions(model, glasses), model["columns"]
    ratio = silicon_per_oxygen(w)
    column = np.clip(np.searchsorted(limits, ratio, side="right") - 1, 0, len(limits) - 2)
    volume = sum(share * np.array(model["coefficients"][name])[column] for name, share in w.items())
    inside = (ratio >= limits[0] - EPS) & (ratio <= limits[-1] + EPS)
    return np.where(inside, 1.0 / volume, np.nan)


def silicon_per_oxygen(w: dict[str, np.ndarray]) -> np.ndarray:
    """Si atoms per O atom of weight fractions by oxide."""
    atoms = table("oxides")["oxides"]
    oxygen = sum(share * atoms[name]["O"] / MOLAR_MASS_G_MOL[INDEX[name]] for name, share in w.items())
    return w["SiO2"] / MOLAR_MASS_G_MOL[INDEX["SiO2"]] / oxygen


def _packing(model: dict, glasses: Glasses, known: dict) -> tuple[np.ndarray, np.ndarray]:
    """(packing density, dissociation energy in kcal/cm3), each (n,)."""
    x, parts = mole_fractions(model, glasses), model["coefficients"]
    volume = sum(share * parts[name]["V"] for name, share in x.items())
    energy = sum(share * parts[name]["G"] for name, share in x.items())
    return known["density"] * volume / molar_mass(x), energy


def packing_modulus(model: dict, glasses: Glasses, _t_c: float, known: dict) -> np.ndarray:
    """Young's modulus in GPa."""
    packing, energy = _packing(model, glasses, known)
    return model["factor"] * packing * energy


def packing_poisson(model: dict, glasses: Glasses, _t_c: float, known: dict) -> np.ndarray:
    """Poisson's ratio."""
    packing, _energy = _packing(model, glasses, known)
    return 0.5 - 1.0 / (model["factor"] * packing)


def heat_sharp_ginther(model: dict, glasses: Glasses, t_c: float, _known: dict) -> np.ndarray:
    """True specific heat in J/(g K) at t_c, from the published mean from 0 °C."""
    w, b = weight_fractions(model, glasses), model["constant"]
    a = sum(share * model["coefficients"][name]["a"] for name, share in w.items())
    c0 = sum(share * model["coefficients"][name]["c0"] for name, share in w.items())
    return J_PER_CAL * (a * t_c * (b * t_c + 2.0) + c0) / (b * t_c + 1.0) ** 2


def molar_heat(model: dict, glasses: Glasses, t_c: float, _known: dict) -> np.ndarray:
    """Specific heat in J/(g K) from molar heats a + b T + c/T² in J/(mol K), T in K."""
    x, t_k = mole_fractions(model, glasses), t_c + ZERO_C_K
    heat = sum(share * np.dot(model["coefficients"][name], (1.0, t_k, t_k**-2)) for name, share in x.items())
    return heat / molar_mass(x)


def power_of_heat_over_density(model: dict, _glasses: Glasses, _t_c: float, known: dict) -> np.ndarray:
    """Thermal conductivity in W/(m K) from J/(g K) and g/cm3."""
    return model["factor"] * (known["specific_heat"] / known["density"]) ** model["exponent"]


def by_type(model: dict, glasses: Glasses, _t_c: float, _known: dict) -> np.ndarray:
    """The figure of the first type of glass that it belongs to; NaN between the types."""
    value = np.full(len(glasses.wt), np.nan)
    for kind in reversed(model["types"]):
        value = np.where(first_broken(glasses, kind["when"]) == -1, kind["value"], value)
    return value


def value(model: dict, glasses: Glasses, t_c: float, known: dict) -> np.ndarray:
    """What a model says (n,), with its stated correction where that holds."""
    said = KINDS[model["kind"]](model, glasses, t_c, known)
    mend = model.get("correction")
    if mend is None:
        return said
    mended = said * mend.get("factor", 1.0) + mend.get("offset", 0.0)
    return np.where(first_broken(glasses, mend["when"]) == -1, mended, said)


def learned(model: dict, glasses: Glasses, _t_c: float, _known: dict) -> np.ndarray:
    """A fit on open measurements (learned.py)."""
    return outputs(model, glasses)[0][0]


KINDS = {f.__name__: f for f in (
    molar_volume, volume_by_silica, packing_modulus, packing_poisson, heat_sharp_ginther, molar_heat, power_of_heat_over_density, by_type, learned,
)} | {"sum": linear}
