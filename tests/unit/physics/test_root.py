"""Roots against scipy's Brent."""

import numpy as np
import pytest
from scipy.optimize import brentq

from server.physics.root import crossing

CURVES = {
    "line": (lambda x: 3.0 * x - 1.0, -5.0, 9.0),
    "steep, then flat": (lambda x: 0.3 - np.exp(-x), -3.0, 20.0),
    "flat, then steep": (lambda x: np.exp(x) - 1e-6, -25.0, 3.0),
    "a cube": (lambda x: (x - 0.7) ** 3 + 1e-3 * (x - 0.7), -2.0, 2.0),
    "far to one side": (lambda x: np.arctan(50 * (x - 0.999)), 0.0, 1.0),
}


@pytest.mark.parametrize("name", CURVES)
def test_where_scipy_finds_it(name):
    of, low, high = CURVES[name]
    assert crossing(of, low, high) == pytest.approx(brentq(of, low, high, xtol=1e-14), abs=1e-10)


def test_an_end_that_is_the_root_and_ends_of_one_sign():
    assert crossing(lambda x: x, 0.0, 2.0) == 0.0 and crossing(lambda x: x - 2.0, 0.0, 2.0) == 2.0
    assert crossing(lambda x: x + 1.0, 0.0, 2.0) == 0.0 and crossing(lambda x: x - 9.0, 0.0, 2.0) == 2.0
