"""Which rows belong together: exactly one label, statistics rows, blank names, lines of words, and scatter that no glass has."""

import pytest

from server.intake.labels import statistic_of
from server.intake.rows import said
from tests.unit.intake import tables as t
from tests.unit.intake.test_rows import amounts, codes, line, read

MF = [f"MF-{i}" for i in range(1, 6)]


def told(made) -> list[tuple[str, str, bool]]:
    """(label, kind, whether ticked) of every row."""
    return [(x.row.label, x.row.kind, x.is_ticked) for x in made.lines]


@pytest.mark.parametrize("repeats", ["mean", "each"])
def test_a_common_stem_joins_nothing(repeats):
    made = read(t.STEM, repeats=repeats)
    assert told(made) == [*((name, "single", True) for name in MF), ("Mean of MF-1 to MF-5", "mean", False), ("s.d.", "sd", False)]
    mean = line(made, "Mean of MF-1 to MF-5")
    assert (mean.row.n, mean.row.figures[0].sd, mean.row.figures[0].raw) == (5, 0.7, "68.3 ± 0.7")
    assert "mean of lines 2 to 6" in mean.notes[0].text and made.lines[-1].body is None
    assert all(f.sd is None for x in made.lines[:5] for f in x.row.figures)


def test_a_mean_without_its_rows_is_a_glass():
    made = read(t.MEANS_ONLY)
    assert told(made)[:2] == [("RH mean", "mean", True), ("RH sd", "sd", False)] and [x.row.kind for x in made.lines[-2:]] == ["limit", "limit"]
    assert [f.sd for f in line(made, "LEV mean").row.figures] == [1.0, 0.6, 0.5, 0.2]
    assert [x.row.label for x in made.lines if x.is_ticked] == ["RH mean", "LEV mean"]


HEAD = "Sample;SiO2;Na2O;CaO;Al2O3\n"


def test_an_sd_row_may_stand_before_its_mean():
    made = read(f"{HEAD}sd;0.6;0.3;0.2;0.1\nmean;69;17;8;2.5\n2 sd;1.0;0.4;0.2;0.1\naverage;70;16;8;2.5")
    assert [[f.sd for f in x.row.figures] for x in made.lines if x.row.kind == "mean"] == [[0.6, 0.3, 0.2, 0.1], [0.5, 0.2, 0.1, 0.05]]


def test_a_spread_without_a_mean_beside_it_is_taken_for_none():
    made = read(f"{HEAD}A-1;69;17;8;2.5\nA-2;70;16;8;2.5\nstd dev;0.7;0.7;0;0\nB (n=3);69;17;8;2.4\nRSD %;1;2;1;2")
    assert all(f.sd is None for label in ("A-1", "A-2") for f in line(made, label).row.figures)
    assert "taken for none" in line(made, "std dev").problem
    assert [f.sd for f in line(made, "B").row.figures] == pytest.approx([0.69, 0.34, 0.08, 0.048])
    assert [x.row.label for x in made.lines if x.is_ticked] == ["A-1", "A-2", "B"]


def test_only_the_same_label_makes_repeats():
    rows = [" Q ;69;17;8;2.4", "q;70;16.4;8.2;2.6", "Q a;69.5;16.8;8;2.5", "Q-1;69.2;17;8;2.5"]
    made = read(HEAD + "\n".join(rows))
    assert told(made) == [("Q", "mean", True), ("Q", "part", False), ("q", "part", False), ("Q a", "single", True), ("Q-1", "single", True)]
    assert amounts(made, "Q")["SiO2", "wt"]["text"] == "69.5"


def test_a_column_of_spots_does_not_part_repeats():
    made = read("Sample;Spot;SiO2;Na2O;CaO;Al2O3\nA;1;69;17;8;2.4\nA;2;69.4;16.8;8;2.4\nB;1;70;16;8;2.5")
    assert told(made) == [("A", "mean", True), ("A", "part", False), ("A", "part", False), ("B", "single", True)]
    assert made.lines[1].body["note"] == "Spot: 1" and made.lines[0].body["note"] == ""
    assert [x.row.label for x in read("Spot;SiO2;Na2O\n1;70;17\n2;69;18").lines] == ["1", "2"]


def test_a_mean_given_over_repeats_stands_for_them():
    made = read(f"{HEAD}A;69;17;8;2.4\nA;69.4;16.8;8;2.4\nA mean;69.2;16.9;8;2.4\nSD;0.3;0.1;0;0")
    assert told(made) == [("A", "part", False), ("A", "part", False), ("A", "mean", True), ("SD", "sd", False)]
    each = read(f"{HEAD}A;69;17;8;2.4\nA;69.4;16.8;8;2.4\nA mean;69.2;16.9;8;2.4", repeats="each")
    assert [x.is_ticked for x in each.lines] == [True, True, False]


def test_a_mean_is_of_the_rows_whose_mean_it_is():
    made = read(f"{HEAD}Z;60;10;18;5\nA-1;69;17;8;2.4\nA-2;70;16;8;2.6\nmean;69.5;16.5;8;2.5")
    assert told(made)[-1] == ("Mean of A-1 to A-2", "mean", False) and made.lines[-1].row.n == 2


def test_a_blank_name_is_never_filled_in():
    made = read(t.REPEATED)
    assert told(made) == [("Q", "mean", True), ("Q", "part", False), ("Q", "part", False), ("", "single", False), ("Z", "single", True)]
    assert [n.code for n in made.lines[3].notes if n.unticks] == ["no_name"] and made.lines[3].is_fine_but_nameless
    assert made.lines[3].body["name"] == "" and len(made.nameless) == 1
    assert [x.is_ticked for x in read("SiO2;Na2O;CaO\n70;17;9\n69;18;9").lines] == [False, False]


def test_a_person_may_say_that_a_blank_name_means_the_one_above():
    made = read(t.SPOTS, blank="above")
    assert [(x.row.label, x.row.n) for x in made.lines if x.is_ticked] == [("VR-03", 3), ("VR-07", 2)]
    assert [x.row.figures[0].sd for x in made.lines if x.is_ticked] == [0.16, 0.35]
    own = read(t.SPOTS)
    assert [x.row.label for x in own.lines if x.is_ticked] == ["VR-03", "VR-07"] and len(own.nameless) == 3
    assert [x.row.kind for x in own.lines] == ["single", "single", "single", "mean", "sd", "single", "single", "mean", "sd"]


def test_numbers_under_a_line_of_words_are_named_with_it():
    made = read(t.SECTIONS)
    assert [x.row.label for x in made.lines if x.is_ticked] == ["Perle blau 12, 1", "Perle blau 12, 2", "Perle grün 14, 1", "Perle grün 14, 2"]
    assert [(x.row.label, x.row.figures[0].sd) for x in made.lines if x.row.kind == "mean"] == [("Mean of Perle blau 12", 0.3), ("Mean of Perle grün 14", 0.3)]
    apart = read("No;SiO2;Na2O;CaO\nBlue;;;\nA;69;17;9\nGreen;;;\nA;60;9;20")
    assert [x.row.kind for x in apart.lines] == ["words", "single", "words", "single"]


def test_spreads_in_brackets_below_their_row():
    made = read(t.BRACKETS)
    assert [[f.sd for f in x.row.figures][:3] for x in made.lines if x.is_ticked] == [[0.4, 0.3, 0.1], [0.3, 0.2, 0.1]]
    signs = read(f"{HEAD}A;69;17;8;2.4\n;±0.3;±0.2;±0.1;±0.1")
    assert told(signs) == [("A", "single", True), ("", "sd", False)] and signs.lines[0].row.figures[0].sd == 0.3


@pytest.mark.parametrize(("rows", "is_ticked"), [
    ("A;69;17;8;2.4\nA;69.6;16.7;8;2.4", True), ("A;74;15;7;2.4\nA;62;24;8;2.4", False), ("A;69;17;12;0.4\nA;69.5;17;4;4", False), ("A;69;17;8;0.4\nA;69.5;17;8;3.4", True),
    ("mean (n=4);66 ± 2;17;10;2.4", True), ("mean (n=4);66 ± 4;17;10;2.4", False), ("A (n=4);66 ± 4;17;10;2.4", False), ("A;66 ± 4;17;10;2.4", True),
])
def test_a_scatter_that_no_glass_has_is_not_ticked(rows, is_ticked):
    first = read(HEAD + rows).lines[0]
    assert first.is_ticked == is_ticked and ("scatter" in {n.code for n in first.notes}) != is_ticked
    assert is_ticked or "may be different glasses" in next(n.text for n in first.notes if n.code == "scatter")


@pytest.mark.parametrize(("soda", "is_ticked"), [("3.0", False), ("-", False), ("5.2", True), ("16", True), ("23.2", True), ("23.4", False)])
def test_a_total_that_no_glass_has_is_not_ticked(soda, is_ticked):
    """The sums are 82.7, 79.7, 84.9 and so on: 79.7 and the soda; 85 to 103 are ticked."""
    first = read(f"Sample;SiO2;Na2O;CaO;Al2O3\nA;69.2;{soda};8.1;2.5").lines[0]
    assert first.body is not None and first.is_ticked == is_ticked == ("total_far" not in {n.code for n in first.notes})


@pytest.mark.parametrize(("total", "is_ticked"), [(27, False), (76.9, False), (84.9, False), (85, True), (90, True), (103, True), (103.2, False)])
def test_totals_at_the_edges(total, is_ticked):
    assert read(f"Sample;SiO2;Na2O\nA;{total - 15:.1f};15" if total > 40 else "Sample;SiO2;Na2O\nA;20;7").lines[0].is_ticked == is_ticked
    assert is_ticked or "outside 85–103" in read(f"Sample;SiO2;Na2O\nA;{total - 5:.1f};5").lines[0].notes[0].text


@pytest.mark.parametrize(("label", "kind", "rest"), [
    ("mean", "mean", ""), ("Mittelwert", "mean", ""), ("A7 mean", "mean", "A7"), ("Mean A7", "mean", "A7"), ("A7 (average)", "mean", "A7"), ("A7-mean", "mean", "A7"), ("s.d.", "sd", ""), ("Std. Dev.", "sd", ""), ("SD (1σ)", "sd", ""), ("Stabw.", "sd", ""),
    ("2σ", "two_sd", ""), ("A7 2σ", "two_sd", "A7"), ("RSD", "rsd", ""), ("n", "count", ""), ("min", "other", ""), ("MF max", "other", "MF"), ("D.L.", "other", ""),
    ("AV 12", "", "AV 12"), ("MF-1", "", "MF-1"), ("Meanwood 3", "", "Meanwood 3"), ("A-MAX", "", "A-MAX"), ("σ", "sd", ""),
])
def test_labels_that_name_a_statistic(label, kind, rest):
    assert statistic_of(label) == (kind, rest)


@pytest.mark.parametrize(("spread", "places", "words"), [
    (0.1414, 1, "0.14"), (0.2, 1, "0.2"), (2039.0, 0, "2000"), (0.0499, 2, "0.05"), (12.6, 0, "13"), (0.00012, 5, "0.00012"), (9.2, 1, "9.2"), (9.2, 0, "9"), (0.0707, 2, "0.07"), (0.35, 1, "0.4"), (0.35, 2, "0.35"), (0.96, 1, "1"), (0.96, 0, "1"), (0.0, 1, "0"),
])
def test_a_spread_as_one_says_it(spread, places, words):
    assert said(spread, places) == words


def test_figures_are_shown_in_the_unit_of_their_column():
    """321000 ppm was once shown for Si 32.1 wt%."""
    figures = {f.of: (f.shown, f.written, f.spread) for f in read("Sample;Si (wt%);Na (wt%);Co (ppb)\nE;32.1 ± 0.2;12.5;<500").lines[0].row.figures}
    assert figures == {"Si": ("32.1", "wt", "0.2"), "Na": ("12.5", "wt", ""), "Co": ("<500", "ppb", "")}
    oxides = {f.of: (f.shown, f.written) for f in read(t.OXIDES_IN_PPM).lines[0].row.figures}
    assert oxides["Sb2O5"] == ("4500", "ppm") and oxides["SiO2"] == ("69.5", "wt")
    assert read(t.ELEMENTS).lines[0].row.figures[0].shown == "32.2"


def test_codes_of_a_nameless_poor_row():
    made = read("Sample;SiO2;Na2O\nA;70;17\n;20;7")
    assert not made.lines[1].is_fine_but_nameless and codes(made, "") >= {"no_name", "total_far"}


def test_a_spread_above_the_whole_is_set_aside():
    made = read(f"{HEAD}A;69 ± 9999;17;8;2.4\nB mean;69;17;8;2.4\nB rsd;9999;1;1;1")
    assert [f.sd for f in line(made, "A").row.figures] == [None] * 4 and "set aside" in line(made, "A").row.figures[0].remark
    assert line(made, "B mean").row.figures[0].sd is None and line(made, "B mean").row.figures[1].sd == pytest.approx(0.17)


def test_the_first_spread_of_a_mean_holds():
    made = read(f"{HEAD}A mean;69;17;8;2.4\nσ;0.4;0.3;0.1;0.1\n2σ;0.8;0.6;0.2;0.2")
    assert [f.sd for f in made.lines[0].row.figures] == [0.4, 0.3, 0.1, 0.1] and made.lines[0].row.figures[0].raw == "69 ± 0.4"


def test_rows_that_fill_each_others_blanks_are_one_glass_without_a_count():
    made = read("Sample;SiO2;Na2O;CaO;Co ppm\nA;69;17;12;\nA;;;;430")
    assert told(made)[0] == ("A", "mean", True) and made.lines[0].row.n is None and "brought together" in made.lines[0].row.words[0]
    assert {name for name, _unit in amounts(made, "A")} == {"SiO2", "Na2O", "CaO", "Co"}


def test_a_mean_whose_figures_lie_outside_the_rows_it_names_is_not_their_mean():
    """A mean lies between the least and the most of what it is the mean of (arithmetic)."""
    rows = "1a-x;69;17;8;2.4\n1a-y;69.4;16.8;8;2.4\n1b-x;60;22;9;4\n1b-y;60.4;21.8;9;4\n"
    right = read(f"{HEAD}{rows}1a mean;69.2;16.9;8;2.4")
    assert [part.label for part in right.lines[-1].row.parts] == ["1a-x", "1a-y"]
    other = read(f"{HEAD}{rows}1a mean;60.2;21.9;9;4")
    assert [part.label for part in other.lines[-1].row.parts] == ["1b-x", "1b-y"]
    none = read(f"{HEAD}{rows}1a mean;75;12;6;1")
    assert (none.lines[-1].row.parts, none.lines[-1].row.label, none.lines[-1].is_ticked) == ([], "1a mean", True)
