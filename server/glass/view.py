"""What the glass pages print: plain sentences, marks and tables, made from a report."""

import re
from math import ceil, floor

from server.glass import recipe
from server.glass.catalog import Glass
from server.physics.analysis import methods
from server.physics.composition import OXIDES
from server.physics.refusal import why_none
from server.physics.report import sentence, why
from server.physics.table import models, table
from server.web.page import formula

POINT_ROWS = (
    ("working", "Working", "4"),
    ("softening", "Softening", "7.6"),
    ("annealing", "Annealing", "13"),
    ("strain", "Strain", ""),
)
ANALYSIS_REFUSED = frozenset({"unreadable", "weathered_surface", "no_silica", "total_refused", "weathered_layer"})
STATE_WORDS = {"answered": "answered", "extrapolated": "carried further", "stood_aside": "stood aside", "refused": "refused"}
LEFT_OUT = "could be carried further, left out"


NO_CURVE = ANALYSIS_REFUSED | {"no_viscosity_model", "no_sound_curve"}
SAFETY_END = " Your local rules and the safety data sheets come first."
ON_TRUST = frozenset({"total_trust", "weathered_suspect"})
SKIN = frozenset({"weathered_surface", "weathered_layer"})
NOMINAL = re.compile(r"nominal expansion (\d+)")
TRADE_STEP_1E7_K = 5  # glasses further apart are expected to fail together (common practice)


def lead(made: dict) -> str:
    """The one sentence that a bead maker would say of this glass."""
    if made["points"] is None:
        return sentence("lead_refused", {})
    soft, work = made["points"]["softening"], made["points"]["working"]
    codes = {note["code"] for note in made["notes"]}
    code = "lead_extrapolated" if "viscosity_extrapolated" in codes else "lead_on_trust" if codes & ON_TRUST else "lead_ok"
    return sentence(code, {"soft": soft["t_c"], "soft_u": soft["u_k"], "work": work["t_c"]})


def no_curve(made: dict) -> str:
    """Why there are no working temperatures, in a sentence or two."""
    if any(note["code"] == "no_viscosity_model" for note in made["notes"]):
        reason = why_none(made, "viscosity")
        return f"No viscosity model may answer{f': {reason}' if reason else ''}."
    return " ".join(note["text"] for note in made["notes"] if note["code"] in NO_CURVE)


def no_expansion(made: dict) -> str:
    """Why there is no expansion, in a sentence; empty where the analysis itself was refused, which is told elsewhere."""
    if not any(note["code"] == "no_expansion_model" for note in made["notes"]):
        return ""
    return why_none(made, "expansion")


def cautions(made: dict) -> list[str]:
    """What to beware of, hazards first, besides why there is no curve; what several have in common is said once."""
    told = [note["text"] for note in made["notes"] if note["caution"] and note["code"] not in NO_CURVE]
    told.sort(key=lambda text: not text.endswith(SAFETY_END))
    last = max((i for i, text in enumerate(told) if text.endswith(SAFETY_END)), default=-1)
    return [text.removesuffix(SAFETY_END) if i < last else text for i, text in enumerate(told)]


def remarks(made: dict) -> list[str]:
    """What else is to be known of the estimate; of its expansion the page tells beside the figure."""
    return [note["text"] for note in made["notes"] if not note["caution"] and note["code"] not in {"no_expansion_model", "expansion_extrapolated"}]


def asked_further(made: dict, verdicts: list[dict]) -> list[dict]:
    """The models that the page still lists where the box has told of those of viscosity; none where the analysis was refused."""
    if any(note["code"] in ANALYSIS_REFUSED for note in made["notes"]):
        return []
    return [v for v in verdicts if made["points"] or v["quantity"] != "viscosity"]


def no_flame(made: dict) -> str:
    """Why no way to the flame is offered; empty where one is."""
    if made["wt"].get("PbO", 0.0) > table("rules")["flame"]["lead_above_wt"]:
        return sentence("no_flame_lead", {})
    return sentence("no_flame_weathered", {}) if any(note["code"] in SKIN for note in made["notes"]) else ""


def trade_words(alpha: dict, name: str = "") -> str:
    """What the trade would write for such a glass, beside its maker's number where the name has one; where the ± is wider than its steps, that it cannot be called anything."""
    value, u = alpha["value_1e7_k"], alpha["u_1e7_k"]
    if u > TRADE_STEP_1E7_K:
        return f"± {u:.0f} is wider than the steps of about {TRADE_STEP_1E7_K} by which the trade names glass (common practice)"
    told = f"The trade would write about {value:.0f} for it; that is calculated, no maker's number"
    nominal = NOMINAL.search(name)
    if not nominal:
        return told
    gap = value - float(nominal[1])
    return f"{told}. Its nominal {nominal[1]} " + ("lies within the ±" if abs(gap) <= u else f"lies {abs(gap):.0f} {'below' if gap > 0 else 'above'}: trust the maker's")


def short(made: dict) -> str:
    """The same in a few words, for a row of a list."""
    if made["points"] is None:
        return "no working temperatures"
    soft, work = made["points"]["softening"], made["points"]["working"]
    return f"softens {soft['t_c']:.0f} ± {soft['u_k']:.0f} °C, works to {work['t_c']:.0f} °C"


def method_words(glass: Glass) -> str:
    """How the analysis was made, and that it was taken for granted where the source was not read for it."""
    label = methods()[glass.method]["label"]
    return label if glass.kind == "own analysis" or glass.method == "certified" else f"{label} (taken for granted)"


def analysis_share(glass: Glass) -> str:
    """The part of the ± that comes from the analysis, in a sentence."""
    return sentence("analysis_share", {"method": methods()[glass.method]["label"], **glass.report["analysis_u"]})


def heat(made: dict) -> dict | None:
    """What a heat bar needs: four temperatures in °C and the ± in K of its two ends."""
    if made["points"] is None:
        return None
    points = made["points"]
    return {
        **{name: round(points[name]["t_c"], 1) for name in ("strain", "annealing", "softening", "working")},
        "soft-u": round(points["softening"]["u_k"], 1),
        "work-u": round(points["working"]["u_k"], 1),
    }


def bar_scale(made: dict) -> str:
    """Limits of the bar's scale in °C: the common one, wider in steps of 50 where this glass needs it."""
    low = min(450, floor(made["points"]["strain"]["t_c"] / 50) * 50)
    high = max(1150, ceil((made["points"]["working"]["t_c"] + made["points"]["working"]["u_k"]) / 50) * 50)
    return f"{low} {high}"


def is_hazardous(made: dict) -> bool:
    """True where the analysis shows what a flame would drive off as poisonous fume."""
    return any(note["code"].startswith("hazard_") for note in made["notes"])


def curve(glass: Glass) -> dict | None:
    """What the curve picture needs; None where there is no curve."""
    made = glass.report
    if made["vft"] is None:
        return None
    u = {name: made["points"][name]["u_k"] for name in ("working", "softening", "annealing")}
    points = {name: made["points"][name]["t_c"] for name in ("strain", "annealing", "softening", "working")}
    return _rounded({"key": glass.key, "name": glass.name, "status": made["status"], "vft": made["vft"], "u": u, "points": points})


def summary(glass: Glass) -> dict:
    """A catalogue line for the tablet: enough to choose and to compare without the desk."""
    made = glass.report
    alpha = made["alpha"]
    return {
        "key": glass.key,
        "name": glass.name,
        "family": glass.family,
        "words": glass.words,
        "short": short(made),
        "source": glass.source,
        "status": made["status"],
        "alpha": None if alpha is None else [round(alpha["value_1e7_k"], 1), round(alpha["u_1e7_k"], 1)],
        "curve": curve(glass),
        "wt": {name: round(float(share), 4) for name, share in zip(OXIDES, glass.wt, strict=True) if share > 0},
        "method": glass.method or "not stated",
        "weathered": "weathered" in (glass.surface, glass.method.removesuffix("-surface")),
        **recipe.origins(glass.made),
    }


def _rounded(value):
    """Numbers to six figures, to keep the tablet's copy small."""
    if isinstance(value, dict):
        return {key: _rounded(x) for key, x in value.items()}
    return float(f"{value:.6g}") if isinstance(value, float) else value


def verdict_rows(made: dict) -> list[dict]:
    """What each model said, in words, with its record on measured glasses of this family."""
    by_key = {model["key"]: model for model in models()}
    return [_verdict_row(v, by_key[v["model"]], made) for v in made["verdicts"]]


def _verdict_row(verdict: dict, model: dict, made: dict) -> dict:
    refused = any(n["code"] in ANALYSIS_REFUSED for n in made["notes"])
    return {
        "name": model["name"],
        "quantity": verdict["quantity"],
        "state": LEFT_OUT if verdict["state"] == "extrapolated" and not verdict["used"] else STATE_WORDS[verdict["state"]],
        "used": verdict["used"],
        "why": why(verdict, model, made["wt"], made["mol"], refused),
        "says": _says(verdict),
        "record": _record(verdict),
        "key": model["key"],
        "citation": model["citation"],
    }


def _says(verdict: dict) -> str:
    if verdict["values"] is None:
        return ""
    if verdict["quantity"] == "expansion":
        return f"{verdict['values'][0]:.0f} × 10⁻⁷/K"
    return " / ".join(f"{t:.0f}" for t in verdict["values"]) + " °C"


def _record(verdict: dict) -> str:
    """How the model did on measured glasses: at the softening point, or for expansion."""
    if verdict["record"] is None:
        return ""
    cell = verdict["record"][1 if verdict["quantity"] == "viscosity" else 0]
    unit = "K" if verdict["quantity"] == "viscosity" else "× 10⁻⁷/K"
    where = "of this family" if cell["family"] != "any" else "of all families"
    bias = f"{round(cell['bias']):+d}".replace("-", "−")
    return f"{cell['n']} measured glasses {where}: typically {bias} {unit}, 68 of 100 within ±{cell['u']:.0f}, 95 within ±{cell['u95']:.0f}"


def fit_versions() -> str:
    """Name and version of every learnt fit of the estimate, for the foot of a printed page."""
    return ", ".join(f"{model['name'][0].lower()}{model['name'][1:]} version {model['version']}" for model in models() if "version" in model)


def bound_words(bounds: list[dict] | None) -> str:
    """Bounds as one prints them: 'SiO₂ 61–77, CaO + MgO 5–12 wt%'."""
    if not bounds:
        return "never"
    return "; ".join(_bound(b) for b in bounds)


def _bound(bound: dict) -> str:
    what = formula(" + ".join(bound["of"]))
    if "min" not in bound:
        limits = f"to {bound['max']:g}"
    elif "max" not in bound:
        limits = f"from {bound['min']:g}"
    else:
        limits = f"{bound['min']:g}–{bound['max']:g}"
    return f"{what} {limits} {bound['unit']}%"


def record_rows(model: dict) -> list[dict]:
    """A model's errors on the open measurements, family by family, inside and outside its bounds."""
    counted = table("accuracy")["models"][model["key"]]
    labels = {f["key"]: f["label"] for f in table("families")["families"]} | {"any": "all families"}
    prop = "7.6" if model["quantity"] == "viscosity" else "alpha"
    cells = [(labels[f], side, counted[f][side].get(prop)) for f in counted for side in ("inside", "outside")]
    return [{"family": family, "side": side, **cell} for family, side, cell in cells if cell]
