"""Columns of the package's tables, cells that lose nothing, and licences."""

import csv
import io
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.errors import Refused
from server.package.tables import LATEST_MS, cell, columns, licence, licences, lines, tables, utc


@pytest.mark.parametrize("name", tables())
def test_a_table_has_each_column_once_and_refers_to_columns_that_are_there(name):
    about, names = tables()[name], columns(name)
    assert len(set(names)) == len(names) and set(about["key"]) <= set(names)
    for column, (there, other) in about["refers"].items():
        assert column in names and tables()[there]["key"] == [other]


@pytest.mark.parametrize("name", tables())
def test_a_column_that_ends_in_a_unit_says_so(name):
    units = {"_s": "s", "_ms": "ms", "_g": "g", "_c": "°C", "_cm": "cm", "_wt_pct": "wt%"}
    said = {f["name"]: f.get("unit") for f in tables()[name]["fields"]}
    for column, unit in said.items():
        wanted = next((words for end, words in units.items() if column.endswith(end)), None)
        assert wanted is None or unit == wanted, column


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_is_written_whole(value):
    read = float(cell(value))
    assert read == value and math.copysign(1, read) == math.copysign(1, value)


@given(st.lists(st.text(st.characters(exclude_categories=("Cs",))), min_size=7, max_size=7))
def test_any_text_comes_back_as_it_was(texts):
    row = dict(zip(columns("entries"), texts, strict=True))
    heading, written = lines("entries", [row])
    read = list(csv.reader(io.StringIO(heading + written, newline=""), strict=True))
    assert read == [columns("entries"), texts]


def test_other_values_as_cells():
    assert [cell(value) for value in (None, True, False, 7, 2.0, "=1")] == ["", "true", "false", "7", "2.0", "=1"]


def test_a_row_of_other_columns_is_no_row():
    row = dict.fromkeys(columns("finds"))
    assert len(list(lines("finds", [row]))) == 2
    for wrong in ({**row, "more": 1}, {name: None for name in columns("finds")[1:]}):
        with pytest.raises(ValueError, match="finds"):
            list(lines("finds", [wrong]))


@pytest.mark.parametrize(("at_ms", "words"), [(None, None), (0, "1970-01-01T00:00:00Z"), (1_790_000_000_999.5, "2026-09-21T14:13:20Z"), (LATEST_MS - 1, "9999-12-31T23:59:59Z"), (LATEST_MS, None), (2**53 - 1, None)])
def test_moments(at_ms, words):
    assert utc(at_ms) == words


def test_licences():
    assert next(iter(licences())) == "later" and licence("later")["name"] == "notspecified"
    assert licence("CC-BY-4.0") == {"name": "CC-BY-4.0", "title": "Creative Commons Attribution 4.0", "path": "https://creativecommons.org/licenses/by/4.0/"}
    with pytest.raises(Refused):
        licence("mine")
