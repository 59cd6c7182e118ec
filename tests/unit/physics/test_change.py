"""How working changes with what is added: directions that handbooks give, and intervals that shrink to nothing for nothing added."""

import numpy as np
import pytest

from server.physics.addition import Wanted, made_of, to_weigh
from server.physics.alike import compare, working
from server.physics.change import change, unseen_wt
from server.physics.report import estimate_one
from tests.unit.physics.test_addition import SODA_LIME


def made(*wanted: Wanted, base: np.ndarray = SODA_LIME) -> dict:
    return estimate_one(made_of(base, 100.0, to_weigh(base, 100.0, list(wanted))).wt)


BEFORE = estimate_one(SODA_LIME)


def test_nothing_added_changes_nothing_and_is_sure():
    found = change(BEFORE, estimate_one(SODA_LIME * 1.0))
    assert all(part == {"by": 0.0, "u": 0.0, "u95": 0.0} for part in found.values())


@pytest.mark.parametrize(("key", "sign"), [("soda-ash", -1), ("potash", -1), ("alumina", 1), ("sand", 1)])
def test_directions_are_those_of_the_handbooks(key, sign):
    """Fluxes soften, alumina and silica stiffen: W. A. Weyl and others; common knowledge of glass technology, from memory (TRADE.md 5.3)."""
    oxide = {"soda-ash": 20.0, "potash": 6.0, "alumina": 6.0, "sand": 74.0}[key]
    found = change(BEFORE, made(Wanted(key, oxide)))
    assert np.sign(found["softening"]["by"]) == sign and abs(found["softening"]["by"]) > 2


def test_expansion_rises_with_soda_and_falls_with_silica():
    assert change(BEFORE, made(Wanted("soda-ash", 20.0)))["alpha"]["by"] > 5
    assert change(BEFORE, made(Wanted("sand", 74.0)))["alpha"]["by"] < -3


def test_far_apart_it_is_the_counted_interval_and_close_by_it_shrinks():
    """Where pairs of measured glasses were counted it is that of stand-ins; half the distance below the first of them, half of it."""
    far = made(Wanted("alumina", 8.0))
    pair = compare(working([BEFORE]), working([far]), np.ones(5))
    found = change(BEFORE, far)
    assert [found[name]["u95"] for name in ("softening", "working", "range", "alpha")] == pytest.approx([pair.u95[i, 0] for i in (0, 1, 2, 4)])
    halves = [change(BEFORE, made(Wanted("soda-ash", 17.0 / 99.4 * 100 + d)))["softening"]["u"] for d in (0.25, 0.5)]
    assert halves[1] / halves[0] == pytest.approx(2.0, rel=0.15)


def test_what_no_model_knows_is_told():
    assert unseen_wt(BEFORE, made(Wanted("soda-ash", 20.0)), "viscosity") < 0.05
    tinted = made(Wanted("coo", 0.2))
    assert unseen_wt(BEFORE, tinted, "viscosity") == pytest.approx(0.2, rel=0.05)  # no model of viscosity reads cobalt
    assert unseen_wt(BEFORE, tinted, "expansion") == 0.0
