"""Refused lead and borosilicate glasses are shown their nearest measured ones; others are not."""

from server.glass import neighbours
from server.physics.report import estimate_one
from tests import glasses as g


def test_lead_and_borosilicate_find_their_like():
    lead = neighbours.nearest(estimate_one(g.LEAD_29))
    assert [n["name"] for n in lead] == ["potash-soda-lead glass with 29 % PbO", "potash-soda-lead glass with 22 % PbO"]
    assert "softens 630 °C" in lead[0]["says"] and "memory" in lead[0]["known"]
    assert neighbours.nearest(estimate_one(g.BOROSILICATE))[0]["name"].startswith("borosilicate 3.3")


def test_glasses_with_an_estimate_or_a_bad_analysis_have_none():
    assert neighbours.nearest(estimate_one(g.FLOAT)) == []
    assert neighbours.nearest(estimate_one(g.LEAD_29, weathered=True)) == []
    assert neighbours.nearest(estimate_one(g.LEAD_29 * 0.5)) == []


def test_every_neighbour_has_its_source():
    for row in neighbours.measured():
        assert len(row["source"]) > 20 and row["known"] and 95 <= sum(row["wt"].values()) <= 101


def test_measured_points_are_those_of_the_reference_table():
    """The same sources as tests/reference/measured.csv."""
    points = {(wt["PbO"], wt["SiO2"]): lines for wt, lines in ((dict(zip(g.OXIDES, row, strict=True)), lines) for row, lines in (g.measured()[k] for k in ("c0010", "c0120")))}
    for row in neighbours.measured()[:2]:
        lines = points[row["wt"]["PbO"], row["wt"]["SiO2"]]
        assert any(x["property"] == "softening_point" and x["value"] == row["softening_c"] for x in lines)
