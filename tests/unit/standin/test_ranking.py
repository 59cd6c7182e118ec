"""Sides, margins as text, and the order: nothing hidden, nothing ranked without an estimate."""

from dataclasses import replace

import numpy as np
import pytest

from server.errors import Refused
from server.glass.catalog import glasses
from server.physics import alike
from server.physics.chance import within
from server.standin import view
from server.standin.margins import margins_from
from server.standin.ranking import Count, rank, reason_apart
from server.standin.sides import ANCIENT, EITHER, MODERN, REFERENCE, partners, side_of, taken_as

ALL = list(glasses().values())
ROMAN, FLOAT = glasses()["lit-rom-mn"], glasses()["modern-float"]


def own_glass(period: str, key: str = "own/x"):
    return replace(FLOAT, key=key, kind="own analysis", period=period)


@pytest.mark.parametrize(("period", "side"), [("modern", MODERN), ("Modern, 2019", MODERN), ("20th century", MODERN), ("invented, 6th century", ANCIENT), ("1st c. AD", ANCIENT), ("Early modern", ANCIENT), ("2000-1500 BC", ANCIENT), ("made 2024", MODERN), (" ", EITHER)])
def test_own_glasses_take_the_side_of_their_period(period, side):
    assert side_of(own_glass(period)) == side


def test_catalogue_sides():
    assert {side_of(glass) for glass in ALL} == {MODERN, ANCIENT, REFERENCE}
    assert (side_of(ROMAN), side_of(FLOAT), side_of(glasses()["ref-nist-620"])) == (ANCIENT, MODERN, REFERENCE)
    assert side_of(glasses()["hist-thur"]) == ANCIENT


def test_only_own_glasses_can_be_switched():
    assert taken_as(FLOAT, ANCIENT) == MODERN
    assert taken_as(own_glass("modern"), ANCIENT) == ANCIENT
    assert taken_as(own_glass(""), "") == MODERN


def test_partners_are_the_other_side_and_never_itself():
    mine = own_glass("")
    found = partners(mine, ANCIENT, [mine, *ALL], False)
    assert mine not in found and FLOAT in found and ROMAN not in found
    assert mine in partners(ROMAN, ANCIENT, [mine, *ALL], False)
    assert mine in partners(FLOAT, MODERN, [mine, *ALL], True)
    assert {side_of(g) for g in partners(ROMAN, ANCIENT, ALL, True)} == {MODERN, REFERENCE}
    assert {side_of(g) for g in partners(FLOAT, MODERN, ALL, True)} == {ANCIENT}


def test_margins_are_read_with_comma_and_default():
    made = margins_from({"softening": " 12,5 ", "other": "x"})
    assert made[0] == 12.5
    assert np.array_equal(made[1:], alike.DEFAULT_MARGINS[1:])


@pytest.mark.parametrize("text", ["", "x", "0", "-5", "nan", "inf", "1e9", "5 K"])
def test_a_margin_that_is_no_sound_number_is_refused_by_name(text):
    with pytest.raises(Refused) as caught:
        margins_from({"expansion": text})
    assert caught.value.details["field"] == "expansion" and "Expansion" in caught.value.message


@pytest.mark.parametrize(("glass", "side"), [(ROMAN, ANCIENT), (FLOAT, MODERN)])
def test_every_partner_is_ranked_or_stands_apart_with_a_reason(glass, side):
    others = partners(glass, side, ALL, True)
    made = rank(glass, side, others, alike.DEFAULT_MARGINS)
    assert sorted(x.glass.key for x in [*made.rows, *made.apart]) == sorted(g.key for g in others)
    assert [row.miss for row in made.rows] == sorted(row.miss for row in made.rows)
    assert all(len(row.counts) == len(alike.CRITERIA) and np.isfinite(row.miss) for row in made.rows)
    assert all(other.reason.endswith(".") for other in made.apart) and made.apart


def test_lead_and_borosilicate_stand_apart_because_of_what_they_hold():
    apart = {x.glass.key: x for x in rank(ROMAN, ANCIENT, partners(ROMAN, ANCIENT, ALL, False), alike.DEFAULT_MARGINS).apart}
    assert "PbO" in apart["modern-crystal34"].reason
    assert "B2O3" in apart["modern-boro33"].reason
    assert apart["modern-boro33"].expansion.verdict == alike.DIFFERS


def test_a_glass_without_estimate_is_told_so():
    lead = glasses()["modern-crystal34"]
    made = rank(lead, MODERN, partners(lead, MODERN, ALL, False), alike.DEFAULT_MARGINS)
    assert made.rows == [] and "Nothing can be ranked" in view.lead(made) and reason_apart(lead) in view.lead(made)


def count(difference: float, u95: float, margin: float = 20.0) -> Count:
    verdict = int(alike.verdicts(np.array(difference), np.array(u95), margin))
    chance = float(within(margin, difference, u95 / 2, u95))
    return Count(view.TABLE["criteria"][0], margin, difference, u95 / 2, u95, verdict, chance)


def test_places_in_the_picture():
    """The band is a quarter of the width on each side of the middle; what lies beyond four margins is cut and marked."""
    p = view.picture(count(10, 100))
    assert (p["band_low"], p["dot"], p["band_high"]) == (37.5, 56.25, 62.5)
    assert (p["w_low"], p["w_high"]) == (0, 100)
    assert p["beyond_low"] and p["beyond_high"]
    p = view.picture(count(-10, 60))
    assert not p["beyond_low"] and not p["beyond_high"] and p["w_low"] == 6.25


def test_words():
    assert view.guess(count(-12, 75)) == "12 K cooler, give or take 38 (75 at 95 %)"
    assert view.guess(count(0.3, 75)) == "no difference in K, give or take 38 (75 at 95 %)"
    assert view.settle_words(count(-12, 75)).startswith("The best guess lies 8 K inside your margin")
    assert view.settle_words(count(50, 75)).startswith("The best guess lies 30 K outside your margin")
