"""The picture of a result's lanes: places on its scale, open ends, ticks."""

from math import inf, isclose, log

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from server.measure.lanes import LEFT, RIGHT, WIDTH, interval, picture, scale_of, ticks_of
from server.measure.shape import Lane, Result

VALUES = st.floats(1e-4, 1e6)


def result(*lanes: Lane, is_log: bool = False) -> Result:
    return Result("invented", lanes=lanes, axis="ratio", is_log=is_log)


def lane(value, low68, high68, low95, high95) -> Lane:
    return Lane("B against A", value, low68, high68, low95, high95)


@given(st.lists(VALUES, min_size=5, max_size=5), st.booleans())
def test_what_is_more_lies_further_right_and_inside_the_picture(values, is_log):
    low95, low68, value, high68, high95 = sorted(values)
    drawn = picture(result(lane(value, low68, high68, low95, high95), is_log=is_log))["lanes"][0]
    ends = [drawn["band95"]["x1"], drawn["band68"]["x1"], drawn["x"], drawn["band68"]["x2"], drawn["band95"]["x2"]]
    assert ends == sorted(ends) and LEFT <= ends[0] and ends[-1] <= WIDTH - RIGHT
    assert not any(drawn[band][side] for band in ("band68", "band95") for side in ("open1", "open2"))


@pytest.mark.parametrize("unknown", [None, inf])
def test_an_end_that_nobody_knows_is_open_at_the_edge(unknown):
    drawn = picture(result(lane(3, 2, unknown, 1, unknown)))["lanes"][0]
    assert drawn["band95"]["open2"] and drawn["band95"]["x2"] == WIDTH - RIGHT and not drawn["band95"]["open1"]
    assert (drawn["within68"], drawn["within95"]) == ("at least 2", "at least 1")
    assert interval(None, 4) == "at most 4" and interval(None, None) == "not known" and interval(-2, 4) == "−2 to 4"


def test_on_a_logarithmic_scale_equal_ratios_are_equal_lengths():
    drawn = [picture(result(lane(v, v, v, 1, 16), is_log=True))["lanes"][0]["x"] for v in (1, 2, 4, 16)]
    assert isclose(drawn[1] - drawn[0], drawn[2] - drawn[1], abs_tol=0.15) and isclose((drawn[3] - drawn[0]) / (drawn[1] - drawn[0]), log(16) / log(2), rel_tol=0.01)


@given(VALUES, VALUES, st.booleans())
def test_ticks_are_few_round_and_on_the_scale(low, high, is_log):
    assume(high > low * 1.001)
    scale = scale_of((lane(low, low, high, low, high),), is_log)
    ticks = ticks_of(scale)
    assert 1 <= len(ticks) <= 8 and all(scale.low * 0.999999 <= t <= scale.high * 1.000001 for t in ticks) and ticks == sorted(set(ticks))


def test_a_single_value_and_none_at_all():
    assert picture(result()) is None
    assert picture(result(lane(5, None, None, None, None)))["lanes"][0]["x"] == WIDTH / 2


def test_long_words_stand_on_lines_of_their_own_and_nothing_overlaps():
    long = "Demo glass of a very long name (B) ÷ another of a name as long as the first (A)"
    drawn = picture(Result("invented", lanes=(Lane(long, 2, 1, 3, 1, 4), Lane("short", 2, 1, 3, 1, 4)), axis="ratio"))
    first, second = drawn["lanes"]
    assert " ".join(line for _y, line in first["words"]) == long and all(len(line) <= 44 for _y, line in first["words"])
    heights = [*(y for y, _line in first["words"]), first["y"], *(y for y, _line in second["words"]), second["y"], drawn["bottom"]]
    assert len(first["words"]) == 2 and heights == sorted(heights) and min(b - a for a, b in zip(heights, heights[1:], strict=False)) >= 18
