"""Whatever was read so far, a measured test comes to something: words always, lanes only with a number."""

from math import isfinite

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.measure.shape import Result
from tests.unit.measure.bench import BOTH, told


def reading(name, low, high):
    return st.tuples(st.just(name), st.floats(low, high))


def word(name, *words):
    return st.tuples(st.just(name), st.sampled_from(words))


# Names, limits and words after the contract of the measured tests; every reading may be missing.
KINDS = {
    "pull": ({"pattern": "ABCA", "pull_c": 800.0}, "1234", [reading(f"{when}_{i}_mm", 0.2, 60.0) for when in ("before", "after") for i in (1, 2)] + [word("fault", "", "bubble", "joint", "crack")]),
    "thread": ({}, "123", [reading("length_mm", 10.0, 2000.0), reading("thickness_mm", 0.05, 10.0), reading("share_a", 0.05, 0.95), reading("bow_mm", 0.0, 500.0), reading("bow_turned_mm", 0.0, 500.0), word("inside", "A", "B", "straight")]),
    "fuse": (
        {"peak_c": 760.0, "hold_min": 15.0, "rise_c_h": 200.0, "contact_angle_deg": 120.0, "reference": "A"}, ["a1", "a2", "b1", "f8"],
        [word("glass", "A", "B", "C"), reading("mass_g", 0.01, 500.0), *(reading(f"{what}_{when}_mm", 0.1, 100.0) for what in ("height", "width") for when in ("before", "after")), word("rounding", "sharp", "dome", "puddle"), word("skin", "bright", "matt")],
    ),
    "strip": (
        {"piece": "A", "path_mm": 3.0, "plate": "yes"}, "12",
        [reading("strip_expansion_1e7_per_k", 5.0, 200.0), reading("strip_u_1e7_per_k", 0.1, 30.0), word("halo", "none", "faint", "grey", "white", "coloured"), word("cracked", "yes", "no"), word("pulls", "piece", "strip", "unclear")],
    ),
}

SETUPS = {
    "pull": [("pull_c", 300.0, 1500.0), ("u_pull_c", 1.0, 300.0), ("reading_sd_mm", 0.001, 1.0)],
    "thread": [("set_c", 300.0, 900.0), ("reading_sd_mm", 0.01, 5.0)],
    "fuse": [("peak_c", 300.0, 1400.0), ("hold_min", 0.0, 6000.0), ("rise_c_h", 1.0, 5000.0), ("contact_angle_deg", 20.0, 175.0)],
    "strip": [("path_mm", 0.3, 50.0), ("set_c", 300.0, 900.0)],
}


def setups(test):
    """Any setup within its limits, each part given or not."""
    parts = {name: st.floats(low, high) for name, low, high in SETUPS[test]}
    return st.fixed_dictionaries({}, optional=parts).map(lambda given: {**KINDS[test][0], **given})


def check(made: Result):
    assert made.sentence[:1].isupper() or made.sentence[:1].isdigit()
    assert made.sentence.endswith(".") and "nan" not in made.sentence and "inf" not in made.sentence
    assert all(isinstance(x, str) and x and "nan" not in x for x in (*made.cautions, *made.advice, *made.sources))
    assert all("nan" not in text for _label, text in made.rows)
    assert made.refused is None or made.lanes == ()
    for lane in made.lanes:
        assert isfinite(lane.value)
        assert all(end is None or isfinite(end) for end in (lane.low68, lane.high68, lane.low95, lane.high95))
        assert made.axis


@pytest.mark.parametrize("test", KINDS)
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_any_readings_come_to_words(test, data):
    _setup, places, quantities = KINDS[test]
    setup = data.draw(setups(test))
    rows = {place: dict(data.draw(st.lists(st.one_of(quantities), max_size=len(quantities) + 3))) for place in places}
    check(told(test, setup, rows, data.draw(st.sampled_from([{}, BOTH]))))


@pytest.mark.parametrize("test", KINDS)
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_any_whole_readings_come_to_words(test, data):
    _setup, places, quantities = KINDS[test]
    setup = data.draw(setups(test))
    rows = {place: dict(data.draw(st.tuples(*quantities))) for place in places}
    check(told(test, setup, rows, data.draw(st.sampled_from([{}, BOTH]))))


@pytest.mark.parametrize("test", KINDS)
def test_nothing_read_is_refused_in_words(test):
    made = told(test, KINDS[test][0], {})
    check(made)
    assert made.refused and made.lanes == ()
