"""Several glasses at once."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.errors import Refused
from server.physics.compare import ALIKE, UNSETTLED
from server.physics.matrix import holm, matrix

NOISE = np.exp(0.06 * np.array([-1.2, -0.4, 0.1, 0.5, 1.0]))


@given(st.lists(st.floats(0, 1), min_size=1, max_size=20))
def test_corrected_values_lie_between_p_and_bonferronis_and_keep_their_order(p):
    made, p = holm(p), np.array(p)
    assert np.all(p <= made) and np.all(made <= np.minimum(1.0, len(p) * p) + 1e-12)
    assert np.all(np.diff(made[np.argsort(p, kind="stable")]) >= 0)


def test_two_glasses_need_no_correction():
    (pair,) = matrix({"A": 20 * NOISE, "B": 20.4 * NOISE}, 15)
    assert (pair.first, pair.second, pair.verdict) == ("A", "B", ALIKE)
    assert (pair.p_difference, pair.p_alike, pair.p_unlike) == (pair.single.comparison.p, pair.single.p_alike, pair.single.p_unlike)


def test_correction_takes_back_what_one_pair_alone_would_say():
    made = matrix({"A": 20 * NOISE, "B": 20.6 * NOISE, "C": 21.4 * NOISE, "D": 22.6 * NOISE}, 11)
    assert len(made) == 6
    taken = [m for m in made if m.verdict != m.single.verdict]
    assert taken and all(m.single.verdict == ALIKE and m.verdict == UNSETTLED for m in taken)
    assert all(m.p_alike >= m.single.p_alike and m.p_difference >= m.single.comparison.p for m in made)


def test_refusals_name_the_glass():
    with pytest.raises(Refused) as few:
        matrix({"A": 20 * NOISE}, 20)
    assert few.value.code == "too_few_glasses"
    with pytest.raises(Refused) as few:
        matrix({"A": 20 * NOISE, "bottle foot": [21.0]}, 20)
    assert few.value.code == "too_few_times" and few.value.details["name"] == "bottle foot"
