"""Reading figures as published: what is understood, what is refused, and that the refusal names the field."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.errors import BadComposition
from server.physics.composition import INDEX, OXIDES, Amount, amount, base_glass, parse_number, wt_pct_of


@pytest.mark.parametrize(("text", "value", "limit"), [
    ("66.4", 66.4, None), ("66,4", 66.4, None), (" 0.85 ", 0.85, None), (".5", 0.5, None), ("1e-2", 0.01, None), ("0,045", 0.045, None),
    ("", 0.0, None), ("bd", 0.0, None), ("n.d.", 0.0, None), ("–", 0.0, None), ("tr.", 0.0, None), ("NaN", 0.0, None), ("<LOD", 0.0, None),
    ("<0.05", 0.0, 0.05), ("< 0,05", 0.0, 0.05), ("0", 0.0, None),
])
def test_understood(text, value, limit):
    assert parse_number(text, "Na2O") == (value, limit)


@pytest.mark.parametrize(("text", "code"), [
    ("-1", "negative"), ("−0.5", "negative"), ("<-1", "negative"), ("abc", "not_a_number"), ("1.2.3", "not_a_number"), ("1,250", "ambiguous_comma"),
    ("17.2 ± 0.3", "not_a_number"), ("12.1-14.3", "not_a_number"), ("inf", "not_a_number"), ("1_000", "not_a_number"), (":", "not_a_number"),
])
def test_refused_naming_the_field(text, code):
    with pytest.raises(BadComposition) as caught:
        parse_number(text, "Na2O")
    assert caught.value.code == code
    assert caught.value.details["field"] == "Na2O"
    assert "Na2O" in caught.value.message


@pytest.mark.parametrize(("name", "text", "unit", "code"), [
    ("Unobtainium", "1", "wt", "unknown_name"), ("Si", "1", "wt", "unknown_name"), ("SiO2", "1", "ppm", "unknown_name"),
    ("SiO2", "100.1", "wt", "too_large"), ("SiO2", "101", "mol", "too_large"), ("Co", "1000001", "ppm", "too_large"),
])
def test_impossible_amounts(name, text, unit, code):
    with pytest.raises(BadComposition) as caught:
        amount(name, text, unit)
    assert caught.value.code == code


def test_mol_cannot_be_mixed():
    with pytest.raises(BadComposition) as caught:
        wt_pct_of([Amount("SiO2", 70, "mol"), Amount("Co", 50, "ppm")])
    assert caught.value.code == "mixed_units"


def test_given_twice():
    with pytest.raises(BadComposition) as caught:
        wt_pct_of([Amount("SiO2", 70, "wt"), Amount("SiO2", 1, "wt")])
    assert caught.value.details["field"] == "SiO2"


def test_ppm_adds_to_the_oxide():
    wt = wt_pct_of([Amount("SiO2", 70, "wt"), Amount("CoO", 0.1, "wt"), Amount("Co", 100, "ppm")])
    assert wt[INDEX["CoO"]] == pytest.approx(0.1 + 0.01271, abs=1e-5)


def test_mol_total_is_kept_for_the_gate():
    """A mol% analysis that adds up to 80 must not look like a full one."""
    assert wt_pct_of([Amount("SiO2", 60, "mol"), Amount("Na2O", 20, "mol")]).sum() == pytest.approx(80)


def test_chlorine_is_left_out_of_the_base():
    base = base_glass(wt_pct_of([Amount("SiO2", 70, "wt"), Amount("Cl", 1, "wt")])[None, :])[0]
    assert base[INDEX["SiO2"]] == pytest.approx(100)
    assert base[INDEX["Cl"]] == 0


@given(st.lists(st.floats(0, 50), min_size=len(OXIDES), max_size=len(OXIDES)))
def test_base_glass_is_100_or_nothing(amounts):
    total = base_glass(np.array([amounts])).sum()
    assert total == pytest.approx(100) or total == 0


@given(st.text(max_size=12))
def test_any_text_is_read_or_refused(text):
    try:
        value, limit = parse_number(text, "SiO2")
    except BadComposition:
        return
    assert value >= 0 and np.isfinite(value) and (limit is None or limit >= 0)
