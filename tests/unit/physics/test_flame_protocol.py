"""When the protocol of the offset does not hold, in sentences; and what rounding, glow, torch and colour say beside it."""

from dataclasses import replace

import pytest

from server.physics.flame_protocol import FlameTrial, flags, refusals, round_offset_k
from server.physics.offset import softening_offset

TRIAL = FlameTrial("s1", "Demo torch, small flame", "rod, 20 mm out", 2.0, 500.0)
MADE = softening_offset([20.1, 22.4, 19.2, 21.0, 20.6], [16.2, 17.9, 15.5, 16.8, 17.1])


def codes(unknown, reference=None):
    return [each.code for each in refusals(reference or [TRIAL] * 5, unknown)]


def test_a_sound_protocol_has_no_refusal():
    alike = replace(TRIAL, torch="  demo torch,  Small flame", mass_g=1.6, preheat_c=485.0)
    assert codes([TRIAL, alike, TRIAL]) == []


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"session": "s2"}, "other_session"), ({"session": None}, "no_session"), ({"torch": "another"}, "other_torch"), ({"torch": ""}, "other_torch"),
        ({"geometry": "ball on a mandrel"}, "other_geometry"), ({"mass_g": None}, "not_weighed"), ({"mass_g": 0.4}, "mass"), ({"mass_g": 5.2}, "mass"),
        ({"preheat_c": 525.0}, "other_preheat"), ({"preheat_c": None}, "no_preheat"),
    ],
)
def test_one_trial_that_differs_is_told(change, code):
    unknown = [TRIAL, TRIAL, replace(TRIAL, **change)]
    assert codes(unknown) == [code]
    assert codes([TRIAL] * 3, [TRIAL, TRIAL, replace(TRIAL, **change)]) == [code]
    assert all(each.words.endswith(".") and len(each.words) > 20 for each in refusals([TRIAL] * 3, unknown))


def test_too_few_and_everything_at_once():
    assert codes([TRIAL] * 2) == ["few_trials"] and codes([], [TRIAL]) == ["few_trials", "few_trials"]
    worst = FlameTrial("s2", "x", "y", 9.0, 300.0)
    assert codes([worst]) == ["few_trials", "other_session", "other_torch", "other_geometry", "mass", "other_preheat"]


def test_rounding_is_a_range_and_never_an_estimate():
    middle, low, high = round_offset_k(0.5)
    assert middle == pytest.approx(-34.657, abs=0.01)
    assert low < middle - 35 and high > middle + 35
    wide = round_offset_k(0.5, 0.4)
    assert wide[1] < low and wide[2] > high


@pytest.mark.parametrize(("ratio", "consistent"), [(0.4, True), (0.8, True), (4.0, False), (None, None)])
def test_rounding_as_a_flag(ratio, consistent):
    flag = flags(MADE, ratio, None)[0]
    assert (flag.key, flag.is_consistent) == ("round", consistent)
    assert ("at odds" in flag.words) == (consistent is False)


@pytest.mark.parametrize(("ratio", "consistent"), [(0.86, True), (1.14, True), (0.84, False), (1.2, False), (None, None)])
def test_glow_as_a_flag(ratio, consistent):
    flag = flags(MADE, None, ratio)[1]
    assert (flag.key, flag.is_consistent) == ("glow", consistent)
    assert ("suspect" in flag.words) == (consistent is False)


def test_torch_and_colour():
    assert [each.key for each in flags(MADE, None, None)] == ["round", "glow"]
    assert [flags(MADE, None, None, torch_slope_per_k=x)[2].is_consistent for x in (0.0048, 0.009, 0.002)] == [True, False, False]
    assert flags(MADE, None, None, colours=("clear", "cobalt blue"))[2].is_consistent is False
    assert len(flags(MADE, None, None, colours=("Clear", "clear"))) == len(flags(MADE, None, None, colours=("clear", ""))) == 2
