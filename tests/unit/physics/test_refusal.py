"""Why no model may answer, in words: the bound that is named is one that the glass really passes, whatever its kind."""

import re
from functools import cache

import numpy as np
import pytest

from server.glass import catalog
from server.physics.bounds import Glasses, figures, holds, passed
from server.physics.composition import OXIDES
from server.physics.refusal import shared_limits, shared_reasons, why_none
from server.physics.estimate import estimate
from server.physics.report import estimate_one, report, why
from server.physics.table import models, models_of
from tests import glasses as g
from tests.browser.test_parity import edge_glasses, random_glasses

WT, MOL = {"SiO2": 80.0, "Na2O": 4.0, "B2O3": 13.04}, {"SiO2": 82.5, "CaO": 3.0, "MgO": 4.0, "Al2O3": 1.0}


@pytest.mark.parametrize(
    ("bound", "words"),
    [
        ({"of": ["SiO2"], "unit": "mol", "max": 80}, ("above", "SiO2", "82.5", "80")),
        ({"of": ["SiO2"], "unit": "wt", "min": 81}, ("below", "SiO2", "80.0", "81")),
        ({"of": ["SiO2"], "unit": "mol", "min": 45, "max": 80}, ("above", "SiO2", "82.5", "80")),
        ({"of": ["CaO", "MgO"], "unit": "mol", "min": 8, "max": 12}, ("below", "CaO + MgO", "7.0", "8")),
        ({"of": ["CaO", "MgO"], "minus": ["Al2O3"], "unit": "mol", "max": 5.5}, ("above", "CaO + MgO less Al2O3", "6.0", "5.5")),
        ({"of": ["Al2O3"], "minus": ["CaO", "MgO"], "unit": "mol", "min": 0}, ("below", "Al2O3 less CaO + MgO", "−6.0", "0")),
        ({"of": ["B2O3"], "unit": "wt", "max": 13}, ("above", "B2O3", "13.04", "13")),
        ({"of": ["SiO2"], "unit": "mol", "max": 90}, None),
        ({"of": ["PbO"], "unit": "wt", "min": 0, "max": 4}, None),
    ],
)
def test_every_kind_of_bound_in_words(bound, words):
    found = passed(bound, WT, MOL)
    assert found == (words and (words[0], {"what": words[1], "value": words[2], "limit": words[3], "unit": bound["unit"]}))


def test_printed_figures_show_the_side():
    assert figures(1.06, 1.05) == ("1.1", "1.05") and figures(1.051, 1.05) == ("1.1", "1.05")
    assert figures(13.001, 13) == ("13.001", "13") and figures(44.13, 4) == ("44.1", "4")


CLAIM = re.compile(r"^(?P<what>\S.*?) (?P<value>−?[\d.]+) (?P<unit>wt|mol)% is (?P<side>below|above) \D+\(?(?P<limit>−?[\d.]+) (?:wt|mol)%\)?")


def claims(text: str) -> list[tuple[str, float, float]]:
    """(side, value, limit) of every clause that names a limit."""
    found = [CLAIM.match(part.split(": ")[-1]) for part in text.split("; ")]
    return [(m["side"], float(m["value"].replace("−", "-")), float(m["limit"].replace("−", "-"))) for m in found if m]


@cache
def every_report() -> list[dict]:
    """Random glasses, those at the edges and the catalogue; reckoned once, all together."""
    rows = random_glasses(np.random.default_rng(7)) + edge_glasses()
    made = estimate(np.array(rows))
    return [report(made, i) for i in range(len(rows))] + [glass.report for glass in catalog.glasses().values()]


def test_no_sentence_contradicts_its_own_figures():
    """'7.7 is above 35' was once said: of every glass and model, what is called above is greater, and below less."""
    by_key = {m["key"]: m for m in models()}
    said = []
    for made in every_report():
        texts = [why(v, by_key[v["model"]], made["wt"], made["mol"], False) for v in made["verdicts"]]
        codes = {note["code"] for note in made["notes"]}
        texts += [why_none(made, q) for q in ("viscosity", "expansion") if f"no_{q}_model" in codes]
        said += [claim for text in texts for claim in claims(text)]
    assert len(said) > 3000
    assert [c for c in said if (c[1] > c[2]) != (c[0] == "above") or c[1] == c[2]] == []


def test_a_refusal_inside_the_reach_names_its_true_cause():
    """Barium 13.8 wt% is not in English and Turner: that refuses it, not the alkali that only stretched it."""
    made = catalog.find("chn-pbba-42u1").report
    verdict = next(v for v in made["verdicts"] if v["model"] == "english-turner-1927")
    model = next(m for m in models() if m["key"] == "english-turner-1927")
    assert verdict["state"] == "refused" and "unknown to it" in why(verdict, model, made["wt"], made["mol"], False)


def test_the_shared_limit_is_one_that_every_model_refuses_at():
    for quantity in ("viscosity", "expansion"):
        for side, bound, limit in shared_limits(quantity, "all"):
            beyond = limit + (-1e-6 if side == "below" else 1e-6)
            row = np.zeros((1, len(OXIDES)))
            row[0, OXIDES.index(bound["of"][0])] = beyond
            glass = Glasses(row, row)
            for model in models_of(quantity):
                assert not all(holds(glass, b) for b in model["reach"] or model["bounds"] if b["of"] == bound["of"] and b["unit"] == bound["unit"])


def test_lead_and_boron_are_told_in_one_clause():
    """The limits stand in every viscosity model's file: lead 4 wt%, boron at most 2 wt%."""
    assert why_none(estimate_one(g.LEAD_29), "viscosity") == "PbO 29.0 wt% is above every model's limit (4 wt%)"
    assert why_none(estimate_one(g.BOROSILICATE), "viscosity") == "B2O3 13.0 wt% is above every model's limit (2 wt%)"


def test_each_glass_without_a_model_has_a_reason():
    for made in every_report():
        for quantity in ("viscosity", "expansion"):
            if any(note["code"] == f"no_{quantity}_model" for note in made["notes"]):
                assert len(why_none(made, quantity)) > 20


def test_reasons_of_many_are_those_of_one():
    rows = [g.LEAD_29, g.FLOAT, g.BOROSILICATE, g.LEAD_22]
    made = [estimate_one(row) for row in rows]
    wt, mol = (np.array([[m[unit].get(n, 0.0) for n in OXIDES] for m in made]) for unit in ("wt", "mol"))
    where = np.array([m["points"] is None for m in made])
    many = shared_reasons(Glasses(wt, mol), "viscosity", where)
    assert many == [why_none(m, "viscosity") if w else "" for m, w in zip(made, where, strict=True)]
