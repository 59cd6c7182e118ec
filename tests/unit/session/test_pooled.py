"""Repeats of a measured test, glass by glass: the interval is that of Student's t, as scipy gives it."""

import math

import numpy as np
import pytest
from scipy import stats

from server.measure.shape import Lane, Result
from server.session.pooled import pooled


def came_to(value: float, is_log: bool, unit: str = "") -> Result:
    return Result("", lanes=(Lane("B ÷ A", value, value, value, value, value),), unit=unit, is_log=is_log)


@pytest.mark.parametrize("is_log", [True, False])
def test_repeats_are_pooled_with_the_t_interval_of_their_scatter(is_log):
    values = [1.31, 1.52, 1.44]
    found, alone = pooled([*((code, "Demo glass", False, came_to(v, is_log, "x")) for code, v in zip(("AK", "CD", "EF"), values, strict=True)), ("GH", "Demo float", True, came_to(1.02, is_log))])
    seen = np.log(values) if is_log else np.array(values)
    low, high = stats.t.interval(0.95, 2, loc=seen.mean(), scale=stats.sem(seen))
    back = math.exp if is_log else float
    assert (found.value, found.low95, found.high95) == pytest.approx([back(x) for x in (seen.mean(), low, high)], rel=1e-6)
    assert found.values == (("AK", 1.31), ("CD", 1.52), ("EF", 1.44)) and " x (" in found.words
    assert (alone.name, alone.is_reference, alone.value, alone.low95, alone.words) == ("Demo float", True, pytest.approx(1.02), None, "1.02")


def test_a_run_without_a_number_is_left_out():
    assert pooled([("AK", "Demo glass", False, Result("nothing yet"))]) == []
