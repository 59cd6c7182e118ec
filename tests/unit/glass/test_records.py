"""Records of a CSV file: like the csv library where the file is sound, row by row where it is not."""

import csv

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.glass.records import LONGEST_RECORD_LINES, ends_open, records

CELL = st.text(st.characters(codec="utf-8", exclude_characters="\r\x00"), max_size=8)


@given(st.lists(st.lists(CELL, min_size=2, max_size=4), min_size=1, max_size=6))
def test_sound_files_read_as_the_csv_library_reads_them(rows):
    import io

    out = io.StringIO()
    csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL).writerows(rows)
    text = out.getvalue()
    want = [row for row in csv.reader(io.StringIO(text, newline=""))]
    found = list(records(io.StringIO(text, newline="")))
    assert [broken for _text, broken in found] == [False] * len(found)
    assert list(csv.reader(text for text, _broken in found)) == want


@pytest.mark.parametrize(("text", "is_open"), [
    ('a,b', False), ('"a,b', True), ('"a","b"', False), ('a,"b', True), ('5" rod,1', False), ('"say ""yes"""', False), ('"say ""yes', True), ('"a""', True), ('"a"b,"c', True), ("", False),
])
def test_open_quotes(text, is_open):
    assert ends_open(text) is is_open


def test_an_unclosed_quote_costs_its_own_row():
    lines = ["id,SiO2\n", '"bad,70\n'] + [f"g{i},70\n" for i in range(LONGEST_RECORD_LINES + 5)]
    found = list(records(lines))
    assert len(found) == len(lines)
    assert found[1] == ("bad,70\n", True)
    assert found[-1] == (lines[-1], False)


def test_a_note_over_two_lines_is_one_record():
    assert list(records(['a,"two\n', 'lines"\n', "\n", "b,1\n"])) == [('a,"two\nlines"\n', False), ("b,1\n", False)]
