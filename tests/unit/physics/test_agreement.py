"""Lines of evidence: which enter the mean, when they agree, and when there is no mean."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.errors import Refused
from server.physics.agreement import Line, agreement

FLAME, PULL, ANALYSIS = Line("Flame", -44, 32, "flame"), Line("Pull test", -30, 8, "pull"), Line("Analysis", -25, 30, "analysis")


def test_lines_that_agree_have_a_mean_within_them():
    made = agreement([FLAME, PULL, ANALYSIS])
    assert made.agrees is True and made.widened == 1.0 and made.dof == 2
    assert -44 < made.delta_k < -25 and made.u95_k < 8
    assert all(shown.is_used and abs(shown.away_sd) < 2 for shown in made.lines)


def test_of_those_that_share_errors_only_the_narrowest_enters():
    rounding = Line("Rounding", 60, 80, "flame")
    made = agreement([rounding, FLAME, PULL])
    assert [shown.is_used for shown in made.lines] == [False, True, True]
    assert (made.delta_k, made.u95_k) == pytest.approx((agreement([FLAME, PULL]).delta_k, agreement([FLAME, PULL]).u95_k))
    assert made.lines[0].away_sd == pytest.approx(agreement([Line("alone", 60, 80, "x"), PULL]).lines[0].away_sd)


@pytest.mark.parametrize("lines", [[], [FLAME], [FLAME, Line("Again", -40, 30, "flame")], [FLAME, Line("Hearsay", -40, 30, None)]])
def test_without_two_independent_lines_there_is_no_mean(lines):
    made = agreement(lines)
    assert made.agrees is None and made.delta_k is None and "not combined" in made.why
    assert [shown.line for shown in made.lines] == lines


def test_lines_at_odds_widen_and_lines_that_contradict_have_no_mean():
    odds = agreement([Line("a", 0, 10, "a"), Line("b", 17, 10, "b")])
    assert odds.agrees is False and odds.widened > 1 and odds.delta_k == pytest.approx(8.5) and "times as wide" in odds.why
    worse = agreement([Line("a", 0, 10, "a"), Line("b", 60, 10, "b")])
    assert worse.agrees is False and worse.delta_k is None and worse.p < 0.001 and "contradict" in worse.why
    assert worse.lines[1].away_sd > 3


@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(5, 60)), min_size=2, max_size=5), st.floats(-100, 100))
def test_shifting_every_line_shifts_the_mean(pairs, by_k):
    made, moved = (agreement([Line(str(i), d + shift, u, str(i)) for i, (d, u) in enumerate(pairs)]) for shift in (0.0, by_k))
    assert moved.p == pytest.approx(made.p, rel=1e-5, abs=1e-12)
    if made.delta_k is not None and made.agrees == moved.agrees and moved.delta_k is not None:
        assert (moved.delta_k, moved.u95_k) == pytest.approx((made.delta_k + by_k, made.u95_k), rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("u95_k", [0.0, -3.0, float("nan"), float("inf")])
def test_a_line_without_an_interval_is_refused(u95_k):
    with pytest.raises(Refused) as refused:
        agreement([FLAME, Line("Bare", -10, u95_k, "bare")])
    assert refused.value.code == "no_interval" and "Bare" in refused.value.message
