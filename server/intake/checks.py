"""What a specialist looks for in an analysis before using it: notes with a code and a plain sentence. Thresholds: data/checks.json and the rules of physics."""

import json
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np

from server.errors import BadComposition
from server.intake.rows import Figure, Note, Row
from server.physics.composition import INDEX, OXIDE_OF_ELEMENT, Amount, parse_number, wt_pct_from_ppm, wt_pct_of
from server.physics.table import table
from server.web.page import formula

BEAM_METHODS = ("epma-icp",)


@cache
def limits() -> dict:
    """Thresholds with where each comes from."""
    return json.loads((Path(__file__).with_name("data") / "checks.json").read_text(encoding="utf-8"))


def wt_of(row: Row) -> np.ndarray:
    """wt% by OXIDES of a row's readable figures. Raises BadComposition, as the desk will when the glass is stored."""
    return wt_pct_of([_amount(f) for f in row.figures if not f.problem])


def _amount(figure: Figure) -> Amount:
    value, limit = parse_number(figure.text, figure.of)
    return Amount(figure.of, value, figure.unit, limit)


def notes_on(row: Row, wt: np.ndarray, method: str) -> list[Note]:
    """Findings on one analysis, those that speak against ticking it first. wt: (oxides,) in wt%."""
    found = [_name(row), _spare(row), _total(wt), _scatter(row), _stated(row, wt), _by_difference(row, wt), _alkali(row, wt), _beam(row, wt, method), _light(wt, method), _twice(row)]
    found += [_drift(row, method), None if _scatter(row) else _apart(row), *row.doubts]
    return sorted((note for note in found if note), key=lambda note: not note.unticks)


def _name(row: Row) -> Note | None:
    return None if row.label else Note("no_name", "It has no name. Type one to keep it.", unticks=True)


def _spare(row: Row) -> Note | None:
    if not row.is_spare:
        return None
    lines = [part.line for part in row.parts]
    where = f"{row.where}s {lines[0]} to {lines[-1]}" if len(lines) > 1 else f"{row.where} {lines[0]}"
    return Note("mean_of_rows", f"Not ticked: it is the mean of {where}, which {'are' if len(lines) > 1 else 'is'} here by {'themselves' if len(lines) > 1 else 'itself'}.", unticks=True)


def _total(wt: np.ndarray) -> Note | None:
    total, rules, (least, most) = wt.sum(), table("rules")["totals"], limits()["totals"]["tick_wt"]
    if not least <= total <= most:
        return Note("total_far", f"Not ticked: the total is {total:.1f}, outside {least}–{most}. Something is missing, counted twice, or in another unit.", True, True)
    if not rules["trust"][0] <= total <= rules["trust"][1]:
        limit = f"below {rules['trust'][0]}" if total < 100 else f"above {rules['trust'][1]}"
        return Note("total_no_estimate", f"The total is {total:.1f}. It can be kept, but nothing is estimated {limit}.", True)
    if not rules["accept"][0] <= total <= rules["accept"][1]:
        side = "below" if total < 100 else "above"
        return Note("total_off", f"The total is {total:.1f}, {side} the usual {rules['accept'][0]}–{rules['accept'][1]}.", not rules["note"][0] <= total <= rules["note"][1])
    return None


def _scatter(row: Row) -> Note | None:
    """A mean whose rows cannot be one glass."""
    rule = limits()["scatter"]
    if row.kind != "mean" and (row.n or 1) < 2:
        return None
    for figure in row.figures:
        value = None if figure.problem or figure.sd is None else row.value(figure.of)
        if not value:
            continue
        oxide = OXIDE_OF_ELEMENT[figure.of] if figure.unit == "ppm" else figure.of
        share = figure.sd / value
        is_main = (wt_pct_from_ppm(figure.of, value) if figure.unit == "ppm" else value) > rule["main_above_wt"]
        if share > (rule["silica_relative"] if oxide == "SiO2" else rule["main_relative"]) and is_main:
            instead = " If so, tick the rows themselves." if row.parts else ""
            return Note("scatter", f"Not ticked: {formula(figure.of)} is {figure.shown} ± {figure.spread}, too far apart for one glass. These may be different glasses.{instead}", True, True)
    return None


def _stated(row: Row, wt: np.ndarray) -> Note | None:
    apart = abs(wt.sum() - row.stated_total) if row.stated_total else 0.0
    if apart <= limits()["stated_total"]["apart_wt"] or not 50 < row.stated_total < 150:
        return None
    return Note("total_differs", f"The table gives a total of {row.stated_total:g}, the columns read add up to {wt.sum():.2f}: a column may be missing, or read in the wrong unit.", True)


def _by_difference(row: Row, wt: np.ndarray) -> Note | None:
    rule = limits()["by_difference"]
    if np.count_nonzero(wt) < rule["least_oxides"] or abs(wt.sum() - 100) > rule["near_wt"]:
        return None
    return Note("by_difference", "The figures add up to exactly 100: brought to 100, or silica taken by difference. The total then proves nothing.")


def _alkali(row: Row, wt: np.ndarray) -> Note | None:
    rule, fluxes = limits()["alkali"], limits()["other_fluxes"]
    family = row.facts["family"].lower()
    soda, potash = wt[INDEX["Na2O"]], wt[INDEX["K2O"]]
    if wt[INDEX["SiO2"]] < 30 or sum(wt[INDEX[of]] for of in fluxes["of"]) > fluxes["above_wt"]:
        return None
    says = {key: any(word in family for word in rule[f"{key}_words"]) for key in ("mixed", "potash", "soda")}
    weathering = "Weathering leaches alkali first: was a fresh section analysed?"
    if says["potash"] and not says["mixed"] and potash < rule["potash_below_wt"]:
        return Note("alkali_low", f"K₂O is {potash:.1f} wt%, low for a potash glass. {weathering}", True)
    if says["soda"] and not says["mixed"] and not says["potash"] and soda < rule["soda_below_wt"]:
        return Note("alkali_low", f"Na₂O is {soda:.1f} wt%, low for a soda glass. {weathering}", True)
    if soda + potash < rule["any_below_wt"] and wt[INDEX["CaO"]] < 20:
        return Note("alkali_low", f"Na₂O and K₂O together are {soda + potash:.1f} wt%, less than an ancient glass was melted with. {weathering}", True)
    return None


def _beam(row: Row, wt: np.ndarray, method: str) -> Note | None:
    rule = limits()["beam"]
    if method not in BEAM_METHODS or wt.sum() >= rule["total_below_wt"] or wt[INDEX["Na2O"]] < rule["soda_above_wt"] or _drift(row, method):
        return None
    return Note("soda_loss", f"The total is {wt.sum():.1f}. If it was an electron beam, sodium may have left the spot and Na₂O reads low; a broad beam avoids it.")


def _drift(row: Row, method: str) -> Note | None:
    """Sodium falling while silica rises from spot to spot."""
    values = [(part.value("Na2O"), part.value("SiO2")) for part in row.parts]
    if method not in BEAM_METHODS or len(values) < 2 or any(v is None for pair in values for v in pair):
        return None
    soda, silica = np.array(values).T
    if np.ptp(soda) < limits()["beam"]["apart_wt"] or np.ptp(silica) == 0 or np.corrcoef(soda, silica)[0, 1] > -0.8:
        return None
    return Note("soda_loss", f"Between the repeats Na₂O goes from {soda.max():.1f} to {soda.min():.1f} wt% while SiO₂ rises: sodium lost under the electron beam. Trust the highest Na₂O.", True)


def _apart(row: Row) -> Note | None:
    silica = [v for part in row.parts if (v := part.value("SiO2")) is not None]
    if len(silica) < 2 or max(silica) - min(silica) <= limits()["repeats"]["apart_wt"]:
        return None
    return Note("repeats_apart", f"SiO₂ of the repeats goes from {min(silica):.1f} to {max(silica):.1f} wt%: one glass, or several under one label?", True)


def _light(wt: np.ndarray, method: str) -> Note | None:
    soda, potash = wt[INDEX["Na2O"]], wt[INDEX["K2O"]]
    if method == "portable-xrf" and soda < 1:
        return Note("no_soda", "Portable XRF does not see sodium. Without Na₂O a soda glass would be read far too stiff.", True)
    if soda + potash == 0 and wt[INDEX["SiO2"]] > 30:
        return Note("no_alkali", "No alkali was read in this row. Is a column missing?", True)
    return None


def _twice(row: Row) -> Note | None:
    for low, high in (("FeO", "Fe2O3"), ("Sb2O3", "Sb2O5"), ("As2O3", "As2O5"), ("Cu2O", "CuO")):
        if row.value(low) and row.value(high):
            return Note("two_oxides", f"Both {low} and {high} are given and both are counted. If each stands for all of the metal, set one column to “Not used”.")
    for figure in row.figures:
        if figure.unit == "ppm" and row.value(figure.of) and row.value(OXIDE_OF_ELEMENT[figure.of]) and OXIDE_OF_ELEMENT[figure.of] != figure.of:
            return Note("two_oxides", f"Both {figure.of} and {OXIDE_OF_ELEMENT[figure.of]} are given and both are counted. If they are the same metal, set one column to “Not used”.", True)
    return None


def readable(row: Row) -> tuple[np.ndarray | None, str]:
    """(wt% by OXIDES, '') of a row that can be kept, or (None, the reason)."""
    problems = [f.problem for f in row.figures if f.problem]
    if row.kind not in ("single", "mean", "part"):
        others = {"limit": "a row of limits or statistics", "heading": "the headings again", "other headings": "other headings"}
        return None, row.problem or others.get(row.kind, "words, no figures")
    if problems:
        return None, problems[0] + (f" And {len(problems) - 1} more." if len(problems) > 1 else "")
    if not row.figures:
        return None, "no figure of an oxide or element in it"
    try:
        wt = wt_of(row)
    except BadComposition as error:
        return None, error.message
    return (wt, "") if wt.sum() > 0 else (None, "every figure is nothing or below its limit")


def twins(rows: list[tuple[Row, np.ndarray]], at_the_desk: set[str]) -> dict[int, list[Note]]:
    """Notes by place in rows: one label twice, the same figures twice, or a name that the bench book has already."""
    found: dict[int, list[Note]] = {}
    for i, (row, _wt) in enumerate(rows):
        if row.label and row.label.lower() in at_the_desk:
            found.setdefault(i, []).append(Note("at_the_desk", f"A glass called {row.label} is in the bench book already.", unticks=True))
    alone = [i for i, (row, _wt) in enumerate(rows) if row.kind != "part"]
    for a, b in combinations(alone, 2):
        (first, wt_a), (second, wt_b) = rows[a], rows[b]
        if np.count_nonzero(wt_a) >= limits()["duplicate"]["least_oxides"] and np.abs(wt_a - wt_b).max() < limits()["duplicate"]["apart_wt"]:
            found.setdefault(b, []).append(Note("same_figures", f"The same figures as {first.where} {first.line}{f' ({first.label})' if first.label else ''}: one sample twice?", True, True))
        elif first.label and first.label.lower() == second.label.lower():
            found.setdefault(b, []).append(Note("same_label", f"{first.where.capitalize()} {first.line} has the same label with other figures."))
    return found
