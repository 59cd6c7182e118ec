"""The softening offset: symmetric, blind to units of time, wider where more is unsure, refused where it means nothing."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.errors import Refused
from server.physics import offset

A, B = [20.1, 22.4, 19.2, 21.0, 20.6], [16.2, 17.9, 15.5, 16.8, 17.1]
TIMES = st.lists(st.floats(10, 16), min_size=3, max_size=8)


@given(TIMES, TIMES)
def test_swapping_turns_the_sign(first, second):
    made, swapped = offset.softening_offset(first, second), offset.softening_offset(second, first)
    assert swapped.delta_k == pytest.approx(-made.delta_k, abs=1e-9) and swapped.u95_k == pytest.approx(made.u95_k)
    assert swapped.ratio * made.ratio == pytest.approx(1) and swapped.ratio_low95 * made.ratio_high95 == pytest.approx(1)


@given(TIMES, TIMES, st.floats(0.1, 10))
def test_the_clock_s_unit_is_no_matter(first, second, factor):
    made, scaled = offset.softening_offset(first, second), offset.softening_offset(np.array(first) * factor, np.array(second) * factor)
    assert (scaled.delta_k, scaled.u95_k) == pytest.approx((made.delta_k, made.u95_k), abs=1e-6)


def test_mass_correction():
    assert offset.mass_corrected([20.0, 20.0], [2.0, 4.0]) == pytest.approx([20.0, 20.0 / 2**0.4])
    assert offset.mass_corrected([20.0], [2.0], to_g=4.0) == pytest.approx([20.0 * 2**0.4])
    for times, masses, code in (([0.0], [2.0], "no_time"), ([20.0], [0.0], "no_mass"), ([float("nan")], [2.0], "no_time")):
        with pytest.raises(Refused) as refused:
            offset.mass_corrected(times, masses)
        assert refused.value.code == code


def test_what_is_unsure_widens():
    here = offset.softening_offset(A, B)
    other = offset.softening_offset(A, B, is_same_session=False)
    assert other.u95_k**2 - here.u95_k**2 == pytest.approx(1.959964**2 * (18**2 - 8**2), rel=1e-5)
    gap = offset.mass_gap_ln([2.0, 2.0], [3.0, 3.0])
    assert gap == pytest.approx(np.log(1.5))
    bridged = offset.softening_offset(A, B, mass_gap_ln=gap)
    assert bridged.u95_k**2 - here.u95_k**2 == pytest.approx((1.959964 * 0.10 * gap / 0.0048) ** 2, rel=1e-5)
    assert bridged.delta_k == here.delta_k


@pytest.mark.parametrize(("reference", "unknown", "code"), [(A[:2], B, "few_trials"), (A, B[:1], "few_trials"), (A, [], "few_trials"), (A, [16, 0, 17], "no_time"), (A, [16, -2, 17], "no_time"), (A, [60, 61, 62], "too_far")])
def test_no_offset_from_these(reference, unknown, code):
    with pytest.raises(Refused) as refused:
        offset.softening_offset(reference, unknown)
    assert refused.value.code == code and refused.value.message.endswith(".")


def test_its_name_and_what_is_said_beside_it():
    assert offset.words(offset.softening_offset(A, np.array(A) * 1.02), "Demo float").endswith("; not distinguishable from the reference by this test")
    far = offset.softening_offset(A, np.array(A) * 1.5)
    assert far.is_extrapolated and far.is_distinguishable and "extrapolated beyond the ± 60 K" in offset.words(far, "Demo float")
    assert "other session" in offset.words(offset.softening_offset(A, B, is_same_session=False), "Demo float")
    for made in (far, offset.softening_offset(A, B)):
        assert "softening point" not in offset.words(made, "Demo float") and "Pa" not in offset.words(made, "Demo float")
    assert [offset.signed_k(x) for x in (-44.3, 3.2, 0.2, -0.4)] == ["−44", "+3", "0", "0"]


def test_equivalent_temperature_takes_the_reference_along():
    made = offset.softening_offset(A, B)
    at_c, u95 = offset.equivalent(made, 716.8, 9.0)
    assert at_c == pytest.approx(716.8 - 44.308, abs=0.01) and u95 == pytest.approx(np.hypot(made.u95_k, 9.0))


def bracket(unknown, cool_c=670.0, hot_c=770.0, factor=1.6, **known):
    return offset.between_two(A, cool_c, np.array(A) * factor, hot_c, unknown, **known)


@given(st.floats(0, 1))
def test_between_two_lies_on_the_line(place):
    made = bracket(np.array(A) * 1.6**place)
    assert made.softening_c == pytest.approx(670 + 100 * place) and made.place == pytest.approx(place, abs=1e-9)
    assert made.slope_per_k == pytest.approx(np.log(1.6) / 100) and made.u95_k > 1.959964 * 8


def test_the_order_of_references_is_no_matter():
    turned = offset.between_two(np.array(A) * 1.6, 770.0, A, 670.0, np.array(A) * 1.2)
    straight = bracket(np.array(A) * 1.2)
    assert (turned.softening_c, turned.u95_k) == pytest.approx((straight.softening_c, straight.u95_k))


def test_propagation_by_drawing():
    """Half-width of the times alone, against the scatter of the place over drawn means; 5 each, 10 % of judgement."""
    rng = np.random.default_rng(2)
    sd, n, place = 0.1, 5, 0.7
    logs = rng.normal(0, sd / n**0.5, (3, 40_000)) + np.array([[0.0], [np.log(1.6)], [place * np.log(1.6)]])
    spread = np.std((logs[2] - logs[0]) / (logs[1] - logs[0]) * 100)
    pattern = np.array([-1.2, -0.6, 0.0, 0.6, 1.2])
    times = 20 * np.exp(pattern / pattern.std(ddof=1) * sd)
    made = offset.between_two(times, 670.0, times * 1.6, 770.0, times * 1.6**place)
    assert made.statistical95_k / 2.178813 == pytest.approx(spread, rel=0.05)  # t of 12 degrees of freedom, 95 %


def test_references_known_to_10_k_widen():
    sure, unsure = bracket(np.array(A) * 1.25), bracket(np.array(A) * 1.25, u95_a_k=10.0, u95_b_k=10.0)
    assert unsure.u95_k**2 - sure.u95_k**2 == pytest.approx(100 * ((1 - sure.place) ** 2 + sure.place**2))


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        ({"unknown": A, "hot_c": 690.0}, "bracket_narrow"), ({"unknown": A, "hot_c": 900.0}, "bracket_wide"), ({"unknown": A, "hot_c": float("nan")}, "bracket_narrow"),
        ({"unknown": A, "factor": 1.01}, "bracket_unclear"), ({"unknown": A, "factor": 0.8}, "bracket_unclear"),
        ({"unknown": np.array(A) * 0.8}, "outside_bracket"), ({"unknown": np.array(A) * 2.2}, "outside_bracket"), ({"unknown": A[:2]}, "few_trials"),
    ],
)
def test_no_place_between_these(asked, code):
    with pytest.raises(Refused) as refused:
        bracket(**asked)
    assert refused.value.code == code and refused.value.message.endswith(".")


def test_a_little_outside_is_marked():
    assert bracket(np.array(A) * 0.97).is_outside and not bracket(np.array(A) * 1.1).is_outside
