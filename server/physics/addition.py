"""What compounds weighed into a base glass make of it: grams to weigh, composition, what leaves as gas, and the error that the balance makes.

Compositions are wt% by OXIDES, shape (oxides,). The base counts as glass throughout: it is brought to 100 first. What leaves with a compound (water, carbonic acid,
nitre's and vitriol's gases) leaves wholly, what a metal takes up comes from the air, and what a compound holds beside itself (1 − purity) leaves too.
Nothing evaporates of the oxides themselves. Twin: static/make/addition.js; data: data/compounds.json; atomic weights: data/oxides.json.
"""

import re
from dataclasses import dataclass
from functools import cache
from math import sqrt

import numpy as np

from server.errors import Missing, Refused
from server.physics.composition import INDEX, MOLAR_MASS_G_MOL, OXIDES, SAME_ELEMENT, WEIGHTS
from server.physics.table import table

_PART = re.compile(r"([A-Z][a-z]?|\(|\))(\d*)")
LARGEST_SHARE = 0.9  # of the melt that may come from what was added


@dataclass(frozen=True)
class Weighed:
    """So many grams of a compound (a key of data/compounds.json), of which the share `purity` is that compound."""

    compound: str
    mass_g: float
    purity: float = 1.0


@dataclass(frozen=True)
class Wanted:
    """So many wt% of the compound's oxide in the finished glass, with what is in the base already."""

    compound: str
    wt: float
    purity: float = 1.0


@dataclass(frozen=True)
class Made:
    """A finished glass: its mass in g, wt% (oxides,), and the g that left as gas (below 0 where more was taken up than left)."""

    mass_g: float
    wt: np.ndarray
    gas_g: float


def atoms_of(formula: str) -> dict[str, int]:
    """Atoms in a formula such as Cu2(OH)2CO3. Raises Refused for one that cannot be read."""
    parts = _PART.findall(formula)
    if "".join(a + n for a, n in parts) != formula or formula.count("(") != formula.count(")"):
        raise Refused(f"{formula} is no formula.", code="no_formula")
    levels: list[dict[str, int]] = [{}]
    for i, (name, count) in enumerate(parts):
        if name == "(":
            levels.append({})
            continue
        inner = levels.pop() if name == ")" else {name: 1}
        for atom, n in inner.items():
            levels[-1][atom] = levels[-1].get(atom, 0) + n * int(count or 1)
    return levels[0]


@cache
def compounds() -> dict[str, dict]:
    """Every compound by key, with molar_mass_g_mol, gives (g of each oxide per g of compound) and factor (g of compound per g of its own oxide)."""
    found = {}
    for one in table("compounds")["compounds"]:
        molar = sum(WEIGHTS[atom] * n for atom, n in atoms_of(one["formula"]).items())
        gives = {name: n * float(MOLAR_MASS_G_MOL[INDEX[name]]) / molar for name, n in one["oxides"].items()}
        found[one["key"]] = {**one, "molar_mass_g_mol": molar, "gives": gives, "factor": 1.0 / gives[one["oxide"]]}
    return found


def compound(key: str) -> dict:
    """One of them. Raises Missing."""
    if key not in compounds():
        raise Missing(f"{key[:40]} is no compound that Isokom knows.", code="no_such_compound")
    return compounds()[key]


def _gives(key: str, purity: float) -> np.ndarray:
    """g of each oxide per g weighed, shape (oxides,)."""
    row = np.zeros(len(OXIDES))
    for name, grams in compound(key)["gives"].items():
        row[INDEX[name]] = grams * purity
    return row


def _base(base_wt: np.ndarray) -> np.ndarray:
    total = base_wt.sum()
    if not total > 0:
        raise Refused("The base glass has no analysis.", code="no_analysis")
    return base_wt * (100.0 / total)


def in_one_form(wt: np.ndarray) -> np.ndarray:
    """Each element that a glass holds in two forms as the one that recipes name, (oxides,): what the furnace makes of it is not the recipe's doing."""
    found = wt.copy()
    for other, (kept, factor) in SAME_ELEMENT.items():
        found[INDEX[kept]] += wt[INDEX[other]] * factor
        found[INDEX[other]] = 0.0
    return found


def made_of(base_wt: np.ndarray, base_g: float, weighed: list[Weighed]) -> Made:
    """The glass that comes of it. base_wt of any total. Raises Missing or Refused."""
    oxides_g = _base(base_wt) * (base_g / 100.0) + sum((_gives(w.compound, w.purity) * w.mass_g for w in weighed), np.zeros(len(OXIDES)))
    mass_g = float(oxides_g.sum())
    if not mass_g > 0:
        raise Refused("Nothing is weighed in.", code="nothing")
    return Made(mass_g, oxides_g * (100.0 / mass_g), base_g + sum(w.mass_g for w in weighed) - mass_g)


def to_weigh(base_wt: np.ndarray, base_g: float, wanted: list[Wanted]) -> list[Weighed]:
    """Grams of each compound for what is wanted of all of them together, by one linear system: each thins what the others give. Fe2O3 means all iron, CuO all copper, Sb2O3 all antimony, in whatever form the base holds it.

    raises Refused where the base holds more of an oxide already, where two give the same oxide, or where there would be hardly any base left.
    """
    if not wanted:
        return []
    oxides = [compound(one.compound)["oxide"] for one in wanted]
    if len(set(oxides)) < len(oxides):
        raise Refused("Two compounds give the same oxide: say the grams of one of them.", code="same_oxide")
    base, gives = in_one_form(_base(base_wt)), np.array([_gives(one.compound, one.purity) for one in wanted])
    places, shares = [INDEX[name] for name in oxides], np.array([one.wt / 100.0 for one in wanted])
    if shares.sum() > LARGEST_SHARE:
        raise Refused("That leaves hardly any base glass.", code="too_much")
    left = gives[:, places].T - np.outer(shares, gives.sum(axis=1))
    grams = np.linalg.solve(left, base_g * (shares - base[places] / 100.0))
    for one, name, mass_g in zip(wanted, oxides, grams, strict=True):
        if mass_g < -1e-9 * base_g:
            raise Refused(f"The base already comes to more than {one.wt:g} wt% {name}.", code="already_more", field=one.compound)
    return [Weighed(one.compound, max(0.0, float(mass_g)), one.purity) for one, mass_g in zip(wanted, grams, strict=True)]


def weighing_u_g(resolution_g: float) -> float:
    """One standard uncertainty in g of a mass weighed as the difference of two readings that are each rounded to resolution_g.

    source : JCGM 100:2008 (GUM) F.2.2.1, a rounded reading is rectangular with half-width resolution/2; two readings add as squares.
    """
    return resolution_g / sqrt(6.0)


def wt_u(base_wt: np.ndarray, base_g: float, weighed: list[Weighed], resolution_g: float) -> np.ndarray:
    """One standard uncertainty of the finished glass in wt% by OXIDES from the balance alone: the base and each compound weighed once, of which there is any."""
    made, u = made_of(base_wt, base_g, weighed), weighing_u_g(resolution_g)
    by_base = (_base(base_wt) - made.wt) / made.mass_g
    slopes = [by_base, *((_gives(w.compound, w.purity) * 100.0 - made.wt * _gives(w.compound, w.purity).sum()) / made.mass_g for w in weighed if w.mass_g > 0)]
    return u * np.sqrt(np.sum(np.array(slopes) ** 2, axis=0))


def blended(wt: np.ndarray, mass_g: np.ndarray) -> Made:
    """Glasses melted together: wt (n, oxides) of any total, mass_g (n,). Each counts as glass throughout, nothing leaves. Raises Refused."""
    if not (mass_g.sum() > 0 and (wt[mass_g > 0].sum(axis=1) > 0).all()):
        raise Refused("Nothing is weighed in, or one of the glasses has no analysis.", code="nothing")
    shares = np.array([_base(row) if grams > 0 else row * 0 for row, grams in zip(wt, mass_g, strict=True)])
    return Made(float(mass_g.sum()), (shares * mass_g[:, None]).sum(axis=0) / mass_g.sum(), 0.0)


def blended_u(wt: np.ndarray, mass_g: np.ndarray, resolution_g: float) -> np.ndarray:
    """One standard uncertainty of the blend in wt% by OXIDES from the balance alone, each glass weighed once."""
    made = blended(wt, mass_g)
    slopes = [(_base(row) - made.wt) / made.mass_g for row, grams in zip(wt, mass_g, strict=True) if grams > 0]
    return weighing_u_g(resolution_g) * np.sqrt(np.sum(np.array(slopes) ** 2, axis=0))
