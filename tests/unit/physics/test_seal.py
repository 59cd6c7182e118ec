"""Misfit and stress: exchange turns the sign only, equal glasses give nothing, chances are chances."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.physics import chance, seal

ALPHA = st.floats(20, 160)
SET = st.floats(400, 750)
U = st.floats(2e-5, 1e-3)
STRAIN = st.floats(-2e-3, 2e-3)
THICK = st.floats(1e-4, 2e-2)
STIFF = st.floats(4e10, 1e11)


@given(ALPHA, ALPHA, SET)
def test_exchange_turns_the_sign_only(a, b, set_c):
    assert seal.misfit(a, b, set_c) == -seal.misfit(b, a, set_c)
    assert seal.misfit_u(a, b, 5, 7, set_c, 15) == pytest.approx(seal.misfit_u(b, a, 7, 5, set_c, 15))
    assert seal.misfit(a, a, set_c) == 0


@given(STRAIN, THICK, THICK, STIFF, STIFF)
def test_strip_turned_over_is_the_same_strip(strain, h_a, h_b, e_a, e_b):
    made, over = seal.strip(strain, h_a, h_b, e_a, e_b), seal.strip(-strain, h_b, h_a, e_b, e_a)
    assert over["curvature"] == pytest.approx(-made["curvature"], rel=1e-9)
    for one, other in (("a_joint", "b_joint"), ("a_face", "b_face")):
        assert over[one] == pytest.approx(made[other], rel=1e-6, abs=1)
        assert over[other] == pytest.approx(made[one], rel=1e-6, abs=1)


@given(STRAIN, st.floats(0.1, 0.95))
def test_what_contracts_more_is_pulled(strain, share):
    sign = np.sign(strain)
    strip = seal.strip(strain, 1e-3, 1e-3, 7e10, 7e10)
    assert np.sign(strip["a_joint"]) == sign == -np.sign(strip["b_joint"])
    assert np.sign(seal.sphere(strain, share, 7e10, 0.22)["core"]) == sign
    assert np.sign(seal.cylinder(strain, share, 7e10, 0.22)["sheath_hoop"]) == -sign
    assert all(np.sign(x) == -sign for x in seal.trail(strain, 7e10, 0.22))


@given(STRAIN, U, st.floats(1, 5))
def test_chances_sum_to_one_and_keep_to_the_counts(strain, u, tail):
    chances = seal.class_chances(strain, u, u * tail)
    assert chances.sum() == pytest.approx(1) and (chances >= -1e-12).all()
    assert chance.below(strain + u, strain, u, u * tail) == pytest.approx(0.84, abs=1e-4)
    assert chance.below(strain - u, strain, u, u * tail) == pytest.approx(0.16, abs=1e-4)
    if tail > 1.1:
        assert chance.below(strain + u * tail, strain, u, u * tail) == pytest.approx(0.975, abs=1e-4)


@given(STRAIN, U, st.floats(1, 5))
def test_chances_do_not_know_the_sign(strain, u, tail):
    assert seal.class_chances(strain, u, u * tail) == pytest.approx(seal.class_chances(-strain, u, u * tail))


def test_without_error_the_class_is_certain():
    assert seal.class_chances(5e-5, 0.0, 0.0).tolist() == [1, 0, 0]
    assert seal.class_chances(-2e-4, 0.0, 0.0).tolist() == [0, 1, 0]
    assert seal.class_chances(4e-4, 0.0, 0.0).tolist() == [0, 0, 1]


@pytest.mark.parametrize(("ppm", "u_ppm", "span"), [(0, 50, (0, 0)), (90, 30, (0, 1)), (200, 50, (1, 1)), (-200, 150, (0, 2)), (-900, 300, (2, 2)), (20, 400, (0, 2))])
def test_span_of_classes(ppm, u_ppm, span):
    assert tuple(int(x) for x in seal.class_span(ppm * 1e-6, u_ppm * 1e-6)) == span


def test_sums_take_arrays():
    strain = np.linspace(-1e-3, 1e-3, 5)
    assert seal.strip(strain, 1e-3, 2e-3, 7e10, 6e10)["curvature"].shape == (5,)
    assert seal.class_chances(strain, np.full(5, 1e-4), np.full(5, 2e-4)).shape == (3, 5)


@given(STRAIN, st.floats(3e-4, 3e-3), st.floats(0.05, 0.5))
def test_thread_there_and_back(strain, d, length):
    assert seal.misfit_of_bow(seal.thread_bow_m(strain, d, length), d, length) == pytest.approx(strain, rel=1e-9)
