"""Lines of evidence together: scipy's chi-square, and its weighted fit of a constant, which widens by the same root (Birge 1932, from memory)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

from server.physics.agreement import Line, agreement, chi2_above

Z95 = stats.norm.ppf(0.975)


@given(st.floats(0, 200), st.integers(1, 30))
def test_chance_of_a_chi_square(chi2, dof):
    assert chi2_above(chi2, dof) == pytest.approx(stats.chi2.sf(chi2, dof), rel=1e-9, abs=1e-300)


def fitted(values, u95, is_widened):
    """(constant, 95 % half-width) by scipy's least squares."""
    sigma = np.array(u95) / Z95
    found, covariance = optimize.curve_fit(lambda x, c: c + 0 * x, np.arange(len(values)), values, p0=[0.0], sigma=sigma, absolute_sigma=not is_widened)
    return found[0], Z95 * covariance[0, 0] ** 0.5


@pytest.mark.parametrize(("values", "u95", "agrees"), [([-44, -30, -25], [32, 8, 20], True), ([-44, -20], [12, 14], False), ([5, 20, 40, 15], [10, 16, 20, 30], False)])
def test_mean_and_widening_by_least_squares(values, u95, agrees):
    made = agreement([Line(f"line {i}", d, u, f"group {i}") for i, (d, u) in enumerate(zip(values, u95, strict=True))])
    assert made.agrees is agrees
    assert (made.delta_k, made.u95_k) == pytest.approx(fitted(values, u95, not agrees), rel=1e-5)
    assert made.p == pytest.approx(stats.chi2.sf(made.chi2, len(values) - 1), rel=1e-9)


def test_means_of_lines_that_err_as_they_say_hold_95():
    """Four lines of 6 to 30 K drawn 4000 times: the mean holds 93 to 97 of 100, some 5 of 100 are called at odds."""
    rng, u95, held, odd = np.random.default_rng(8), np.array([12.0, 30.0, 16.0, 60.0]), 0, 0
    for _ in range(4000):
        made = agreement([Line("", d, u, str(u)) for d, u in zip(rng.normal(0, u95 / Z95), u95, strict=True)])
        odd += not made.agrees
        held += made.delta_k is not None and abs(made.delta_k) < made.u95_k
    assert 0.93 <= held / 4000 <= 0.97
    assert odd / 4000 == pytest.approx(0.05, abs=0.012)
