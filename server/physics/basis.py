"""Amounts of oxides in the basis that a model reads: wt%, mol%, moles per mole of silica."""

import numpy as np

from server.physics.bounds import Glasses
from server.physics.composition import INDEX, MOLAR_MASS_G_MOL, OXIDES


def basis_amounts(model: dict, glasses: Glasses) -> dict[str, np.ndarray]:
    """Oxide name -> amount in the model's own basis, each (n,)."""
    if model["basis"] == "wt":
        return {name: glasses.wt[:, i] for i, name in enumerate(OXIDES)}
    if model["basis"] == "mol_per_mol_sio2":
        silica = glasses.mol[:, INDEX["SiO2"]]
        silica = np.where(silica > 1e-6, silica, np.nan)
        return {name: glasses.mol[:, i] / silica for i, name in enumerate(OXIDES)}
    return _mol_pct_over(model, glasses)


def _mol_pct_over(model: dict, glasses: Glasses) -> dict[str, np.ndarray]:
    """mol% over the oxides that the model counts, after recasting (say, Fe2O3 as 2 FeO)."""
    counted = model.get("over", OXIDES)
    recast = model.get("recast", {})
    moles = {name: glasses.wt[:, INDEX[name]] / MOLAR_MASS_G_MOL[INDEX[name]] for name in {*counted, *recast}}
    for name, (into, times) in recast.items():
        moles[into] = moles[into] + times * moles[name]
        moles[name] = np.zeros_like(moles[name])
    total = sum(moles[name] for name in counted)
    total = np.where(total > 0, total, np.nan)
    nothing = np.zeros_like(total)
    return {name: 100.0 * moles[name] / total if name in counted else nothing for name in OXIDES}
