"""One cell: amounts, limits, not found, ±, decimal marks; or a sentence."""

import json
from decimal import Decimal as D
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.errors import BadComposition, Refused
from server.glass.cells import Exact, decimal_mark, read_cell, read_typed

CASES = json.loads((Path(__file__).parents[2] / "reference/values/cells.json").read_text(encoding="utf-8"))["cells"]


@pytest.mark.parametrize(("text", "value", "sd"), [
    ("12.3", "12.3", None), ("12,3", "12.3", None), (" 0,05 ", "0.05", None), (".5", "0.5", None), ("1.2E-3", "0.0012", None), ("12.3 ± 0.2", "12.3", "0.2"),
    ("12,3±0,2", "12.3", "0.2"), ("12.3 +/- 0.2", "12.3", "0.2"), ("12.3 (0.2)", "12.3", "0.2"), ("12.34(5)", "12.34", "0.05"), ("8.0(2)", "8.0", "0.2"), ("12.3 (5)", "12.3", None),
    ("12.3*", "12.3", None), ("12.3†", "12.3", None), ("12.3 a", "12.3", None), ("~0.4", "0.4", None), ("ca. 0.4", "0.4", None), ("+3.1", "3.1", None), ("69.5 %", "69.5", None), ("69.5 wt%", "69.5", None),
    ("12\u00a0500", "12500", None), ("12’500", "12500", None), ("1.234,5", "1234.5", None), ("1,234.5", "1234.5", None), ("1,234,567", "1234567", None), ("１２．３", "12.3", None),
])
def test_amounts(text, value, sd):
    cell = read_cell(text, "", 1e7)
    assert (cell.value, cell.sd, cell.is_below) == (D(value), sd and D(sd), False)
    assert cell.raw == text.strip()


@pytest.mark.parametrize("text", ["b.d.", "bd", "BDL", "n.d.", "nd", "tr.", "trace", "–", "-", "<LOD", "< LOD", "<DL", "n.n.", "Spuren", "traces", "tracce", "not detected", "below detection", "<NWG", "n/a", ""])
def test_not_found(text):
    assert read_cell(text).value is None


@pytest.mark.parametrize(("text", "limit"), [("<0.05", "0.05"), ("< 0,05", "0.05"), ("≤0.05", "0.05"), ("<5", "5"), ("＜0.05", "0.05")])
def test_limits(text, limit):
    cell = read_cell(text)
    assert cell.is_below and cell.value == D(limit)


@pytest.mark.parametrize(("text", "code"), [
    ("abc", "not_a_number"), ("1.2.3", "not_a_number"), ("12,,3", "not_a_number"), ("2026-05-12", "a_date"), ("12. Mai", "a_date"), ("12-May", "a_date"), ("#DIV/0!", "failed_formula"), (">30", "only_least"),
    ("-3", "negative"), ("9" * 300, "not_a_number"),
])
def test_no_amount(text, code):
    with pytest.raises(Refused) as caught:
        read_cell(text)
    assert caught.value.code == code


def test_slightly_below_zero_is_not_found():
    cell = read_cell("-0.02")
    assert cell.value is None and "below zero" in cell.remark


@pytest.mark.parametrize(("cells", "mark"), [
    (["69,5", "70,12"], ","), (["69.5"], "."), (["0,123"], ","), (["1,234"], ""), (["1,234", "12,5"], ","), (["1.234,5"], ","), (["1,234,567"], "."), (["12 500,5"], ","), (["bd", "7"], ""), (["1,5", "1.5"], "?"),
    ([Exact("69.5"), "1,5"], ","),
])
def test_a_column_shows_its_decimal_mark(cells, mark):
    assert decimal_mark(cells) == mark


@pytest.mark.parametrize(("text", "mark", "largest", "value"), [("1,234", ",", 1e6, "1.234"), ("1,234", ".", 1e6, "1234"), ("1.234", ",", 1e6, "1234"), ("1.234", ".", 1e6, "1.234"), ("1.234", ",", 100, "1.234"), ("1,234", "", 100, "1.234"), ("1.234", "", 1e6, "1.234")])
def test_three_figures_after_a_mark_follow_the_column(text, mark, largest, value):
    assert read_cell(text, mark, largest).value == D(value)


def test_what_can_be_read_two_ways_is_not_guessed():
    with pytest.raises(Refused) as caught:
        read_cell("1,234", "", 1e6)
    assert "two ways" in caught.value.message
    assert read_cell(Exact("1.234"), ",", 1e6).value == D("1.234")


@given(st.text(max_size=80) | st.text(alphabet="0123456789.,<±() -+eE*a%’", max_size=30), st.sampled_from(["", ",", ".", "?"]), st.sampled_from([100.0, 1e6]))
@settings(max_examples=800, deadline=None)
def test_any_cell_is_read_or_refused(text, mark, largest):
    try:
        cell = read_cell(text, mark, largest)
    except Refused as error:
        assert error.message.endswith(".")
        return
    assert cell.value is None or (cell.value.is_finite() and cell.value >= 0)


@given(st.decimals(min_value=0, max_value=100, places=2), st.sampled_from([",", "."]))
@settings(max_examples=300, deadline=None)
def test_a_figure_written_with_either_mark_is_that_figure(value, mark):
    assert read_cell(f"{value:f}".replace(".", mark), mark).value == value


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["text"] or "blank")
def test_a_cell_that_stands_alone(case):
    if "code" in case:
        with pytest.raises(BadComposition) as caught:
            read_typed(case["text"], "SiO2")
        assert (caught.value.code, caught.value.details["field"]) == (case["code"], "SiO2")
        return
    cell = read_typed(case["text"], "SiO2")
    found = (float(cell.value or 0), cell.sd and float(cell.sd), cell.is_below)
    assert found == (case.get("value", 0.0), case.get("sd"), case.get("below", False))
