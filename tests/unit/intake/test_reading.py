"""Bytes and text to cells: encodings, dividers, workbooks, and one sentence for what is no table or too much."""

import datetime
import io
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.errors import Refused
from server.intake.reading import LARGEST_FILE_BYTES, MOST_COLUMNS, MOST_ROWS, Exact, read_file, read_text
from tests.unit.intake import tables as t


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encodings(encoding):
    text = t.GERMAN.replace("₂", "2")
    grid = read_file(text.encode(encoding))
    assert grid.cells[2][1] == "Ödenau" and grid.cells[1][4] == "± Na2O"


@pytest.mark.parametrize(("text", "how", "width"), [(t.GERMAN, "semicolons", 13), (t.FRENCH, "tabs", 8), (t.ITALIAN, "bars", 7), (t.LASER, "commas", 10), (t.PRINTED, "spaces", 5)])
def test_dividers(text, how, width):
    grid = read_text(text)
    assert how in grid.how and {len(row) for row in grid.cells} == {width}


def test_a_sign_stays_with_its_figure_in_printed_tables():
    assert read_text(t.PRINTED).cells[2] == ["P-2", "70.2±0.3", "15.1±0.2", "<0.5", "2.2±0.1"]


def test_single_spaces_divide_where_nothing_else_does():
    assert read_text("Sample SiO2 Na2O\nA 70.1 (0.3) < 0.5").cells == [["Sample", "SiO2", "Na2O"], ["A", "70.1(0.3)", "<0.5"]]


def test_quoted_cells_and_a_mark_that_is_never_closed():
    assert read_text('id,SiO2,note\nA,70,"blue, ""clear"""\n').cells[1] == ["A", "70", 'blue, "clear"']
    rows = read_text('id,SiO2,note\nA,70,"blue\n' + "B,71,green\n" * 30).cells
    assert len(rows) == 32 and rows[1][:2] == ["A", "70"]


def test_numbers_of_a_workbook_are_exact_and_dates_are_seen():
    data = t.workbook({"Notes": [["nothing here"]], "Table 2": [["Sample", "SiO2", "Na2O"], ["A", 69.1 + 0.2, datetime.datetime(2026, 5, 12)], ["B", "70,5", None]]})
    grid = read_file(data)
    assert (grid.sheet, grid.sheets) == ("Table 2", ("Notes", "Table 2"))
    assert grid.cells[1] == ["A", "69.3", "2026-05-12"] and isinstance(grid.cells[1][1], Exact) and not isinstance(grid.cells[2][1], Exact)
    assert read_file(data, "Notes").cells == [["nothing here"]]


def bomb() -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as package:
        for name in ("[Content_Types].xml", "xl/workbook.xml", "xl/worksheets/sheet1.xml"):
            package.writestr(name, b" " * 15_000_000)
    return held.getvalue()


def package(*names: str) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as made:
        for name in names:
            made.writestr(name, "x")
    return held.getvalue()


@pytest.mark.parametrize(("data", "code"), [
    (b"", "empty"), (b"\n \n", "empty"), (b",,,\n,,,\n", "empty"), (b"x" * (LARGEST_FILE_BYTES + 1), "too_large"), (bomb(), "too_large"),
    (package("mimetype", "content.xml"), "open_document"), (package("word/document.xml"), "no_table"), (package("[Content_Types].xml", "xl/workbook.xml"), "no_table"),
    (b"PK\x03\x04 cut off", "no_table"), (b"\xd0\xcf\x11\xe0" + b"\0" * 600, "old_excel"), (b"%PDF-1.7", "no_table"), (b"a\0b,c\n", "no_table"),
    ((b"1," * (MOST_COLUMNS + 1) + b"\n") * (MOST_COLUMNS + 1), "too_many_cells"), (b"a,b\n" * (MOST_ROWS + 1), "too_many_cells"),
])
def test_what_is_no_table_or_too_much_is_refused_in_one_sentence(data, code):
    with pytest.raises(Refused) as caught:
        read_file(data)
    assert caught.value.code == code
    assert caught.value.message.endswith(".") and len(caught.value.message) < 200


def test_a_sheet_said_to_be_endless_is_not_walked_through():
    data = t.workbook({"S": [["Sample", "SiO2", "Na2O"], ["A", 70, 17]]})
    held = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(held, "w") as new:
        for name in old.namelist():
            part = old.read(name)
            new.writestr(name, part.replace(b'ref="A1:C2"', b'ref="A1:XFD1048576"') if "sheet1" in name else part)
    assert read_file(held.getvalue()).cells[1] == ["A", "70", "17"]


def test_a_formula_with_a_value_is_its_value_and_an_empty_text_is_blank():
    """ECMA-376 Part 1, 18.3.1.4: <v> holds the last value of a formula; t="str" with an empty one is an empty text."""
    data = t.workbook({"S": [["Sample", "SiO2", "Na2O", "CaO"], ["A", "=1+69", "=2*8", "=IF(1,\"\",2)"]]})
    held = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(held, "w") as new:
        for name in old.namelist():
            part = old.read(name)
            if "sheet1" in name:
                assert part.count(b"<v/>") + part.count(b"<v />") + part.count(b"<v></v>") == 3
                part = part.replace(b"<f>1+69</f><v/>", b"<f>1+69</f><v>70</v>").replace(b"<f>1+69</f><v />", b"<f>1+69</f><v>70</v>").replace(b"<f>1+69</f><v></v>", b"<f>1+69</f><v>70</v>")
                part = part.replace(b'<c r="D2">', b'<c r="D2" t="str">')
            new.writestr(name, part)
    assert read_file(held.getvalue()).cells[1] == ["A", "70", "=2*8", ""]


@given(st.binary(max_size=300) | st.binary(max_size=200).map(lambda tail: b"PK\x03\x04" + tail))
@settings(max_examples=300, deadline=None)
def test_any_bytes_are_cells_or_refused(data):
    try:
        cells = read_file(data).cells
    except Refused:
        return
    assert len({len(row) for row in cells}) == 1


@given(st.text(max_size=200) | st.text(alphabet="SiO2,;\t|\"\n 0159.±<()-", max_size=200))
@settings(max_examples=300, deadline=None)
def test_any_text_is_cells_or_refused(text):
    try:
        cells = read_text(text).cells
    except Refused:
        return
    assert any(any(row) for row in cells)
