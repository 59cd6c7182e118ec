"""Rows of glasses, finds and pieces, also of those whose facts have not arrived."""

import pytest

from server.glass import catalog
from server.package import facts
from server.package.gather import gather
from server.package.tables import columns
from tests.finds import added
from tests.packages import CHILD, FIND, OTHER_OWN, OWN, PIECE, STRANGER, odd_entries, put


@pytest.fixture
def book(store):
    put(store, odd_entries())
    with store.read() as session:
        return gather(session)


@pytest.mark.parametrize("name", ["glasses", "finds", "pieces"])
def test_rows_have_the_columns_of_their_table(book, name):
    found = list(getattr(facts, name)(book))
    assert len(found) > 0 and all(row.keys() == set(columns(name)) for row in found)


def test_own_glasses_published_ones_and_mere_names(book):
    found = {row["glass_key"]: row for row in facts.glasses(book)}
    assert set(found) == {OWN, OTHER_OWN, "modern-float", "nobody-knows"}
    assert [found[key]["is_known_here"] for key in (OWN, "modern-float", "nobody-knows")] == [True, True, False]
    assert (found["nobody-knows"]["name"], found["nobody-knows"]["sio2_wt_pct"]) == ("Demo nobody (invented)", None)
    float_glass = catalog.find("modern-float")
    assert (found["modern-float"]["source"], found["modern-float"]["sio2_wt_pct"]) == (float_glass.source, float(float_glass.published["SiO2"]))


def test_figures_of_an_own_glass_as_typed_and_in_wt(book):
    found = {row["glass_key"]: row for row in facts.glasses(book)}
    own, mol = found[OWN], found[OTHER_OWN]
    assert own["figures"] == "SiO2 69,5 ± 0.4 wt%; Na2O 16 wt%; MgO <0.5 wt%; Co 100 ppm"
    assert (own["sio2_wt_pct"], own["mgo_wt_pct"], own["cao_wt_pct"], own["method"], own["n"]) == (69.5, 0.0, None, "xrf", "3")
    assert own["coo_wt_pct"] == pytest.approx(0.01 * 74.932 / 58.933, rel=1e-4)  # atomic weights Co 58.933, O 15.999
    assert mol["sio2_wt_pct"] == pytest.approx(100 * 3 * 60.083 / (3 * 60.083 + 61.979), rel=1e-4)  # SiO2 60.083, Na2O 61.979
    assert mol["replaces"] == OWN and own["replaces"] is None
    assert mol["made_of"] == "20 g =base; 0.28 g basic copper carbonate of 90.0 %; 1234567.125 g Demo sand, after Demo old" and own["made_of"] is None


def test_finds_and_pieces_balance(book):
    (find,), found = facts.finds(book), {row["piece_id"]: row for row in facts.pieces(book)}
    assert (find["find_id"], find["consent"], find["consent_tests"], find["start_g"], find["left_g"]) == (FIND, "given", "flame fuse", 7.25, 6.25)
    assert (found[PIECE]["photos"], found[PIECE]["cut_g"], found[PIECE]["glass_key"], found[PIECE]["cut_from"]) == (1, 2.5, OWN, None)
    assert (found[CHILD]["cut_from"], found[CHILD]["left_g"]) == (PIECE, 1.5)
    assert (found[STRANGER]["is_known_here"], found[STRANGER]["label"]) == (False, None)
    for row in (found[PIECE], found[CHILD]):
        assert row["start_g"] == pytest.approx(sum(row[name] for name in ("left_g", "cut_g", "used_g", "lost_g", "returned_g", "unaccounted_g")))


def test_a_find_that_has_not_arrived_has_a_row(store):
    put(store, [added(PIECE, FIND)])
    with store.read() as session:
        (row,) = facts.finds(gather(session))
    assert (row["find_id"], row["is_known_here"], row["site"]) == (FIND, False, None)
