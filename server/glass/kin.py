"""What a glass of the book is consistent with, from its figures as published or typed; made when a page asks, and kept for the catalogue."""

from dataclasses import replace

import numpy as np

from server.glass.catalog import Glass
from server.physics.composition import INDEX, OXIDE_OF_ELEMENT, Amount, amount, wt_pct_of
from server.physics.kin import VERDICTS
from server.physics.kin_report import kin_report
from server.physics.table import table

NOT_DETECTED = {"bd", "b.d.", "bdl", "b.d.l.", "<lod", "<dl", "nd", "n.d.", "tr", "tr.", "trace"}
UNTRUSTED = {"unreadable", "weathered_surface", "total_refused", "weathered_layer"}
UNITS = {"wt%": "wt", "mol%": "mol", "ppm": "ppm"}


def _typed(name: str, text: str) -> tuple[Amount, str]:
    """The amount of a printed cell ('0.7', '<0.05 wt%', '120 ppm') and its figure as text."""
    figure, _, unit = text.rpartition(" ")
    figure, unit = (figure, UNITS[unit]) if unit in UNITS else (text, "wt")
    return amount(name, figure, unit), figure.strip().lower()


def most_wt(glass: Glass) -> np.ndarray:
    """The most wt% that each oxide may be, shape (oxides,): the value, the limit after '<', inf where nothing was reported."""
    least_seen = table("kin")["margin"]["not_detected_wt"]
    cells = [_typed(name, text) for name, text in glass.published.items()]
    most = np.full(len(INDEX), np.inf)
    upper = wt_pct_of([replace(a, value=a.limit) if a.limit else a for a, _ in cells])
    for a, figure in cells:
        at = INDEX[OXIDE_OF_ELEMENT[a.name] if a.unit == "ppm" else a.name]
        if a.value or a.limit or figure in NOT_DETECTED or figure.strip("0.,") == "":
            most[at] = max(upper[at], least_seen if figure in NOT_DETECTED else 0.0)
    return most


def kin_of(glass: Glass) -> dict | None:
    """What the page tells of a glass's kin; None where its analysis cannot be trusted to say anything."""
    codes = {note["code"] for note in glass.report["notes"]}
    if "no_silica" in codes:
        codes.discard("total_refused")
    if UNTRUSTED & codes:
        return None
    return told(kin_report(glass.wt, most_wt(glass)))


def told(made: dict) -> dict:
    """A kin report as the page tells it: what fits, groups under their family, then near misses; what cannot be judged apart.

    Groups that cannot be judged are told only where their family fits.
    """
    by_key = {line["key"]: line for line in made["lines"]}
    fits = [line for line in made["lines"] if line["verdict"] in ("consistent", "near miss")]
    families = sorted((line for line in fits if not line["within"]), key=_rank)
    lines = [line for family in families for line in (family, *sorted((x for x in fits if x["within"] == family["key"]), key=_rank))]
    judged = {line["key"] for line in families} | {None}
    recycling = made["recycling"]
    return {
        "told": lines,
        "cannot": [line for line in made["lines"] if line["verdict"] == "cannot say" and line["within"] in judged],
        "nearest": [by_key[key] for key in made["nearest"]],
        "phosphate": made["phosphate"],
        "recycling": recycling_words(recycling) if recycling else "",
        "cites": _cites(lines, made),
        "brought_to_100": made["brought_to_100"],
    }


def _cites(lines: list[dict], made: dict) -> list[str]:
    """Short citations of what the page tells, each once."""
    cites = [line["cite"] for line in lines]
    if made["phosphate"]:
        cites.append(made["phosphate"]["cite"])
    if made["recycling"]:
        cites += [table("kin")["recycling"][part]["cite"] for part in ("mixed", "raised")]
    return list(dict.fromkeys("; ".join(cites).split("; "))) if cites else []


def _rank(line: dict) -> int:
    return VERDICTS.index(line["verdict"])


def recycling_words(found: dict) -> str:
    """The marks of recycling of a glass in one sentence, without its full stop."""
    band = table("kin")["recycling"]["raised"]
    parts = []
    if found["mixed"]:
        parts.append(f"{' and '.join(found['mixed'])} wt% together, so two decolourants were mixed")
    if found["raised"]:
        parts.append(f"{', '.join(found['raised'])} mg/kg, more than sand brings and less than a colour needs")
    if found["above"]:
        parts.append(f"{', '.join(found['above'])} mg/kg, enough to have been added")
    if len(found["not_reported"]) == len(band["elements"]) and not parts:
        return "nothing to judge by was reported"
    if not parts:
        parts.append("none among what was reported, which proves nothing: like remelted with like leaves no mark")
    if found["not_reported"]:
        parts.append(f"{', '.join(found['not_reported'])} not reported")
    return "; ".join(parts)
