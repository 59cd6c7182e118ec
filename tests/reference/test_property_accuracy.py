"""The ± of the other properties against the open measurements (data of Le Losq et al. 2021): is it what the models did?"""

import numpy as np
import pytest

from server.physics.bounds import family_index
from server.physics.combine import EXTRAPOLATED
from server.physics.properties import estimate_properties
from server.physics.table import DATA, table
from tests import property_accuracy as accuracy
from tests.accuracy import written

ENOUGH_GLASSES = 20
MEASUREMENTS = {"density": 287, "youngs_modulus": 547, "refractive_index": 281}


def test_accuracy_file_is_the_count_of_the_open_measurements():
    assert (DATA / "property_accuracy.json").read_text(encoding="utf-8") == written(accuracy.count_all())


@pytest.mark.parametrize("quantity", MEASUREMENTS)
def test_the_measurements_are_all_there(quantity):
    assert len(accuracy.measured(quantity)[1]) == MEASUREMENTS[quantity]


@pytest.mark.parametrize("quantity", MEASUREMENTS)
def test_stated_intervals_hold_what_they_say(quantity):
    """u must hold at least 60 % and u95 at least 88 % of the errors, in all and in every family with 20 glasses or more."""
    glasses, read = accuracy.measured(quantity)
    made = estimate_properties(glasses, np.ones(len(read), dtype=bool))[quantity]
    answered = made.state <= EXTRAPOLATED
    assert answered.mean() > 0.9
    size = np.abs(made.value - read)
    family = family_index(glasses, table("families")["families"])
    counted = 0
    for group in [answered, *(answered & (family == i) for i in range(family.max() + 1))]:
        if group.sum() >= ENOUGH_GLASSES:
            assert np.mean(size[group] <= made.u[group]) >= 0.60
            assert np.mean(size[group] <= made.u95[group]) >= 0.88
            counted += 1
    assert counted >= 3


@pytest.mark.parametrize(("quantity", "unbiased", "near"), [("density", 0.01, 0.012), ("youngs_modulus", 2.0, 3.0), ("refractive_index", 0.003, 0.004)])
def test_recalled_coefficients_are_borne_out(quantity, unbiased, near):
    """Coefficients from memory: on hundreds of glasses that they were not made from, a wrong one would show at once."""
    glasses, read = accuracy.measured(quantity)
    made = estimate_properties(glasses, np.ones(len(read), dtype=bool))[quantity]
    errors = (made.value - read)[made.state <= EXTRAPOLATED]
    assert abs(np.median(errors)) < unbiased
    assert np.median(np.abs(errors)) < near
