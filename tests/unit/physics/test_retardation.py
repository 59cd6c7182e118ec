"""Retardation and colour words: limits, lead, arrays."""

import numpy as np
import pytest

from server.physics import retardation
from server.physics.table import table


def test_no_stress_is_black():
    assert retardation.hex_colour(0.0) == "#000000" and retardation.name(0.0) == "black"


def test_limits_rise_and_no_word_repeats_next_to_itself():
    limits = table("colour")["names"]["up_to_nm"]
    assert [x for x, _ in limits] == sorted({x for x, _ in limits})
    assert all(one[1] != other[1] for one, other in zip(limits, limits[1:], strict=False))
    assert retardation.name(1e4) == table("colour")["names"]["beyond"]


def test_colour_does_not_know_the_sign():
    assert retardation.hex_colour(-130) == retardation.hex_colour(130) and retardation.name(-130) == retardation.name(130)


@pytest.mark.parametrize(("wt", "c"), [({"SiO2": 70.0}, 2.7e-12), ({"PbO": 24.0}, 2.95e-12), ({"PbO": 62.0}, None), ({"B2O3": 13.0}, 4.0e-12)])
def test_coefficient_by_kind(wt, c):
    made = retardation.stress_optic(wt)
    assert made is None if c is None else made[0] == pytest.approx(c)


def test_colours_take_arrays():
    assert retardation.srgb(retardation.xyz(np.array([[0.0, 100.0], [200.0, 300.0]]))).shape == (2, 2, 3)
