"""What the pages print of the other properties: one row a quantity, and the models with their bounds and record."""

import re
from math import ceil

import numpy as np

from server.glass.view import ANALYSIS_REFUSED, STATE_WORDS
from server.physics.bounds import Glasses
from server.physics.composition import OXIDES
from server.physics.properties import QUANTITIES, RULES, asked_model, estimate_properties, report_properties
from server.physics.report import sentence, why
from server.physics.table import property_models, table
from server.web.page import formula, number

_LOW_FIGURES = re.compile(r"(?<=[A-Za-z])\d+")
__all__ = ["RULES", "model_rows", "records", "rows", "source"]


def rows(made: dict) -> list[dict]:
    """One row a quantity from a glass's report; none where the analysis itself was refused."""
    if any(note["code"] in ANALYSIS_REFUSED for note in made["notes"]):
        return []
    wt, mol = (np.array([[made[unit].get(name, 0.0) for name in OXIDES]]) for unit in ("wt", "mol"))
    found = estimate_properties(Glasses(wt, mol), np.array([True]))
    return [_row(prop, made) for prop in report_properties(found, 0)]


def _row(prop: dict, made: dict) -> dict:
    return {
        "label": prop["label"],
        "at_c": prop["at_c"],
        "value": _value(prop),
        "carried": prop["state"] == "extrapolated",
        "said": _said(prop, made),
        "apart": _apart(prop),
        "warning": _devitrifies(prop, made) if prop["key"] == "liquidus" else "",
    }


def _devitrifies(prop: dict, made: dict) -> str:
    """Where a long hold may grow crystals; empty without both temperatures, or where the liquidus lies below the softening point."""
    softening = made["points"] and made["points"]["softening"]["t_c"]
    if prop["value"] is None or not softening or prop["value"] <= softening:
        return ""
    return sentence("devitrifies", {"soft": softening, "liquidus": prop["value"], "u": prop["u"]})


def _value(prop: dict) -> str:
    """'2.49 ± 0.02 g/cm³'; the ± is rounded up. Empty where nobody answered."""
    if prop["value"] is None:
        return ""
    step = 10 ** prop["digits"]
    u = ceil(prop["u"] * step - 1e-6) / step
    return f"{number(prop['value'], prop['digits'])} ± {number(u, prop['digits'])} {prop['unit']}".strip()


def _said(prop: dict, made: dict) -> str:
    """'Appen 16; Dietzel': the glasses that were counted, none by its stated error; and why a model did not simply answer.

    Models of one state and one reason share it; "carried further" already stands beside the estimate.
    """
    groups: dict[tuple[str, str], list[str]] = {}
    for said in prop["said"]:
        reason = "" if said["state"] == "answered" else _why(said, asked_model(said["model"], prop["key"]), made)
        state = "" if said["used"] else STATE_WORDS[said["state"]].replace("carried further", "not used")
        groups.setdefault((state, reason), []).append(f"{said['name']} {said['glasses_counted'] or ''}".strip())
    return "; ".join(_group(", ".join(names), state, reason) for (state, reason), names in groups.items())


def _group(names: str, state: str, reason: str) -> str:
    told = " ".join(part for part in (names, state) if part)
    return f"{told}: {_LOW_FIGURES.sub(lambda m: formula(m[0]), reason)}" if reason else told


def _why(said: dict, model: dict, made: dict) -> str:
    if said["lacking"]:
        return f"needs {QUANTITIES[said['lacking']]['label'].lower()}"
    if said["state"] == "refused" and said["broken"] < 0 and "no_answer" in model:
        return model["no_answer"]
    if said["broken"] < 0 and said["ignored_wt"] > table("rules")["ignored"]["note_above_wt"]:
        return f"{said['ignored_wt']:.1f} wt% unknown to it"
    return why(said, model, made["wt"], made["mol"], False) or "what it needs was carried further"


def _apart(prop: dict) -> str:
    """The plain line where two models disagree by more than their errors, else empty."""
    if prop["apart"] is None:
        return ""
    one, other = prop["apart"]["models"]
    digits = prop["digits"] + (prop["digits"] > 0)
    low, high = (round(value, digits) for value in prop["apart"]["values"])
    told = f"{one} {number(low, digits)}, {other} {number(high, digits)}: {number(abs(high - low), digits)} {prop['unit']}"
    return f"{told.strip()} apart, more than their errors"


def model_rows() -> list[dict]:
    """Every model file with the answers that it gives, for the models page."""
    return [{**model, "gives": [_gives(key, answer) for key, answer in model["answers"].items()]} for model in property_models()]


def _gives(key: str, answer: dict) -> dict:
    """A quantity, and in words the errors and corrections of one model's answer."""
    stated = f"{number(answer['u_relative'] * 100, 1)} %" if "u_relative" in answer else f"{answer['u_absolute']}"
    told = [
        f"its own error: {answer['published_standard_error']}",
        f"where nothing was counted ± {stated} stands ({answer['u_from']})",
        *(text for text in (answer.get("correction", {}).get("why"), answer.get("note")) if text),
    ]
    return {**QUANTITIES[key], "key": key, "told": "; ".join(told)}


def records(model: dict, quantity: str) -> list[dict]:
    """A model's errors on the open measurements, family by family; none where the stated error stands."""
    own = model["answers"][quantity].get("counted")
    counted = own or table("property_accuracy")["models"].get(model["key"], {}).get(quantity, {})
    labels = {f["key"]: f["label"] for f in table("families")["families"]} | {"any": "all families"}
    return [{"family": labels[f], "side": side, **cell} for f, sides in counted.items() for side, cell in sides.items()]


def source() -> str:
    """The open measurements that the errors were counted on."""
    return table("property_accuracy")["citation"]
