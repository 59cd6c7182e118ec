"""Scatter within and between: what a design cannot tell, and what must hold whatever the times."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from server.errors import Refused
from server.physics.components import components

GROUPS = st.lists(st.lists(st.floats(5, 200), min_size=1, max_size=6), min_size=2, max_size=6)


@pytest.mark.parametrize(
    ("groups", "words"),
    [
        ([], "no times"),
        ([[]], "no times"),
        ([[20.0], [21.0], [22.0]], "repeat at least one"),
        ([[20.0, 21.0, 22.0]], "only one group"),
        ([[20.0, 21.0], []], "only one group"),
        ([[20.0, 20.0], [22.0, 22.0]], "same to the last figure"),
    ],
)
def test_a_design_that_cannot_part_them_says_why(groups, words):
    made = components(groups)
    assert not made.can_separate and words in made.why
    assert made.between_sd is None and made.icc is None and made.p is None


def test_one_group_still_tells_its_own_scatter():
    made = components([[20.0, 21.0, 22.0]])
    assert made.within_sd == made.total_sd == pytest.approx(np.std(np.log([20, 21, 22]), ddof=1))
    ends = made.within_sd * np.sqrt(2 / np.array([7.377759, 0.050636]))  # chi-square of 2 degrees of freedom at 97.5 and 2.5 %, from any table
    assert (made.within_low95, made.within_high95) == pytest.approx(tuple(ends), rel=1e-5) and made.df_within == 2


def test_groups_without_repeats_still_tell_the_scatter_of_all():
    assert components([[20.0], [21.0], [22.0]]).total_sd == pytest.approx(np.std(np.log([20, 21, 22]), ddof=1))


def test_a_negative_estimate_is_zero_with_an_upper_end():
    made = components([[18.0, 22.5], [18.2, 22.0], [17.9, 22.3]])
    assert made.can_separate and "closer together" in made.why
    assert made.between_sd == 0 == made.between_low95 < made.between_high95
    assert made.icc < 0 and made.f < 1 and made.total_sd == made.within_sd


def test_a_time_that_is_none_is_refused():
    with pytest.raises(Refused) as refused:
        components([[20.0, 21.0], [0.0, 21.0]])
    assert refused.value.code == "not_a_time"


@given(GROUPS, st.floats(0.1, 10), st.randoms(use_true_random=False))
def test_a_scale_falls_out_and_no_order_counts(groups, scale, random):
    made = components(groups)
    assume(made.can_separate and made.within_sd > 1e-3)
    mixed = [random.sample(g, len(g)) for g in random.sample(groups, len(groups))]
    again = components([np.array(g) * scale for g in mixed])
    for name in ("within_sd", "within_low95", "within_high95", "between_sd", "between_low95", "between_high95", "icc", "icc_low95", "icc_high95", "p"):
        assert getattr(again, name) == pytest.approx(getattr(made, name), rel=1e-5, abs=1e-5), name


@given(GROUPS)
def test_ends_lie_about_the_figure(groups):
    made = components(groups)
    assume(made.can_separate and made.within_sd > 1e-3)
    assert made.within_low95 < made.within_sd < made.within_high95
    assert 0 <= made.between_low95 <= made.between_sd <= made.between_high95
    assert made.icc_low95 <= made.icc_high95 < 1 and made.between_high95 > 0
