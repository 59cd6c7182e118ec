"""How the working of a glass changes when a little is added to it: differences of two estimates with their intervals. Twin: static/make/change.js.

The ± of a difference is what pairs of measured glasses showed (alike.py). Below the smallest distance that was counted it is taken to shrink in proportion to the
distance: a glass does not differ from itself, and models err smoothly with composition (judgement, no source).
"""

import numpy as np

from server.physics.accuracy import pair_factors
from server.physics.alike import distance_mol, mol_of
from server.physics.table import table

PARTS = (("softening", "7.6"), ("working", "4"), ("range", "range"), ("alpha", "alpha"))


def factors(counted_as: str, distance: float) -> np.ndarray:
    """What the half-widths of two estimates, added as squares, are multiplied by to hold 68 and 95 of 100 differences: (2,)."""
    least = table("accuracy")["pairs"][counted_as]["distance_mol"][0]
    return pair_factors(counted_as, np.array([distance]))[:, 0] * min(1.0, distance / least)


def _value(made: dict, part: str) -> tuple[float, float, float] | None:
    """(value, u, u95) of one part of a report; None where there is none."""
    if part == "alpha":
        alpha = made["alpha"]
        return alpha and (alpha["value_1e7_k"], alpha["u_1e7_k"], alpha["u95_1e7_k"])
    if not made["points"]:
        return None
    if part == "range":
        found = made["range"]
        return None if found["u_k"] is None else (found["width_k"], found["u_k"], found["u95_k"])
    return tuple(made["points"][part][name] for name in ("t_c", "u_k", "u95_k"))


def change(before: dict, after: dict) -> dict[str, dict | None]:
    """{softening, working, range, alpha: {by, u, u95} or None} of two reports (report.py), after less before; K, and 1e-7/K for alpha."""
    distance = float(distance_mol(mol_of([before]), mol_of([after]))[0])
    found: dict[str, dict | None] = {}
    for part, counted_as in PARTS:
        one, other = _value(before, part), _value(after, part)
        if one is None or other is None:
            found[part] = None
            continue
        by68, by95 = factors(counted_as, distance)
        found[part] = {"by": other[0] - one[0], "u": float(by68 * np.hypot(one[1], other[1])), "u95": float(by95 * np.hypot(one[2], other[2]))}
    return found


def unseen_wt(before: dict, after: dict, quantity: str) -> float:
    """wt% of what came in that every model used for a quantity ('viscosity' or 'expansion') passes over; 0 where none was used."""
    ignored = {made: {v["model"]: v["ignored_wt"] for v in made_of["verdicts"] if v["used"] and v["quantity"] == quantity} for made, made_of in (("before", before), ("after", after))}
    both = [ignored["after"][key] - ignored["before"].get(key, 0.0) for key in ignored["after"]]
    return max(0.0, min(both, default=0.0))
