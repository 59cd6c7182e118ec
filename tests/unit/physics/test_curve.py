"""The VFT curve: the three points lie on it, it turns both ways, and what is no curve is refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.physics.curve import isokom_vft, log_eta_vft, vft_through

LEVELS = (4.0, 7.6, 13.0)


@given(st.floats(-4, 2), st.floats(2000, 12000), st.floats(-100, 500))
def test_through_three_points_and_back(a, b, t0_c):
    points = np.array([[isokom_vft(level, a, b, t0_c)] for level in LEVELS])
    found = [float(x[0]) for x in vft_through(LEVELS, points)]
    assert found == pytest.approx([a, b, t0_c], rel=1e-6, abs=1e-5)


def test_standard_glass_curve():
    """DGG standard glass I: A -1.601, B 4330.9, T0 246.1 (Richet ed. 2021) gives 716.8 and 1019.3 °C."""
    assert isokom_vft(7.6, -1.601, 4330.9, 246.1) == pytest.approx(716.8, abs=0.05)
    assert isokom_vft(4.0, -1.601, 4330.9, 246.1) == pytest.approx(1019.3, abs=0.05)
    assert log_eta_vft(542.7, -1.601, 4330.9, 246.1) == pytest.approx(13.0, abs=0.01)


def test_unit_trap():
    """A float curve printed in Pa·s: T(6.6) is 721.9 °C; read as dPa·s it would soften at 676.8 °C (Seward & Vascott 2005)."""
    assert isokom_vft(6.6, -2.585, 4215, 263) == pytest.approx(721.9, abs=0.1)
    assert isokom_vft(7.6, -2.585, 4215, 263) == pytest.approx(676.8, abs=0.1)


@pytest.mark.parametrize("points", [(700, 700, 500), (600, 700, 500), (1000, 700, 690), (1000, 850, 580), (float("nan"), 700, 500)])
def test_no_curve_through_impossible_points(points):
    found = vft_through(LEVELS, np.array(points, dtype=float)[:, None])
    curve_exists = [bool(np.isfinite(x[0])) for x in found]
    assert len(set(curve_exists)) == 1
    if curve_exists[0]:
        a, b, t0 = (float(x[0]) for x in found)
        assert b > 0 and t0 < points[2] and log_eta_vft(points[1], a, b, t0) == pytest.approx(7.6)
