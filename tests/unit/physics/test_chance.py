"""Chances from two half-widths against scipy's normal distribution (scipy.stats.norm), whose 68 and 95 of 100 lie within 0.994 and 1.96 of its u."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from server.physics import chance

SCALE = norm.ppf(0.84)  # half of the 68 of 100, in standard deviations
VALUE = st.floats(-500, 500)


@given(VALUE, VALUE, st.floats(0.1, 200))
def test_a_normal_error_is_found_again(limit, value, sigma):
    u68, u95 = SCALE * sigma, norm.ppf(0.975) * sigma
    assert chance.below(limit, value, u68, u95) == pytest.approx(norm.cdf(limit, value, sigma), abs=1e-5)
    inside = norm.cdf(abs(limit), value, sigma) - norm.cdf(-abs(limit), value, sigma)
    assert chance.within(abs(limit), value, u68, u95) == pytest.approx(inside, abs=1e-5)


@given(VALUE, VALUE, st.floats(0.1, 200))
def test_u95_of_1_96_u_is_the_normal_to_half_a_hundredth(limit, value, u):
    """A standard deviation holds 68.3 of 100, not 68: the two differ by that little."""
    assert chance.below(limit, value, u, 1.96 * u) == pytest.approx(norm.cdf(limit, value, u), abs=0.005)


@given(st.floats(0.1, 100), st.floats(-300, 300), st.floats(0.1, 200), st.floats(1.0, 5.0))
def test_within_is_a_chance_that_grows_with_the_limit_and_knows_no_sign(limit, value, u, tail):
    made = chance.within(limit, value, u, u * tail)
    assert 0 <= made <= 1 and made <= chance.within(2 * limit, value, u, u * tail) + 1e-12
    assert made == pytest.approx(chance.within(limit, -value, u, u * tail), abs=1e-12)


def test_without_error_it_is_certain():
    assert chance.within(20.0, np.array([5.0, 30.0]), 0.0, 0.0).tolist() == [1, 0]
