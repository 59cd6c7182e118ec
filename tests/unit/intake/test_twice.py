"""One metal in several columns: the oxide wins in any order, agreement is reckoned, disagreement is said, and FeO stands beside Fe2O3."""

from itertools import permutations

import pytest

from tests.unit.intake import tables as t
from tests.unit.intake.test_rows import amounts, line, read

# Fe2O3 1.430 holds 1.000 of Fe and 1.287 of FeO (IUPAC 2021 atomic weights: Fe 55.845, O 15.999).
IRON = {"Fe": ("1.00", "0.70"), "Fe2O3": ("1.43", "1.00"), "FeO": ("1.29", "0.90")}


def table(columns: tuple[str, ...], values: dict) -> str:
    rows = [["A", "68", "17"], ["B", "69", "16"]]
    lines = [";".join(["Sample", *columns, "SiO2", "Na2O"])] + [";".join([name, *(values[c][i] for c in columns), *rest]) for i, (name, *rest) in enumerate(rows)]
    return "\n".join(lines)


def roles(made) -> dict[str, str]:
    return {c.heading: c.role for c in made.table.columns}


@pytest.mark.parametrize("columns", [*permutations(("Fe", "Fe2O3")), *permutations(("Fe", "FeO")), *permutations(("FeO", "Fe2O3")), *permutations(("Fe", "Fe2O3", "FeO"))])
def test_the_same_iron_counts_once_and_the_oxide_wins_in_any_order(columns):
    made = read(table(columns, IRON))
    wins = "Fe2O3" if "Fe2O3" in columns else "FeO"
    assert {name: roles(made)[name] for name in columns} == {name: "oxide" if name == wins else "ignore" for name in columns}
    out = next(c for c in made.table.columns if c.role == "ignore")
    assert f"the same Fe as “{wins}”" in out.why and "earlier" not in out.why
    assert all(n.code != "twice_apart" for x in made.lines for n in x.notes)


@pytest.mark.parametrize("columns", permutations(("Fe", "Fe2O3", "FeO")))
def test_two_oxides_of_iron_both_count_and_iron_is_their_sum(columns):
    """FeO 0.50 and Fe2O3 0.60 hold 0.389 + 0.420 = 0.81 of Fe."""
    made = read(table(columns, {"Fe": ("0.81", "0.81"), "FeO": ("0.50", "0.50"), "Fe2O3": ("0.60", "0.60")}))
    assert {name: roles(made)[name] for name in columns} == {"Fe": "ignore", "FeO": "oxide", "Fe2O3": "oxide"}
    assert "the same Fe as" in next(c for c in made.table.columns if c.heading == "Fe").why
    assert {"FeO", "Fe2O3"} <= {name for name, _unit in amounts(made, "A")}


def test_two_oxides_that_agree_by_their_rounding_alone_both_count():
    made = read(table(("FeO", "Fe2O3"), {"FeO": ("0.3", "0.2"), "Fe2O3": ("0.3", "0.2")}))
    assert roles(made)["FeO"] == roles(made)["Fe2O3"] == "oxide"
    assert "two_oxides" in {n.code for n in line(made, "A").notes}


@pytest.mark.parametrize("columns", permutations(("Fe", "Fe2O3")))
def test_iron_that_disagrees_is_cautioned(columns):
    made = read(table(columns, {"Fe": ("1.00", "2.00"), "Fe2O3": ("1.43", "1.00")}))
    out = next(c for c in made.table.columns if c.heading == "Fe")
    assert (out.role, out.is_sure) == ("ignore", False) and "in 1 of 2 rows not as much as “Fe2O3”" in out.why
    cautions = {x.row.label: [n for n in x.notes if n.code == "twice_apart"] for x in made.lines}
    assert not cautions["A"] and cautions["B"][0].is_caution and "“Fe” says 2.00" in cautions["B"][0].text


@pytest.mark.parametrize("columns", permutations(("FeO", "Fe2O3 (T)")))
def test_all_iron_wins_over_a_part_of_it(columns):
    made = read(table(columns, {"FeO": ("0.30", "0.40"), "Fe2O3 (T)": ("1.00", "1.10")}))
    assert roles(made)["Fe2O3 (T)"] == "oxide" and roles(made)["FeO"] == "ignore"
    assert "a part of the iron" in next(c for c in made.table.columns if c.heading == "FeO").why


def test_two_methods_on_one_metal():
    made = read(t.TWO_METHODS)
    assert [c.role for c in made.table.columns][-4:] == ["ignore", "ignore", "ignore", "element"]
    assert [n.code for n in line(made, "S2").notes].count("twice_apart") == 1 and all(n.code != "twice_apart" for n in line(made, "S1").notes)
    copper = read("Sample;SiO2;Na2O;Cu (ppm);CuO\nA;70;17;7990;1.00\nB;70;17;799;0.10")
    assert roles(copper)["Cu (ppm)"] == "ignore" and "the same Cu as “CuO”" in copper.table.columns[3].why


def test_a_spread_beside_a_column_left_out_is_left_out_too():
    made = read("Sample;SiO2;Na2O;Fe2O3;Fe;sd\nA;70;17;1.43;1.00;0.05\nB;69;17;1.00;0.70;0.05")
    assert [c.role for c in made.table.columns][-2:] == ["ignore", "ignore"]
    assert all(f.sd is None for x in made.lines for f in x.row.figures)
