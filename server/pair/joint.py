"""Two glasses and a form of joint -> everything the page prints, as plain data. Sums: server/physics/seal.py, retardation.py."""

from dataclasses import dataclass

import numpy as np

from server.glass.catalog import Glass
from server.physics import alike, chance, retardation, seal
from server.physics.accuracy import pair_factors
from server.physics.table import table

FORMS = tuple(table("seal")["forms"])
MPA = 1e-6
MM = 1e-3


@dataclass(frozen=True)
class Asked:
    """What is joined to what: a strip of a and b, core a in shell b, or trail b on bead a. path_mm: light path, or the outside of a core's shell."""

    a: Glass
    b: Glass
    form: str
    path_mm: float
    share: float


def lacks(glass: Glass) -> list[str]:
    """What this sum would need of a glass and the estimate cannot give."""
    report = glass.report
    return [word for word, key in (("expansion", "alpha"), ("viscosity curve", "vft")) if report[key] is None]


def judge(asked: Asked) -> dict:
    """The whole answer. Neither glass may lack anything (lacks())."""
    strain = _strain(asked)
    unit = stresses(asked, 1.0)
    return {
        "strain": strain,
        "chances": [float(x) for x in seal.class_chances(strain["value"], strain["u"], strain["u95"])],
        "best": int(seal.class_of(strain["value"])),
        "span": tuple(int(x) for x in seal.class_span(strain["value"], strain["u"])),
        "sign_chance": 1.0 - float(chance.below(0.0, abs(strain["value"]), strain["u"], strain["u95"])),
        "rows": [_row(row, strain) for row in unit],
        "polariser": polariser(asked, strain),
        "thread": thread(strain),
    }


def _strain(asked: Asked) -> dict:
    """Misfit a − b with its half-widths, the set point with its ±, and the difference of the expansions in 1e-7/K."""
    sets = [seal.set_point_c(glass.report["vft"]) for glass in (asked.a, asked.b)]
    softer = int(sets[1] < sets[0])
    point = (asked.a, asked.b)[softer].report["points"]["annealing"]
    rule_u = table("seal")["set_point"]["u_k"]
    set_u, set_u95 = float(np.hypot(rule_u, point["u_k"])), float(np.hypot(2 * rule_u, point["u95_k"]))
    alpha = [glass.report["alpha"] for glass in (asked.a, asked.b)]
    values = [x["value_1e7_k"] for x in alpha]
    f68, f95 = (float(f[0]) for f in pair_factors("alpha", alike.distance_mol(*(alike.mol_of([g.report]) for g in (asked.a, asked.b)))))
    return {
        "value": float(seal.misfit(*values, sets[softer])),
        "u": float(seal.misfit_u(*values, *(f68 * x["u_1e7_k"] for x in alpha), sets[softer], set_u)),
        "u95": float(seal.misfit_u(*values, *(f95 * x["u95_1e7_k"] for x in alpha), sets[softer], set_u95)),
        "set_c": float(sets[softer]),
        "set_u_k": set_u,
        "softer": softer,
        "gap_1e7_k": values[0] - values[1],
        "gap_u_1e7_k": f68 * float(np.hypot(*(x["u_1e7_k"] for x in alpha))),
    }


def stresses(asked: Asked, strain: float) -> list[dict]:
    """Rows {glass: 'a' or 'b', where, mpa}; the first of each glass is the one that the answer names."""
    elastic = table("seal")["elastic"]
    e_pa, poisson = elastic["e_pa"], elastic["poisson"]
    if asked.form == "strip":
        layer = table("seal")["forms"]["strip"]["layers_mm"] * MM
        made = seal.strip(strain, layer, layer, e_pa, e_pa)
        found = [("a", "at the joint", made["a_joint"]), ("b", "at the joint", made["b_joint"]), ("a", "on its outer face", made["a_face"]), ("b", "on its outer face", made["b_face"])]
    elif asked.form == "core":
        rod, ball = seal.cylinder(strain, asked.share, e_pa, poisson), seal.sphere(strain, asked.share, e_pa, poisson)
        found = [
            ("a", "of a long piece, lengthwise", rod["core_along"]), ("b", "of a long piece, round the joint", rod["sheath_hoop"]),
            ("a", "of a long piece, across", rod["core_across"]), ("b", "of a long piece, lengthwise", rod["sheath_along"]),
            ("a", "of a ball, all ways", ball["core"]), ("b", "of a ball, round the joint", ball["shell_hoop"]),
        ]
    else:
        narrow, broad = seal.trail(strain, e_pa, poisson)
        found = [("b", "if narrow, lengthwise", narrow), ("b", "if broad, at most", broad)]
    return [{"glass": glass, "where": where, "mpa": float(pa) * MPA} for glass, where, pa in found]


def _row(unit: dict, strain: dict) -> dict:
    """A row of stresses() made for unit misfit, at this misfit: MPa with ± of the misfit and of the stiffness, none lost at zero."""
    share = table("seal")["elastic"]["e_u_share"]
    mpa = unit["mpa"] * strain["value"]
    u, u95 = (float(np.hypot(unit["mpa"] * strain[name], k * share * mpa)) for name, k in (("u", 1), ("u95", 2)))
    return {**unit, "mpa": mpa, "u": u, "u95": u95}


def polariser(asked: Asked, strain: dict) -> dict | None:
    """Retardation in nm with its half-width and its sign along the joint; None where lead makes a reading worthless."""
    kinds = [retardation.stress_optic(glass.report["wt"]) for glass in (asked.a, asked.b)]
    if None in kinds:
        return None
    c = sum(kind[0] for kind in kinds) / 2
    c_share = max(kind[1] for kind in kinds) / c
    elastic = table("seal")["elastic"]
    per_strain = _nm_per_strain(asked, c, elastic["e_pa"], elastic["poisson"])
    nm = abs(per_strain * strain["value"])
    u = float(np.hypot(per_strain * strain["u"], nm * np.hypot(c_share, elastic["e_u_share"])))
    return {"nm": float(nm), "u": u, "c": c, "signs": _signs(asked.form, strain["value"])}


def _nm_per_strain(asked: Asked, c: float, e_pa: float, poisson: float) -> float:
    """nm of retardation per unit of misfit, along the path that asked.path_mm names."""
    path = asked.path_mm * MM
    if asked.form == "strip":
        return retardation.retardation_nm(c, e_pa / 2, path)
    if asked.form == "core":
        return retardation.cylinder_retardation_nm(c, 1.0, asked.share, e_pa, poisson, path)
    return retardation.retardation_nm(c, e_pa, path)


def _signs(form: str, strain: float) -> list[tuple[str, int]]:
    """(what one looks at, +1 where it adds to a plate whose slow mark lies along the joint). Tension along the mark adds."""
    first = 1 if strain > 0 else -1
    return {"strip": [("a", first), ("b", -first)], "core": [("a", first)], "trail": [("b", -first)]}[form]


def thread(strain: dict) -> dict:
    """Bow in mm that a pulled thread of the two would show, its half-width, and the bows that part the classes."""
    rule, classes = table("seal")["thread"], table("seal")["classes"]
    d, length = rule["diameter_mm"] * MM, rule["length_mm"] * MM
    sizes = [abs(strain["value"]), strain["u"], classes["low_below_ppm"] * seal.PPM, classes["high_above_ppm"] * seal.PPM]
    bow, u, low, high = (float(seal.thread_bow_m(x, d, length)) / MM for x in sizes)
    return {"bow_mm": bow, "u_mm": u, "low_mm": low, "high_mm": high, "d_mm": rule["diameter_mm"], "length_mm": rule["length_mm"]}
