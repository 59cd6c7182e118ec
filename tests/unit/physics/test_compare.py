"""Two glasses: what is refused, and what must hold whatever the times."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from server.errors import Refused
from server.physics.compare import ALIKE, UNLIKE, UNSETTLED, compare, equivalence, judged

TIMES = st.lists(st.floats(5, 200), min_size=2, max_size=12)


def test_refusals_say_which_glass_and_why():
    with pytest.raises(Refused) as few:
        compare([12.0], [13.0, 14.0])
    assert few.value.code == "too_few_times" and "the first glass" in few.value.message
    with pytest.raises(Refused) as few:
        compare([12.0, 13.0], [], names=("float", "amber rod"))
    assert few.value.message == "At least 2 times of amber rod are needed; there are 0."
    with pytest.raises(Refused) as bad:
        compare([12.0, 13.0], [13.0, 0.0])
    assert bad.value.code == "not_a_time" and "the second glass" in bad.value.message
    with pytest.raises(Refused) as flat:
        compare([12.0, 12.0], [13.0, 13.0])
    assert flat.value.code == "no_scatter"


def test_one_glass_without_scatter_is_no_hindrance():
    found = compare([12.0, 12.0, 12.0], [13.0, 13.5, 14.0])
    assert found.sd_first == 0 and found.df == pytest.approx(2) and found.low95 < found.ratio < found.high95


@pytest.mark.parametrize("margin", [0, -5, 0.5, 101, float("nan")])
def test_a_margin_that_says_nothing_is_refused(margin):
    with pytest.raises(Refused) as refused:
        equivalence([12.0, 13.0], [12.5, 13.5], margin)
    assert refused.value.code == "margin"


@pytest.mark.parametrize(("few", "many", "is_thin"), [(2, 2, True), (2, 3, True), (3, 3, False), (3, 6, False), (3, 7, True), (4, 7, False), (4, 40, False)])
def test_few_trials_are_said_to_be_few(few, many, is_thin):
    first, second = np.linspace(10, 12, few), np.linspace(11, 12, many)
    assert compare(first, second).is_thin == compare(second, first).is_thin == is_thin


@given(TIMES, TIMES, st.floats(0.01, 100))
def test_swapping_inverts_the_ratio_and_a_scale_falls_out(first, second, scale):
    assume(np.ptp(np.log(first)) > 1e-6 or np.ptp(np.log(second)) > 1e-6)
    one, swapped, scaled = compare(first, second), compare(second, first), compare(np.array(first) * scale, np.array(second) * scale)
    assert swapped.ratio == pytest.approx(1 / one.ratio) and swapped.median_ratio == pytest.approx(1 / one.median_ratio)
    assert (swapped.low95, swapped.high95) == pytest.approx((1 / one.high95, 1 / one.low95), rel=1e-6)
    assert (swapped.p, swapped.df) == pytest.approx((one.p, one.df))
    assert (scaled.ratio, scaled.low95, scaled.high95) == pytest.approx((one.ratio, one.low95, one.high95), rel=1e-6)
    assert min(one.n_first, one.n_second) - 1 <= one.df * (1 + 1e-9) and one.df <= (one.n_first + one.n_second - 2) * (1 + 1e-9)


@given(TIMES, TIMES, st.sampled_from([5, 10, 25, 60]))
def test_a_verdict_is_the_same_from_either_side(first, second, margin):
    assume(np.ptp(np.log(first)) > 1e-6 or np.ptp(np.log(second)) > 1e-6)
    one, swapped = equivalence(first, second, margin), equivalence(second, first, margin)
    assume(min(abs(one.p_alike - 0.05), abs(one.p_unlike - 0.05)) > 1e-9)
    assert (one.verdict, one.more) == (swapped.verdict, swapped.more)
    assert (one.p_low, one.p_high) == pytest.approx((swapped.p_high, swapped.p_low), rel=1e-6)
    assert (one.verdict == ALIKE) == (one.margin_low <= one.low90 and one.high90 <= one.margin_high)
    assert (one.verdict == UNLIKE) == (one.low90 >= one.margin_high or one.high90 <= one.margin_low)
    assert one.more is None or (one.verdict == UNSETTLED and min(len(first), len(second)) < one.more <= 200)


@given(TIMES, TIMES)
def test_a_wider_margin_takes_no_alike_back(first, second):
    assume(np.ptp(np.log(first)) > 1e-6 or np.ptp(np.log(second)) > 1e-6)
    p = [equivalence(first, second, margin).p_alike for margin in (5, 20, 80)]
    assert p[0] >= p[1] >= p[2]


def test_a_ratio_at_the_margin_is_settled_by_no_number_of_trials():
    noise = np.array([0.9, 1.0, 1.1])
    assert equivalence(24 * noise, 20 * noise, 20).more is None
    assert equivalence(20.2 * noise, 20 * noise, 20).more > 3
    assert equivalence(20.2 * noise, 20 * noise, 2).more is None


def test_trials_to_come_count_those_that_the_other_glass_already_has():
    rng = np.random.default_rng(4)
    many, few = 20 * np.exp(0.1 * rng.standard_normal(60)), 20 * np.exp(0.1 * np.array([-1.5, 0.0, 1.5]))
    made = equivalence(few, many, 12)
    both = equivalence(few, many[:3], 12)
    assert made.verdict == both.verdict == UNSETTLED and 3 < made.more < both.more


@pytest.mark.parametrize(("p_alike", "p_unlike", "verdict"), [(0.05, 0.9, ALIKE), (0.051, 0.9, UNSETTLED), (0.9, 0.05, UNLIKE), (0.9, 0.051, UNSETTLED)])
def test_the_level(p_alike, p_unlike, verdict):
    assert judged(p_alike, p_unlike) == verdict
