"""What counts as a time, and which lie apart."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from server.errors import Refused
from server.physics.times import log_times, outliers

TIMES = st.lists(st.floats(1, 600), min_size=5, max_size=20)


@pytest.mark.parametrize("bad", [[0.0], [-3.0], [float("nan")], [float("inf")]])
def test_a_time_is_above_zero(bad):
    with pytest.raises(Refused) as refused:
        log_times([12.0, *bad], name="amber rod")
    assert refused.value.code == "not_a_time" and "amber rod" in refused.value.message


def test_too_few_times_say_how_many_there_are():
    with pytest.raises(Refused) as refused:
        log_times([12.0], 2, "the first glass")
    assert refused.value.code == "too_few_times"
    assert refused.value.message == "At least 2 times of the first glass are needed; there is 1."
    assert refused.value.details == {"name": "the first glass", "n": 1, "least": 2}


def test_one_that_lies_apart_is_marked():
    assert outliers([20.1, 22.4, 19.2, 21.0, 20.6, 48.0]).tolist() == [False] * 5 + [True]
    assert outliers([20.1, 22.4, 19.2, 21.0, 20.6, 22.0]).tolist() == [False] * 6


def test_by_hand():
    """ln t 0, 1, 2, 3, 4 and one more at 3.5 · 1.4826 · 1.5 above the median of six, 2.5: just not marked, then marked."""
    edge = 2.5 + 3.5 * 1.4826 * 1.5
    assert not outliers(np.exp([0, 1, 2, 3, 4, edge - 1e-6])).any()
    assert outliers(np.exp([0, 1, 2, 3, 4, edge + 1e-6])).tolist() == [False] * 5 + [True]


def test_fewer_than_five_are_never_marked():
    assert not outliers([20.0, 20.1, 20.2, 90.0]).any() and len(outliers([])) == 0


def test_where_most_are_the_same_the_mean_deviation_stands_in():
    assert outliers([20.0, 20.0, 20.0, 20.0, 20.0]).tolist() == [False] * 5
    assert outliers([20.0] * 9 + [40.0]).tolist() == [False] * 9 + [True]
    assert not outliers([20.0, 20.0, 20.0, 20.1, 20.2]).any()


@given(TIMES, st.floats(0.1, 10))
def test_marks_know_no_unit_and_no_direction(times, scale):
    logs = np.log(times)
    away = np.abs(logs - np.median(logs))
    assume(np.median(away) > 1e-6 and np.abs(away / np.median(away) - 3.5 * 1.4826).min() > 1e-6)
    marks = outliers(times)
    assert marks.tolist() == outliers(np.array(times) * scale).tolist() == outliers(1.0 / np.array(times)).tolist()
    assert marks.sum() <= len(times) / 2 and not marks[np.argmin(away)]
