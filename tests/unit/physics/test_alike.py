"""Verdicts at the limits, symmetry, and what settles; the rule against scipy's normal distribution (two one-sided tests, Schuirmann 1987)."""

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from server.physics import alike
from server.physics.curve import isokom_vft
from server.physics.estimate import estimate
from server.physics.report import estimate_one, report
from server.physics.table import DATA, table
from tests import glasses as g

FIVE = len(alike.CRITERIA)
soda_lime = st.builds(
    lambda soda, lime, magnesia, alumina: g.row(SiO2=100 - soda - lime - magnesia - alumina, Na2O=soda, CaO=lime, MgO=magnesia, Al2O3=alumina),
    st.floats(13, 18), st.floats(6, 10), st.floats(0, 4), st.floats(0.5, 3),
)
sizes = st.floats(0, 1e3)


@pytest.mark.parametrize(
    ("difference", "u95", "word"),
    [(10, 10, "alike"), (-10, 10, "alike"), (10, 10.001, "cannot say yet"), (30, 10, "cannot say yet"), (30.001, 10, "differs"), (-30.001, 10, "differs"), (0, 0, "alike"), (20, 0, "alike"), (np.nan, 1, "cannot say yet"), (0, np.nan, "cannot say yet")],
)
def test_verdict_at_the_limits(difference, u95, word):
    assert alike.VERDICTS[int(alike.verdicts(np.array(difference), np.array(u95), 20.0))] == word


@given(st.floats(-60, 60), st.floats(0.5, 40), st.floats(1, 50))
def test_alike_is_two_one_sided_tests_at_a_fortieth_each(difference, sigma, margin):
    """Schuirmann 1987: equivalent when both one-sided nulls (<= -margin, >= margin) are rejected."""
    p = max(norm.sf((difference + margin) / sigma), norm.cdf((difference - margin) / sigma))
    verdict = alike.verdicts(np.array(difference), np.array(norm.ppf(0.975) * sigma), margin)
    if abs(p - 0.025) > 1e-6:
        assert (verdict == alike.ALIKE) == (p < 0.025)


@given(soda_lime, soda_lime)
def test_the_other_way_round_signs_flip_and_verdicts_stay(one, other):
    a, b = (alike.working([estimate_one(wt)]) for wt in (one, other))
    there, back = alike.compare(a, b, alike.DEFAULT_MARGINS), alike.compare(b, a, alike.DEFAULT_MARGINS)
    assert np.array_equal(there.difference, -back.difference, equal_nan=True)
    assert np.array_equal(there.verdict, back.verdict)
    assert np.array_equal(there.u95, back.u95, equal_nan=True)


@given(soda_lime)
def test_a_glass_does_not_differ_from_itself(wt):
    a = alike.working([estimate_one(wt)])
    made = alike.compare(a, a, alike.DEFAULT_MARGINS)
    known = np.isfinite(a.value)
    assert (made.difference[known] == 0).all()
    assert (made.verdict != alike.DIFFERS).all()


@given(sizes, sizes, st.floats(0.1, 1e3), st.floats(1, 10))
def test_a_wider_margin_never_takes_alike_away(difference, u95, margin, times):
    narrow, wide = (alike.verdicts(np.array(difference), np.array(u95), m) for m in (margin, margin * times))
    assert narrow != alike.ALIKE or wide == alike.ALIKE
    assert wide != alike.DIFFERS or narrow == alike.DIFFERS


def test_one_glass_against_many_is_each_pair():
    wt = np.array([g.FLOAT, g.NATRON, g.BOROSILICATE, g.WOOD_ASH])
    estimates = estimate(wt)
    many = alike.working([report(estimates, i) for i in range(len(wt))])
    made = alike.compare(many.at([0]), many, alike.DEFAULT_MARGINS)
    assert made.difference.shape == (FIVE, len(wt))
    for i in range(len(wt)):
        pair = alike.compare(many.at([0]), many.at([i]), alike.DEFAULT_MARGINS)
        assert np.array_equal(made.difference[:, [i]], pair.difference, equal_nan=True)
    miss = alike.expected_miss(made, alike.DEFAULT_MARGINS)
    assert np.isnan(miss[2]) and np.isfinite(miss[[0, 1, 3]]).all() and miss[0] == miss[np.isfinite(miss)].min()


@pytest.mark.parametrize("constants", [(-1.601, 4330.9, 246.1), (-2.154839, 7254.76795, 81.290323), (-1.340982, 3952.346952, 256.8433)])
def test_slope_from_widths_is_the_slope_of_the_curve(constants):
    """Against a numerical derivative of the VFT curve itself."""
    a, b, t0 = constants
    working, softening, annealing = (isokom_vft(level, a, b, t0) for level in (4.0, 7.6, 13.0))
    h = 1e-3
    numeric = (b / (softening - h - t0) - b / (softening + h - t0)) / (2 * h)
    assert alike.slope_at_softening(working - softening, softening - annealing) == pytest.approx(numeric, rel=1e-6)


@pytest.mark.parametrize("wt", [g.FLOAT, g.NATRON, g.WOOD_ASH])
def test_width_of_the_range_is_the_estimate_s(wt):
    made = estimate_one(wt)
    width = alike.working([made])
    row = [c["key"] for c in table("alike")["criteria"]].index("width")
    assert width.u[row, 0] == made["range"]["u_k"]
    assert width.u95[row, 0] == made["range"]["u95_k"] > made["range"]["u_k"]


def test_what_settles_is_judged_by_the_margin_left():
    made = alike.settling("softening", -12.0, 20.0)
    assert made["need95"] == 8.0
    assert {t["key"]: t["is_enough"] for t in made["tests"]} == {"flame": False, "slump": False, "pull": True}
    assert all(t["is_enough"] for t in alike.settling("softening", 70.0, 20.0)["tests"])
    thread = alike.settling("expansion", 10.0, 5.0)["tests"][0]
    assert thread["half95"] == pytest.approx(np.hypot(2.5, 2.0))


def test_every_criterion_has_a_margin_with_reason_and_a_test_with_source():
    data = json.loads((DATA / "alike.json").read_text(encoding="utf-8"))
    for c in data["criteria"]:
        assert c["least"] <= c["margin"] <= c["most"] and c["why"] and c["citation"]
        assert any(t["of"] == c["key"] for t in data["tests"])
    assert all(t["citation"] and t["u95"] > 0 for t in data["tests"])
    assert data == table("alike")


@given(st.floats(-80, 80), st.floats(1, 60), st.floats(1, 3), st.floats(1, 50))
def test_the_chance_inside_the_margin_fits_the_verdict_and_grows_with_the_margin(difference, u, tail, margin):
    """Two one-sided tests at a fortieth each (Schuirmann 1987): alike leaves at most 5 % outside, differs at most 2.5 % inside."""
    mol = np.zeros((1, len(g.FLOAT)))
    first = alike.Working(np.zeros((5, 1)), np.full((5, 1), u), np.full((5, 1), 2 * tail * u), mol)
    second = alike.Working(np.full((5, 1), difference), np.zeros((5, 1)), np.zeros((5, 1)), mol)
    narrow, wide = (alike.compare(first, second, np.full(5, m)) for m in (margin, 2 * margin))
    assert ((narrow.chance >= 0) & (narrow.chance <= wide.chance) & (wide.chance <= 1)).all()
    assert (narrow.chance[narrow.verdict == alike.ALIKE] >= 0.95 - 1e-6).all()
    assert (narrow.chance[narrow.verdict == alike.DIFFERS] <= 0.025 + 1e-6).all()
