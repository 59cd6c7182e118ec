"""What an unsure analysis does to an estimate, against plain sampling and its own limits."""

import numpy as np
import pytest

from server.physics import learned
from server.physics.analysis import default_sd, total_sd
from server.physics.composition import INDEX
from server.physics.estimate import estimate
from server.physics.report import estimate_one
from server.physics.table import models
from tests import glasses as g

GLASSES = {"float": g.FLOAT, "natron": g.NATRON, "wood ash": g.WOOD_ASH, "soft bead": g.SOFT_BEAD}


@pytest.mark.parametrize("name", GLASSES)
def test_propagation_is_what_sampling_finds(name):
    """4,000 analyses drawn about the one (numpy), against the analytic part of the ±; small, so that the glass stays in its bounds."""
    wt = GLASSES[name]
    sd = default_sd(wt, "epma-icp") / 4
    drawn = np.maximum(wt + np.random.default_rng(7).normal(size=(4000, len(wt))) * sd, 0)
    sampled, analytic = estimate(drawn), estimate(wt[None], sd_wt=sd[None]).analysis_u[:, 0]
    for level in range(3):
        assert analytic[level] == pytest.approx(np.nanstd(sampled.isokom_c[level]), rel=0.12)
    assert analytic[3] == pytest.approx(np.nanstd(sampled.range_k), rel=0.12)
    assert analytic[4] == pytest.approx(np.nanstd(sampled.alpha), rel=0.12)


def test_slopes_of_learnt_models_are_their_differences():
    for model in (m for m in models() if m["kind"] == "learned"):
        glasses = estimate(np.array(list(GLASSES.values()))).glasses
        x = learned.coordinates(model, glasses)
        slopes, step = learned.slopes(model, x), 1e-4
        for j in range(x.shape[1]):
            ends = []
            for sign in (-1, 1):
                moved = x.copy()
                moved[:, j] += sign * step
                terms, bells = (np.array([o[part] for o in model["outputs"]]).T for part in ("terms", "bells"))
                ends.append(learned.polynomial_terms(model, moved) @ terms + np.exp(learned.exponents(model, moved)) @ bells)
            assert slopes[:, j].T == pytest.approx((ends[1] - ends[0]) / (2 * step), rel=1e-5, abs=1e-4)


def test_a_total_near_100_says_nothing_of_the_analysis():
    assert not total_sd(np.array([g.FLOAT * 100 / g.FLOAT.sum(), g.FLOAT * 98 / g.FLOAT.sum()])).any()
    assert estimate_one(g.FLOAT * 98.5 / g.FLOAT.sum())["analysis_u"] is None


@pytest.mark.parametrize("total", [96, 93, 91, 104])
def test_a_total_far_from_100_widens_every_figure(total):
    sound, poor = estimate_one(g.FLOAT), estimate_one(g.FLOAT * total / g.FLOAT.sum())
    for name in ("working", "softening", "annealing"):
        assert poor["points"][name]["u_k"] > sound["points"][name]["u_k"]
        assert poor["points"][name]["t_c"] == pytest.approx(sound["points"][name]["t_c"])
    assert poor["alpha"]["u_1e7_k"] > sound["alpha"]["u_1e7_k"]


def test_the_further_the_total_the_wider():
    found = [estimate_one(g.FLOAT * t / g.FLOAT.sum())["points"]["softening"]["u_k"] for t in (100, 98, 96, 93, 91)]
    assert found == sorted(found) and len(set(found)) == 4


def test_what_a_total_misses_is_shared_by_amount():
    """Half of what is amiss beyond 2, as a yes-or-no draw between this oxide and the rest: sqrt(p(1-p))."""
    wt = np.zeros((1, len(g.FLOAT)))
    wt[0, INDEX["SiO2"]], wt[0, INDEX["Na2O"]] = 70.0, 20.0
    sd = total_sd(wt)[0]
    assert sd[INDEX["SiO2"]] == pytest.approx(0.5 * 8 * np.sqrt(7 / 9 * 2 / 9))
    assert sd[INDEX["SiO2"]] == pytest.approx(sd[INDEX["Na2O"]])
