"""Count the errors of the property models on the open measurements and write server/physics/data/property_accuracy.json.

Run `python -m tests.property_accuracy`. The result is deterministic; tests/reference/test_property_accuracy.py checks that the
file is this count. A model fitted on these measurements brings a count of its own, on glasses kept back, and is not counted here.
"""

import numpy as np

from server.physics.bounds import Glasses, family_index, first_broken
from server.physics.properties import QUANTITIES, SIDES, answers, estimate_properties
from server.physics.property_kinds import value
from server.physics.table import DATA, property_models, table
from tests.accuracy import OPEN, _mol_row, _rows, glasses_of, written

# quantity -> (file, column, decimals kept)
MEASURED = {
    "density": ("density.csv", "density_g_cm3", 4),
    "youngs_modulus": ("youngs.csv", "youngs_gpa", 2),
    "refractive_index": ("refractive-index.csv", "refractive_index", 4),
}
DECIMALS = {quantity: decimals for quantity, (_file, _column, decimals) in MEASURED.items()} | {"liquidus": 0}
SODIUM_UM = (0.587, 0.590)  # sodium's yellow line, or helium's beside it
CITATION = (
    "Density, Young's modulus, refractive index at 0.588-0.589 µm: open data accompanying Le Losq, Valentine, Mysen & Neuville (2021), "
    "Geochim. Cosmochim. Acta 314, 27-54, with its later extension to CaO and MgO. Error = model minus measured; no glass with lead or boron."
)


def measured(quantity: str) -> tuple[Glasses, np.ndarray]:
    """(glasses, measured values (n,)) of a quantity, one row a measurement."""
    name, column, _decimals = MEASURED[quantity]
    rows = [row for row in _rows(name) if SODIUM_UM[0] <= float(row.get("wavelength_um", SODIUM_UM[0])) <= SODIUM_UM[1]]
    return glasses_of(np.array([_mol_row(row) for row in rows])), np.array([float(row[column]) for row in rows])


def count(errors: np.ndarray, decimals: int) -> dict | None:
    """n, median error, median |error|, and the half-widths round zero that hold 68.3 % (u) and 95.4 % (u95) of the errors."""
    errors = errors[np.isfinite(errors)]
    if not len(errors):
        return None
    size = np.abs(errors)
    told = {"bias": np.median(errors), "median_abs": np.median(size), "u": np.quantile(size, 0.683), "u95": np.quantile(size, 0.954)}
    return {"n": len(errors), **{name: round(float(x), decimals) for name, x in told.items()}}


def count_model(model: dict, quantity: str) -> dict:
    """Counts by family and side: inside the model's bounds, or outside but within its reach."""
    glasses, read = measured(quantity)
    found = estimate_properties(glasses, np.ones(len(read), dtype=bool))
    known = {need: found[need].value for need in model.get("needs", [])}
    errors = value(model, glasses, QUANTITIES[quantity]["at_c"], known) - read
    inside = first_broken(glasses, model["bounds"]) == -1
    outside = ~inside & (first_broken(glasses, model["reach"]) == -1) if model["reach"] else np.zeros_like(inside)
    families = [family["key"] for family in table("families")["families"]]
    family = family_index(glasses, table("families")["families"])
    counts = {}
    for name in (*families, "any"):
        members = np.ones_like(inside) if name == "any" else family == families.index(name)
        cells = {side: count(errors[members & where], MEASURED[quantity][2]) for side, where in zip(SIDES, (inside, outside), strict=True)}
        counts[name] = {side: cell for side, cell in cells.items() if cell}
    return counts


def count_all() -> dict:
    """The whole content of property_accuracy.json."""
    result = {}
    for quantity in MEASURED:
        for model in answers(property_models(), quantity):
            if "counted" not in model and model["kind"] != "learned":
                result.setdefault(model["key"], {})[quantity] = count_model(model, quantity)
    return {"citation": CITATION, "units": "g/cm3; GPa; 1 for the index", "models": result}


if __name__ == "__main__":
    assert OPEN.is_dir()
    target = DATA / "property_accuracy.json"
    for _pass in range(2):  # stiffness takes the density, whose models are weighed by the first count
        target.write_text(written(count_all()), encoding="utf-8")
        table.cache_clear()
    print(f"wrote {target}")
