"""Headings: what a column is, in which unit, and how sure that is."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.errors import Refused
from server.intake.columns import ROLES, column_of, corrected, is_unit, unit_of
from server.intake.layout import laid_out
from server.intake.reading import read_text
from tests.unit.intake import tables as t


@pytest.mark.parametrize(("heading", "role", "of", "unit"), [
    ("SiO2", "oxide", "SiO2", ""), ("SiO₂", "oxide", "SiO2", ""), ("SIO2", "oxide", "SiO2", ""), ("sio2", "oxide", "SiO2", ""), ("SiO2 (wt%)", "oxide", "SiO2", "wt"), ("SiO2 wt.%", "oxide", "SiO2", "wt"),
    ("SiO<sub>2</sub>", "oxide", "SiO2", ""), ("$SiO_2$", "oxide", "SiO2", ""), ("Na2O %", "oxide", "Na2O", "wt"), ("% Na2O", "oxide", "Na2O", "wt"), ("Na2O [Gew.-%]", "oxide", "Na2O", "wt"), ("Na2O\n(mol %)", "oxide", "Na2O", "mol"),
    ("Na2O (% pds)", "oxide", "Na2O", "wt"), ("Na2O, % in peso", "oxide", "Na2O", "wt"), ("Na2O mass%", "oxide", "Na2O", "wt"), ("CuO ppm", "oxide", "CuO", "ppm"), ("Si", "element", "Si", ""), ("Co ppm", "element", "Co", "ppm"),
    ("Co (µg/g)", "element", "Co", "ppm"), ("Co μg g-1", "element", "Co", "ppm"), ("Co mg/kg", "element", "Co", "ppm"), ("Au ppb", "ignore", "", ""), ("Sr ppb", "element", "Sr", "ppb"), ("59Co", "element", "Co", ""), ("Co59", "element", "Co", ""),
    ("FeOt", "oxide", "FeO", ""), ("FeO*", "oxide", "FeO", ""), ("FeO(T)", "oxide", "FeO", ""), ("FeOtot", "oxide", "FeO", ""), ("Fe2O3(T)", "oxide", "Fe2O3", ""), ("Fe2O3 total", "oxide", "Fe2O3", ""), ("ΣFeO", "oxide", "FeO", ""), ("Fe as Fe2O3", "oxide", "Fe2O3", ""),
    ("Cl", "oxide", "Cl", ""), ("Cl (ppm)", "element", "Cl", "ppm"), ("SO3", "oxide", "SO3", ""), ("Soda", "oxide", "Na2O", ""), ("Kieselsäure", "oxide", "SiO2", ""), ("chaux", "oxide", "CaO", ""),
    ("± SiO2", "sd", "SiO2", ""), ("SiO2 sd", "sd", "SiO2", ""), ("SiO2 ±", "sd", "SiO2", ""), ("σ(SiO2)", "sd", "SiO2", ""), ("s.d. Na2O", "sd", "Na2O", ""), ("Na2O 1σ", "sd", "Na2O", ""), ("Na2O error", "sd", "Na2O", ""), ("sd", "sd", "", ""), ("±", "sd", "", ""), ("Stabw.", "sd", "", ""), ("écart-type", "sd", "", ""), ("dev. st.", "sd", "", ""),
    ("Probe Nr.", "id", "", ""), ("Sample", "id", "", ""), ("Échantillon", "id", "", ""), ("Campione", "id", "", ""), ("Fundort", "region", "", ""), ("Datierung", "period", "", ""), ("Site", "region", "", ""), ("Lieu", "region", "", ""), ("Gruppe", "family", "", ""), ("Literatur", "source", "", ""), ("Farbe", "note", "", ""), ("Couleur", "note", "", ""),
    ("Total", "total", "", ""), ("Σ", "total", "", ""), ("Summe", "total", "", ""), ("Somma", "total", "", ""), ("n", "count", "", ""), ("Anzahl", "count", "", ""), ("SiO2 (EPMA)", "oxide", "SiO2", ""), ("SiO2 wt% by EDS", "oxide", "SiO2", "wt"), ("MnO2", "ignore", "", ""), ("LOI", "ignore", "", ""), ("La ppm", "ignore", "", ""), ("Si at%", "ignore", "", ""), ("shelf mark 4", "ignore", "", ""),
])
def test_headings(heading, role, of, unit):
    column = column_of(heading)
    assert (column.role, column.of, column.unit if column.is_analyte else "") == (role, of, unit)


@pytest.mark.parametrize(("text", "unit"), [("wt%", "wt"), ("(wt. %)", "wt"), ("Gew.-%", "wt"), ("ppm", "ppm"), ("[µg/g]", "ppm"), ("mol%", "mol"), ("%", "wt")])
def test_a_line_of_units(text, unit):
    assert is_unit(text) and unit_of(text) == unit


def columns(text: str, **said) -> dict:
    return {c.heading: c for c in laid_out(read_text(text), said.get("corrections", {})).columns}


def test_units_come_from_heading_line_of_units_caption_or_the_figures():
    laser = columns(t.LASER)
    assert [(laser[h].of, laser[h].unit, laser[h].is_sure) for h in ("29Si", "Co59", "K")] == [("Si", "wt", True), ("Co", "ppm", True), ("K", "ppm", True)]
    assert columns(t.GERMAN)["SiO₂"].unit == "wt" and columns(t.MOLAR)["SiO2 (mol%)"].unit == "mol"
    guessed = columns(t.OXIDES_IN_PPM)["SrO"]
    assert guessed.unit == "ppm" and not guessed.is_sure and "taken as ppm" in guessed.why
    bare = columns("Sample,Si,Na,Co\nA,32.5,12.1,45")
    assert [(bare[h].unit, bare[h].is_sure) for h in ("Si", "Na", "Co")] == [("wt", False), ("wt", False), ("ppm", False)]
    laser = columns("Sample|Na (%)|Mg|Si|Pb\nL1|12.1|3400|324000|23")
    assert [laser[h].unit for h in ("Na (%)", "Mg", "Si", "Pb")] == ["wt", "ppm", "ppm", "ppm"]
    assert columns("Concentrations in mol%\nSample;SiO2;Na2O\nA;72;15")["SiO2"].unit == "mol"


def test_iron_is_counted_once():
    made = columns(t.TWO_IRONS)
    assert [made[h].role for h in ("FeOtot", "Fe2O3 (T)", "Fe ppm")] == ["ignore", "oxide", "ignore"]
    halves = columns("id,SiO2,FeO,Fe2O3\nA,70,0.2,0.3")
    assert [halves[h].role for h in ("FeO", "Fe2O3")] == ["oxide", "oxide"]


def test_a_correction_wins_over_the_heading():
    made = laid_out(read_text(t.TWO_IRONS), {4: ("oxide", "FeO", "wt"), 5: ("ignore", "", ""), 6: ("ignore", "", "")}).columns
    assert [c.role for c in made[4:]] == ["oxide", "ignore", "ignore"]
    made = laid_out(read_text("a;b;SiO2;Na2O\nx;y;70;17"), {1: ("id", "", "")}).columns
    assert [c.role for c in made] == ["ignore", "id", "oxide", "oxide"]


@pytest.mark.parametrize("said", [("oxide", "XyO", "wt"), ("element", "Si", "mol"), ("wizard", "", ""), ("oxide", "SiO2", "stone"), ("sd of", "", "")])
def test_what_no_column_can_be_is_refused(said):
    with pytest.raises(Refused):
        corrected(column_of("SiO2"), *said)


def test_the_same_headings_have_the_same_key():
    first, second = laid_out(read_text(t.GERMAN), {}), laid_out(read_text(t.GERMAN.replace("69,5", "68,1")), {})
    assert first.fingerprint == second.fingerprint != laid_out(read_text(t.FRENCH), {}).fingerprint


def test_samples_across_are_turned():
    table = laid_out(read_text(t.ACROSS), {})
    assert table.is_turned and [line[1][0] for line in table.lines] == ["G-1", "G-2", "G-3"]
    assert not laid_out(read_text(t.GERMAN), {}).is_turned


def test_no_headings_are_said():
    with pytest.raises(Refused) as caught:
        laid_out(read_text("a,b\n1,2"), {})
    assert caught.value.code == "no_headings"


@given(st.text(max_size=60) | st.text(alphabet="SiNaCFeOtT2345(%)±σ .-wpml", max_size=24))
@settings(max_examples=500, deadline=None)
def test_any_heading_has_a_role(heading):
    assert column_of(heading).role in ROLES


def test_a_table_from_several_papers_fills_either_iron():
    made = laid_out(read_text("id,SiO2,Na2O,FeOt,Fe2O3t\nA,70,17,0.4,n.d.\nB,69,18,,0.5"), {}).columns
    assert [c.role for c in made[3:]] == ["oxide", "oxide"]


def test_what_is_taken_among_other_words_or_left_out_is_to_be_checked():
    assert [column_of(h).is_sure for h in ("SiO2 (EPMA)", "MnO2", "Fe3O4", "shelf 4", "La ppm", "Au", "LOI", "")] == [False, False, False, False, True, True, True, True]


def test_a_line_of_mean_and_sd_under_the_oxides():
    made = laid_out(read_text("Sample;SiO2;;Na2O;\n;wt%;;wt%;\n;Mean;SD;Mean;2σ\nA;69,5;0,4;17,1;0,6"), {})
    assert [(c.role, c.of, c.factor) for c in made.columns[1:]] == [("oxide", "SiO2", 1), ("sd", "SiO2", 1), ("oxide", "Na2O", 1), ("sd", "Na2O", 0.5)]
    assert len(made.lines) == 1


def test_iron_in_ppm_does_not_make_a_table_of_element_shares_ppm():
    """Common practice, no source: majors as wt% of the element beside iron and traces in ppm. Silicon of 32 can only be wt%."""
    from tests.unit.intake.test_rows import read

    made = read("Sample,Si,Na,Ca,K,Al,Mg,Fe,Mn (ppm)\nA,32.5,12.6,5.7,0.6,1.2,0.4,3500,800\nB,32.1,12.9,5.5,0.5,1.3,0.4,3900,650")
    units = {c.of: c.unit for c in made.table.columns if c.role == "element"}
    assert units == {"Si": "wt", "Na": "wt", "Ca": "wt", "K": "wt", "Al": "wt", "Mg": "wt", "Fe": "ppm", "Mn": "ppm"}
    assert all(95 < line.total_wt < 103 for line in made.lines)


@pytest.mark.parametrize(("text", "units"), [
    # Silicon of 32 and sodium of 12 can only be wt% (no glass holds so little): a caption about traces does not make ppm of them.
    ("Majors and traces (ppm)\nSample,Si,Na,Ca,Fe,Sr\nA,32.5,12.6,5.7,3500,420", {"Si": "wt", "Na": "wt", "Ca": "wt", "Fe": "ppm", "Sr": "ppm"}),
    ("Traces in ppm\nSample,Na,Ca,K,Pb\nA,12.6,5.7,0.5,150", {"Na": "wt", "Ca": "wt", "K": "wt", "Pb": "ppm"}),
    ("Sample,Na,Ca,K,Pb\nA,12.6,5.7,0.5,150", {"Na": "wt", "Ca": "wt", "K": "wt", "Pb": "ppm"}),
    ("All in ppm\nSample,Na,Ca,Fe,Pb\nA,126000,57000,3500,23", {"Na": "ppm", "Ca": "ppm", "Fe": "ppm", "Pb": "ppm"}),
    ("Trace elements in ppm\nSample,SiO2 wt%,Na2O wt%,Pb,Sr\nA,69,17,23,420", {"Pb": "ppm", "Sr": "ppm"}),
    ("Sample,Fe,Pb,Na2O,SiO2\nA,3500,23,17,69", {"Fe": "ppm", "Pb": "ppm"}),
])
def test_the_majors_decide_whether_bare_elements_are_shares(text, units):
    """How published tables of element shares beside traces look: common practice, no source."""
    made = [c for c in columns(text).values() if c.role == "element"]
    assert {c.of: c.unit for c in made} == units
    assert all(not c.is_sure and "taken as wt%" in c.why for c in made if c.unit == "wt")


def test_a_number_that_is_different_in_every_row_names_the_rows_where_a_name_stands_over_several_glasses():
    from tests.unit.intake.test_rows import read

    sites = "Sample;No;SiO2;Na2O;CaO;Al2O3\nTell Umbra;14;69;17;8;2.4\nTell Umbra;15;69.5;16.8;8;2.4\nTell Umbra;16;68.8;17.1;8.2;2.4\nmean;;69.1;17;8.1;2.4\nWadi Sel;17;70;16;8;2.5"
    made = read(sites)
    assert [(x.row.label, x.row.kind) for x in made.lines] == [("14 Tell Umbra", "single"), ("15 Tell Umbra", "single"), ("16 Tell Umbra", "single"), ("Mean of 14 Tell Umbra to 16 Tell Umbra", "mean"), ("17 Wadi Sel", "single")]
    assert [x.is_ticked for x in made.lines] == [True, True, True, False, True]
    swapped = next(c for c in made.table.columns if c.role == "name")
    assert (swapped.heading, swapped.is_sure) == ("Sample", False) and "“No” tells the rows apart" in swapped.why
    said = columns(sites, corrections={0: ("id", "", "")})
    assert said["Sample"].role == "id"
    spots = read(sites.replace(";No;", ";Spot;"))
    assert [x.row.label for x in spots.lines if x.is_ticked] == ["Tell Umbra", "Wadi Sel"]
    filled = read("Sample;No;SiO2;Na2O;CaO;Co ppm\nA;1;69;17;12;\nA;2;;;;430")
    assert [x.row.label for x in filled.lines if x.is_ticked] == ["A"]
