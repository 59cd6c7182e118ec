"""One glass's estimate as plain data: what the pages print and what the page's own evaluator must reproduce."""

import re
from functools import cache

import numpy as np

from server.physics import combine as c
from server.physics.accuracy import SIDES, cell
from server.physics.bounds import passed
from server.physics.composition import OXIDES
from server.physics.estimate import FAMILIES, LEVEL_KEYS, STATUS, Estimates, estimate
from server.physics.table import table

POINTS = ("working", "softening", "annealing")
DOUBTS = (*POINTS, "range", "alpha")
CAUTIONS = frozenset(table("rules")["cautions"])
_PLACE = re.compile(r"\{(\w+)(?::(\d))?\}")


def sentence(code: str, values: dict) -> str:
    """The sentence of a code (data/sentences.json) with its values printed; {name:1} prints one decimal."""

    def printed(match: re.Match) -> str:
        value, digits = values[match[1]], match[2]
        return f"{value:.{digits}f}".replace("-", "−") if digits else str(value)

    return _PLACE.sub(printed, table("sentences")[code])


@cache
def sentence_form(code: str) -> tuple[str, tuple[str, ...]]:
    """The same sentence as a %-form and the names of its numbers in order: for many rows at once. Numbers must not be negative."""
    text = table("sentences")[code].replace("%", "%%")
    return _PLACE.sub(lambda match: f"%.{match[2]}f", text), tuple(match[1] for match in _PLACE.finditer(text))


def estimate_one(wt_pct: np.ndarray, weathered: bool = False, sd_wt: np.ndarray | None = None) -> dict:
    """Report of one analysis: wt% by OXIDES, and one standard deviation of each or None, shapes (oxides,)."""
    return report(estimate(wt_pct[None, :], np.array([weathered]), None if sd_wt is None else sd_wt[None, :]), 0)


def report(e: Estimates, i: int) -> dict:
    """Glass i of an estimate as plain data: None where refused. Temperatures °C, ± in K, alpha in 1e-7/K."""
    family = FAMILIES[e.family[i]]
    has_curve = bool(np.isfinite(e.vft[0][i]))
    return {
        "status": STATUS[e.status[i]],
        "family": {"key": family["key"], "label": family["label"]},
        "total_wt": float(e.total_wt[i]),
        "wt": {name: float(e.glasses.wt[i, k]) for k, name in enumerate(OXIDES) if e.glasses.wt[i, k] > 0},
        "mol": {name: float(e.glasses.mol[i, k]) for k, name in enumerate(OXIDES) if e.glasses.mol[i, k] > 0},
        "points": _points(e, i) if has_curve else None,
        "range": _range(e, i) if has_curve else None,
        "vft": dict(zip(("a", "b", "t0_c"), (float(x[i]) for x in e.vft), strict=True)) if has_curve else None,
        "alpha": _alpha(e, i),
        "analysis_u": None if e.analysis_u is None else dict(zip(DOUBTS, (float(x) for x in e.analysis_u[:, i]), strict=True)),
        "verdicts": [_verdict(v, i, family["key"], e.total_wt[i] > 0) for v in e.viscosity_verdicts + e.expansion_verdicts],
        "notes": [_note(n, i) for n in e.notes if n.where[i]],
    }


def _points(e: Estimates, i: int) -> dict:
    points = {
        name: {"t_c": float(e.isokom_c[k, i]), "u_k": float(e.isokom_u_k[k, i]), "u95_k": float(e.isokom_u95_k[k, i])}
        for k, name in enumerate(POINTS)
    }
    u95 = float(np.hypot(e.isokom_u95_k[2, i], 2 * table("rules")["strain"]["u_k"]))
    points["strain"] = {"t_c": float(e.strain_c[i]), "u_k": float(e.strain_u_k[i]), "u95_k": u95}
    return points


def _range(e: Estimates, i: int) -> dict:
    u, u95 = float(e.range_u_k[i]), float(e.range_u95_k[i])
    return {
        "width_k": float(e.range_k[i]),
        "u_k": u if np.isfinite(u) else None,
        "u95_k": u95 if np.isfinite(u95) else None,
        "from_c": float(e.isokom_c[1, i]),
        "to_c": float(e.isokom_c[0, i]),
    }


def _alpha(e: Estimates, i: int) -> dict | None:
    if not np.isfinite(e.alpha[i]):
        return None
    state = c.STATES[e.alpha_state[i]]
    return {"value_1e7_k": float(e.alpha[i]), "u_1e7_k": float(e.alpha_u[i]), "u95_1e7_k": float(e.alpha_u95[i]), "state": state}


def _verdict(v: c.Verdict, i: int, family: str, has_analysis: bool) -> dict:
    """One model's say: its state, values where it answered, the bound it broke, and its record in this family."""
    model, state = v.model, int(v.state[i])
    answered = state <= c.EXTRAPOLATED
    side = SIDES[0 if state == c.ANSWERED else 1]
    props = LEVEL_KEYS if model["quantity"] == "viscosity" else ("alpha",)
    return {
        "model": model["key"],
        "quantity": model["quantity"],
        "state": c.STATES[state],
        "used": bool(v.used[i]),
        "values": [float(x) for x in v.values[:, i]] if answered else None,
        "u": [float(x) for x in v.u[:, i]] if answered else None,
        "broken": int(v.broken[i]),
        "ignored_wt": float(v.ignored_wt[i]) if has_analysis else 0.0,
        "record": [cell(model["key"], family, side, prop) for prop in props] if answered else None,
    }


def _note(note, i: int) -> dict:
    values = {key: float(x[i]) for key, x in note.values.items()}
    return {"code": note.code, "caution": note.code in CAUTIONS, "values": values, "text": sentence(note.code, values)}


def why(verdict: dict, model: dict, wt: dict, mol: dict, analysis_refused: bool) -> str:
    """In words, why a model stood aside, was refused or was stretched; empty where it simply answered.

    A refusal inside the model's reach has another cause than the bound that only stretches it: unknown oxides, no count, no sound figure.
    """
    if analysis_refused:
        return table("sentences")["analysis_refused"]
    is_refused = verdict["state"] == "refused"
    limits = model["reach"] if is_refused and model["reach"] is not None else model["bounds"]
    if 0 <= verdict["broken"] < len(limits) and (found := passed(limits[verdict["broken"]], wt, mol)):
        return sentence(*found)
    rule = table("rules")["ignored"]
    if verdict["ignored_wt"] > rule["refuse_above_wt" if is_refused else "note_above_wt"]:
        return sentence("ignored", {"value": verdict["ignored_wt"]})
    if "domain" in model and verdict["broken"] == len(limits):
        return table("sentences")["far_from_measured"]
    return table("sentences")["not_counted"] if is_refused else ""
