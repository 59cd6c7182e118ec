"""Rows: originals kept, means and sd rows brought together, repeats, and the checks of a specialist."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.errors import Refused
from server.glass.own import GlassIn
from server.intake.preview import Options, Preview, preview
from server.intake.reading import read_file, read_text
from tests.unit.intake import tables as t


def read(text: str, at_the_desk: frozenset[str] = frozenset(), **said) -> Preview:
    return preview(read_text(text), Options(**said), at_the_desk)


def line(made: Preview, label: str, kind: str | None = None):
    return next(x for x in made.lines if x.row.label == label and (kind is None or x.row.kind == kind))


def amounts(made: Preview, label: str) -> dict:
    return {(a["name"], a["unit"]): a for a in line(made, label).body["amounts"]}


def codes(made: Preview, label: str) -> set[str]:
    return {note.code for note in line(made, label).notes}


def test_the_original_stands_beside_what_was_understood():
    found = amounts(read(t.GERMAN), "A7-1")
    assert found["MgO", "wt"] == {"name": "MgO", "text": "<0.5", "unit": "wt", "raw": "<0,5", "heading": "MgO"}
    assert found["Na2O", "wt"] == {"name": "Na2O", "text": "16.2", "unit": "wt", "raw": "16,2", "heading": "Na₂O", "sd": 0.2}
    assert found["Co", "ppm"]["text"] == "1250" and found["Co", "ppm"]["raw"] == "1.250"
    assert amounts(read(t.GERMAN), "A7-2")["Cl", "wt"]["text"] == "bd"


def test_means_and_sd_rows_are_one_glass():
    made = read(t.GERMAN)
    mean = line(made, "Mean of A7-1 to A7-2")
    assert (mean.row.kind, mean.row.n, mean.body["n"], mean.body["region"], mean.body["note"]) == ("mean", 2, 2, "Ödenau", "Farbe: blau")
    found = amounts(made, "Mean of A7-1 to A7-2")
    assert found["SiO2", "wt"]["sd"] == 0.4 and found["Co", "ppm"]["sd"] == 50
    assert [x.row.label for x in made.lines if x.is_ticked] == ["A7-1", "A7-2", "B1"]
    assert [(x.row.label, x.row.kind, x.body is None) for x in made.lines][:4] == [("A7-1", "single", False), ("A7-2", "single", False), ("Mean of A7-1 to A7-2", "mean", False), ("Stabw", "sd", True)]
    assert made.lines[3].problem == "its figures are the ± of line 5"


def test_a_french_mean_below_its_only_row():
    made = read(t.FRENCH)
    assert [x.body["name"] for x in made.glasses] == ["V-12", "Mean of V-12"]
    assert [x.body["name"] for x in made.lines if x.is_ticked] == ["V-12"] and amounts(made, "V-12")["K2O", "wt"]["text"] == "bd"
    mean = next(x for x in made.lines if x.row.kind == "mean")
    assert mean.row.figures[0].sd == 0.3 and mean.row.figures[0].raw == "68,4 ± 0,3"


def test_repeats_under_one_label_become_their_mean():
    made = read(t.REPEATED, blank="above")
    mean = line(made, "Q", "mean")
    assert (mean.row.n, mean.body["amounts"][0]["text"], mean.body["amounts"][0]["raw"], mean.body["amounts"][0]["sd"]) == (3, "69.6", "69.0 | 69.6 | 70.2", 0.6)
    assert [x.row.label for x in made.lines if x.is_ticked] == ["Q", "Z"]
    each = read(t.REPEATED, repeats="each", blank="above")
    assert [x.row.label for x in each.lines if x.is_ticked] == ["Q", "Q", "Q", "Z"]


def test_spread_columns():
    found = amounts(read(t.SPREADS), "S1")
    assert {key[0]: a["sd"] for key, a in found.items()} == pytest.approx({"SiO2": 0.4, "Na2O": 0.2, "CaO": 0.16, "Cu": 30})


def test_units_are_brought_to_what_is_kept():
    laser = amounts(read(t.LASER), "R1")
    assert laser["Si", "ppm"]["text"] == "322000" and laser["Co", "ppm"]["text"] == "310" and laser["K", "ppm"]["text"] == "4200"
    assert amounts(read(t.LASER), "R2")["Co", "ppm"]["text"] == "<0.5"
    ppm = amounts(read(t.OXIDES_IN_PPM), "O1")
    assert ppm["Sb2O5", "wt"]["text"] == "0.4500" and ppm["SrO", "wt"]["text"] == "0.0450"
    assert amounts(read(t.MOLAR), "M1")["SiO2", "mol"]["text"] == "72.0"


def test_across_and_printed_tables():
    assert {x.body["name"]: x.body["amounts"][0]["text"] for x in read(t.ACROSS).lines} == {"G-1": "68.1", "G-2": "69.2", "G-3": "70.0"}
    assert amounts(read(t.PRINTED), "P-2")["CaO", "wt"]["text"] == "<0.5" and amounts(read(t.PRINTED), "P-1")["SiO2", "wt"]["sd"] == 0.3


def test_numbers_of_a_workbook_beside_text_with_commas():
    made = preview(read_file(t.workbook({"S": [["Sample", "SiO2", "Na2O", "Co ppm"], ["A", 69.123, "16,5", 1.234], ["B", "70,1", 15, "1.250"]]})), Options())
    assert amounts(made, "A")["SiO2", "wt"]["text"] == "69.123" and amounts(made, "A")["Co", "ppm"]["text"] == "1.234"
    assert amounts(made, "B")["Co", "ppm"]["text"] == "1250"


def test_a_row_that_cannot_be_read_says_why_and_costs_nobody_else():
    made = read("Sample;SiO2;Na2O;CaO\nA;69,5;12.Mai;8\nB;69,5;16;8\nC;140;1;2\nD;;;\nE;bd;bd;bd\n")
    assert [(x.row.label, x.body is None) for x in made.lines] == [("A", True), ("B", False), ("C", True), ("D", True), ("E", True)]
    assert "Na2O" in line(made, "A").problem and "date" in line(made, "A").problem
    assert "more than the whole" in line(made, "C").problem and line(made, "E").problem and line(made, "D").problem


def test_the_person_settles_a_decimal_mark():
    text = "Sample\tSiO2\tNa2O\tSr ppm\nA\t70\t17\t1,234"
    assert "two ways" in line(read(text), "A").problem
    assert amounts(read(text, decimal="comma"), "A")["Sr", "ppm"]["text"] == "1.234"
    assert amounts(read(text, decimal="point"), "A")["Sr", "ppm"]["text"] == "1234"


def test_a_short_label_is_no_limit_row_when_it_stands_over_a_whole_glass():
    made = read("Sample,SiO2,Na2O,CaO\nLD,70,17,8\n2S,69,17,9\nDL,0.1,0.1,0.05")
    assert [(x.row.label, x.row.kind) for x in made.lines] == [("LD", "single"), ("2S", "single"), ("DL", "limit")]


def test_a_count_in_the_label_and_a_line_of_spreads():
    made = read("Sample\tSiO2\tNa2O\nBN-01 (n=5)\t68.41\t17.83\n±\t0.31\t0.22\nA1\t69\t17\nA2\t70\t16\nMean (n = 2)\t69.5\t16.5")
    assert (line(made, "BN-01").row.n, amounts(made, "BN-01")["SiO2", "wt"]["sd"]) == (5, 0.31)
    assert [(x.row.label, x.row.kind, x.row.n) for x in made.lines][2:] == [("A1", "single", None), ("A2", "single", None), ("Mean of A1 to A2", "mean", 2)]


def test_rows_under_other_headings_are_never_read_under_these():
    made = read("Sample,SiO2,Na2O,CaO\nA,70,17,8\nSample,SiO2,Na2O,CaO\nB,69,17,9\nSample,TiO2,MnO,PbO\nA,0.1,0.5,0.02\nB,0.1,0.4,0.03\n")
    assert [(x.row.label, x.row.kind, x.body is not None) for x in made.lines] == [
        ("A", "single", True), ("Sample", "heading", False), ("B", "single", True), ("Sample", "other headings", False), ("A", "elsewhere", False), ("B", "elsewhere", False)]
    assert "under other headings (line 5)" in made.lines[-1].problem


HEAD = "Sample,Family,SiO2,Na2O,K2O,CaO,Al2O3,Total\n"


@pytest.mark.parametrize(("row", "method", "code"), [
    ("A,,69,16,0.6,8,2.4,", "not stated", "total_off"), ("A,,60,12,0.6,8,2.4,", "not stated", "total_far"), ("A,,60,16,0.6,7.5,2.4,", "not stated", "total_no_estimate"), ("A,,69,17,1,9,2.5,94.1", "not stated", "total_differs"),
    ("A,,69.4,17,1,10,2.6,", "not stated", "by_difference"), ("A,natron,80,7,1,8,3,", "not stated", "alkali_low"), ("A,wood ash,68,3,4,20,4,", "not stated", "alkali_low"), ("A,,85,3,1,7,3,", "not stated", "alkali_low"),
    ("A,natron,69,15,0.6,8,2.4,", "epma-icp", "soda_loss"), ("A,,88,0,1,8,3,", "portable-xrf", "no_soda"), ("A,,88,,,8,3,", "not stated", "no_alkali"),
])
def test_checks(row, method, code):
    assert code in codes(read(HEAD + row, method=method), "A")


@pytest.mark.parametrize("row", ["A,natron,69.5,16.9,0.7,9.1,2.7,98.9", "A,wood ash,56,0.9,14.5,22.5,5,98.9", "A,HLLA,61,1.5,5.5,25,5,98"])
def test_a_sound_analysis_has_no_remark(row):
    assert codes(read(HEAD + row, method="epma-icp"), "A") == set()


def test_sodium_leaving_under_the_beam_is_seen_between_repeats():
    text = HEAD + "A,,68.0,17.4,0.6,9,2.6,\nA,,68.9,16.5,0.6,9,2.6,\nA,,69.8,15.5,0.6,9.1,2.6,"
    made = read(text, method="epma-icp")
    assert any(n.code == "soda_loss" and "17.4 to 15.5" in n.text for n in line(made, "A", "mean").notes)
    assert not any(n.code == "soda_loss" for n in line(read(text, method="xrf"), "A", "mean").notes)


def test_duplicates():
    made = read(HEAD + "A,,69,17,0.6,9,2.6,\nB,,69,17,0.6,9,2.6,\nC,,70,16,0.7,9,2.5,", frozenset({"c"}))
    assert "same_figures" in codes(made, "B") and "at_the_desk" in codes(made, "C") and codes(made, "A") == set()
    assert [x.row.label for x in made.lines if x.is_ticked] == ["A"]


def test_one_metal_in_two_columns_is_said():
    assert "two_oxides" in codes(read("Sample,SiO2,Na2O,CaO,FeO,Fe2O3\nA,70,17,9,0.5,0.6"), "A")
    both = read("Sample,SiO2,Na2O,CaO,CuO,Cu ppm\nA,70,17,9,1.0,7989", corrections={4: ("oxide", "CuO", "wt"), 5: ("element", "Cu", "ppm")})
    assert "two_oxides" in codes(both, "A")


@pytest.mark.parametrize("text", t.ALL)
@pytest.mark.parametrize("method", ["not stated", "weathered-surface"])
def test_every_body_is_one_that_the_desk_takes(text, method):
    made = read(text, method=method, source="invented")
    assert made.glasses
    for found in made.glasses:
        taken = GlassIn.model_validate({**found.body, "name": found.body["name"] or "named by the person"})
        assert taken.surface == ("weathered" if method == "weathered-surface" else "not stated")


CELLS = st.sampled_from(["SiO2", "Na2O wt%", "Co ppm", "sd", "Sample", "Mean", "Summe", "n", "A", "A", "69,5", "16.0 ± 0.2", "<0.5", "1,234", "bd", "", "x" * 90, "ppm", "wt%", "-1", "1e3", "99999999", "\u202e±", "Fe2O3(T)", "2SD"])


@given(st.lists(st.lists(CELLS, min_size=4, max_size=4), min_size=1, max_size=7), st.sampled_from(["mean", "each"]), st.sampled_from(["auto", "yes", "no"]), st.sampled_from(["own", "above"]))
@settings(max_examples=400, deadline=None)
def test_any_table_is_read_or_refused_and_every_body_is_good(rows, repeats, turn, blank):
    try:
        made = read("\n".join("\t".join(row) for row in rows), repeats=repeats, turn=turn, blank=blank, method="epma-icp")
    except Refused:
        return
    for found in made.glasses:
        GlassIn.model_validate({**found.body, "name": found.body["name"] or "named by the person"})


def test_a_formula_without_a_value_is_said_and_costs_only_its_row():
    """A workbook written by a program holds formulas that no spreadsheet has reckoned: they once read as blank."""
    rows = [["Sample", "SiO2", "Na2O", "sd", "CaO", "Total"], ["A", 70.5, "=C3*1.02", 0.2, 8.1, "=SUM(B2:E2)"], ["B", 70.1, 17, "=0.1*2", 8, "=1+1"], ["=A2", 70.4, 17, 0.2, 8, 95]]
    made = preview(read_file(t.workbook({"S": rows})), Options())
    assert "Na2O: “=C3*1.02” is a formula without a value" in made.lines[0].problem and made.lines[0].body is None
    assert made.lines[1].body and not made.lines[1].is_ticked and "formula_only" in codes(made, "B")
    assert "no_name" in codes(made, "") and not made.lines[2].is_ticked
    assert "formula without a value" in read("Sample;SiO2;Na2O\nA;70;=B2*2").lines[0].problem


def test_tables_of_majors_and_traces():
    laser = amounts(read(t.MAJORS_AND_TRACES), "LA-01")
    assert laser["Cu", "ppm"]["text"] == "1250" and laser["Fe2O3", "wt"]["text"] == "0.72"
    assert amounts(read(t.MAJORS_AND_TRACES), "LA-02")["Co", "ppm"]["text"] == "<0.08"
    groups = read(t.UNDER_GROUPS)
    assert amounts(groups, "PB-1")["CuO", "wt"]["text"] == "0.1220" and amounts(groups, "PB-2")["Sr", "ppm"]["text"] == "401" and all(c.is_sure for c in groups.table.columns)
    two = amounts(read(t.TWO_HEADER_ROWS), "H 12/3")
    assert two["CoO", "wt"]["text"] == "0.1240" and two["SiO2", "wt"]["text"] == "70.4"
    french = read(t.FRENCH_PPM)
    assert amounts(french, "VB-1")["Sb2O3", "wt"]["text"] == "1.2400" and amounts(french, "VB-2")["Sb2O3", "wt"]["text"] == "<0.0020"


def test_tables_with_spreads_across_and_by_letter():
    across = read(t.ACROSS_WITH_MEANS)
    assert [x.row.label for x in across.lines if x.is_ticked] == ["ZK 5/1", "ZK 5/2", "ZK 5/3", "ZK 9"] and line(across, "Mean of ZK 5/1 to ZK 5/3").row.figures[0].sd == 0.38
    assert "the mean of columns 2 to 4" in line(across, "Mean of ZK 5/1 to ZK 5/3").notes[0].text
    letters = amounts(read(t.LETTER_S), "AB2")
    assert letters["SiO2", "wt"]["sd"] == 0.6 and "sd" not in letters["Fe2O3", "wt"]
    groups = read(t.GROUPS)
    assert [(x.row.label, x.row.n, x.is_ticked) for x in groups.lines] == [("Gruppe I", 12, True), ("Gruppe II", 7, False)]
    assert [x.row.kind for x in read(t.LIMITS_AND_FOOTERS).lines] == ["limit", "single", "single", "words"]


def test_a_unit_in_the_corner_holds_for_the_table():
    assert amounts(read("mol%;A-1;A-2\nSiO2;72;71\nNa2O;15;16\nCaO;13;13"), "A-1")["SiO2", "mol"]["text"] == "72"
