"""A replica batch: the weights of raw materials that come nearest to a wanted composition, within limits. By scipy's bounded least squares; its twin for a page without the desk is static/make/nearest.js."""

from dataclasses import dataclass, replace

import numpy as np

from server.errors import Refused
from server.physics.addition import compound, in_one_form
from server.physics.change import change
from server.physics.composition import INDEX, OXIDES
from server.physics.report import estimate_one
from server.physics.table import table

TRACE_WT = 0.5  # see nearest(); judgement, no source
WHOLE = 100.0  # how heavily it weighs that the glass comes to its full mass, beside 1 for each wt%


@dataclass(frozen=True)
class Material:
    """As it is weighed: wt% by OXIDES that stay, shape (oxides,); price a kg or None; most_g at most of it or None."""

    name: str
    wt: np.ndarray
    price_kg: float | None = None
    most_g: float | None = None


@dataclass(frozen=True)
class Batch:
    """grams (materials,) for the mass of glass wanted, wt (oxides,) of what comes of it, its mass and the gas in g, price or None."""

    grams: np.ndarray
    wt: np.ndarray
    glass_g: float
    gas_g: float
    price: float | None


def usual_materials() -> list[dict]:
    """The list to choose from, each with wt {oxide: wt%} and what leaves."""
    found = []
    for one in table("materials")["materials"]:
        wt = {name: 100.0 * grams for name, grams in compound(one["compound"])["gives"].items()} if "compound" in one else one["wt"]
        found.append({**one, "wt": wt, "hazards": compound(one["compound"])["hazards"] if "compound" in one else one.get("hazards", ["dust"])})
    return found


def nearest(target_wt: np.ndarray, glass_g: float, materials: list[Material]) -> Batch:
    """The batch whose glass comes nearest to the target (any total, brought to 100). Raises Refused.

    For 100 g of glass x grams are sought with 0 <= x <= most that minimise the sum over the oxides of (yield·x − target)² / (target + TRACE_WT) and, weighed WHOLE times,
    |mass of glass − 100|². So what no material brings is made up for by all others in proportion to what is wanted of them, and not by equal parts of iron and silica.
    """
    from scipy.optimize import lsq_linear  # heavy: only when it is asked for

    total = target_wt.sum()
    if not (total > 0 and glass_g > 0 and materials):
        raise Refused("Choose a target, a mass and at least one material.", code="nothing")
    wanted = target_wt * (100.0 / total)
    stays = np.array([one.wt for one in materials]).T / 100.0
    most = np.array([np.inf if one.most_g is None else max(one.most_g * 100.0 / glass_g, 1e-12) for one in materials])
    heavy = 1.0 / np.sqrt(wanted + TRACE_WT)
    rows = np.vstack([stays * heavy[:, None], WHOLE * stays.sum(axis=0)])
    found = lsq_linear(rows, np.append(wanted * heavy, WHOLE * 100.0), bounds=(0.0, most), method="bvls", tol=1e-12, max_iter=500)
    grams = np.where(found.x < 1e-6, 0.0, found.x) * glass_g / 100.0
    oxides_g = stays @ grams
    if not oxides_g.sum() > 0:
        raise Refused("Nothing of these materials stays in the glass within their limits.", code="nothing")
    prices = [one.price_kg for one in materials]
    used = grams > 0
    price = None if any(used[i] and prices[i] is None for i in range(len(prices))) else float(sum(g / 1000.0 * (p or 0.0) for g, p in zip(grams, prices, strict=True)))
    return Batch(grams, 100.0 * oxides_g / oxides_g.sum(), float(oxides_g.sum()), float(grams.sum() - oxides_g.sum()), price)


def lacking(target_wt: np.ndarray, made_wt: np.ndarray, materials: list[Material]) -> list[dict]:
    """What cannot be reached: {oxide, by (wt%, made less wanted), why}, the largest first."""
    gap, brought = made_wt - target_wt * (100.0 / target_wt.sum()), sum((one.wt for one in materials), np.zeros(len(OXIDES)))
    found = []
    for name in sorted(OXIDES, key=lambda one: -abs(gap[INDEX[one]])):
        by = float(gap[INDEX[name]])
        if abs(by) < table("materials")["beyond_wt"]:
            break
        why = "no chosen material brings it" if by < 0 and brought[INDEX[name]] <= 0 else "it makes up for what is lacking, or comes along with others" if by > 0 else "what brings it brings too much else, or is limited"
        found.append({"oxide": name, "by": by, "why": why})
    return found


def told(target_wt: np.ndarray, glass_g: float, materials: list[Material]) -> dict:
    """The answer as plain data: parts, made wt%, wanted wt%, what is lacking, yield, gas, price, and how its working differs from the target's. Iron counts as Fe2O3 throughout, copper as CuO, antimony as Sb2O3."""
    least, most = table("rules")["totals"]["trust"]
    if not least <= target_wt.sum() <= most:
        raise Refused(f"The analysis of the target comes to {target_wt.sum():.1f} wt%, not to about 100. What it lacks or has too much cannot be guessed.", code="not_whole")
    for one in materials:
        if one.wt.sum() > table("materials")["most_of_a_material_wt"]:
            raise Refused(f"The analysis of {one.name} comes to {one.wt.sum():.1f} wt%: no more can stay in the glass than is weighed.", code="over_whole")
    target_wt, materials = in_one_form(target_wt), [replace(one, wt=in_one_form(one.wt)) for one in materials]
    batch = nearest(target_wt, glass_g, materials)
    wanted = target_wt * (100.0 / target_wt.sum())
    shown = [name for i, name in enumerate(OXIDES) if max(wanted[i], batch.wt[i]) > 0.005]
    return {
        "parts": [{"name": one.name, "grams": float(g)} for one, g in zip(materials, batch.grams, strict=True) if g > 0],
        "wt": {name: float(batch.wt[INDEX[name]]) for name in shown},
        "wanted": {name: float(wanted[INDEX[name]]) for name in shown},
        "lacking": lacking(target_wt, batch.wt, materials),
        "glass_g": batch.glass_g, "gas_g": batch.gas_g, "yield": batch.glass_g / float(batch.grams.sum()), "price": batch.price,
        "change": change(estimate_one(wanted), estimate_one(batch.wt)),
    }
