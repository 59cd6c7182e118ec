"""Drift of the reference: what cannot be told, and what a correction does."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.errors import Refused
from server.physics import drift as drifts

HOURS = np.array([0.0, 0.5, 1.2, 2.0, 3.1])
NOISE = np.exp([0.02, -0.01, -0.03, 0.01, 0.01])


@pytest.mark.parametrize(
    ("positions", "times_s", "words"),
    [
        ([], [], "there are 0"),
        ([1], [20.0], "there is 1"),
        ([1, 2], [20.0, 21.0], "there are 2"),
        ([3, 3, 3], [20.0, 21.0, 22.0], "same moment"),
        ([1, 2, 3], [20.0, 20.0, 20.0], "no scatter"),
    ],
)
def test_what_lacks_is_said(positions, times_s, words):
    made = drifts.drift(positions, times_s)
    assert not made.can_tell and words in made.why and made.slope is None and made.n == len(times_s)
    for call in (lambda: drifts.line(made, [1.0]), lambda: drifts.corrected(made, [1.0], [20.0]), lambda: drifts.u_of_ratio(made, [1.0], [2.0])):
        with pytest.raises(Refused) as refused:
            call()
        assert refused.value.code == "no_drift_known" and refused.value.message == made.why


def test_refusals():
    with pytest.raises(Refused) as refused:
        drifts.drift([1, 2, 3], [20.0, -1.0, 21.0])
    assert refused.value.code == "not_a_time"
    for positions in ([1, 2], [1, 2, float("nan")]):
        with pytest.raises(Refused) as refused:
            drifts.drift(positions, [20.0, 21.0, 22.0])
        assert refused.value.code == "positions"
    with pytest.raises(Refused) as refused:
        drifts.limits([20.0])
    assert refused.value.code == "too_few_times"


@given(st.floats(-0.2, 0.2), st.floats(0.1, 10), st.floats(-100, 100))
def test_a_true_drift_adds_to_the_slope_and_scale_and_start_fall_out(slope, scale, start):
    plain, made = drifts.drift(HOURS, 20 * NOISE), drifts.drift(HOURS + start, 20 * scale * NOISE * np.exp(slope * HOURS))
    assert made.slope - plain.slope == pytest.approx(slope, abs=1e-9)
    assert (made.u_slope, made.residual_sd) == pytest.approx((plain.u_slope, plain.residual_sd), rel=1e-6)
    assert made.low95 < made.slope < made.high95 and (made.p < 0.05) == (made.low95 > 0 or made.high95 < 0)


def test_a_correction_takes_the_drift_out_and_keeps_the_middle():
    times = 20 * NOISE * np.exp(0.1 * HOURS)
    found = drifts.drift(HOURS, times)
    made = drifts.corrected(found, HOURS, times)
    assert drifts.drift(HOURS, made.time_s).slope == pytest.approx(0, abs=1e-12)
    assert np.log(made.time_s).mean() == pytest.approx(np.log(times).mean())
    assert made.time_s * made.factor == pytest.approx(times)
    assert made.u_ln == pytest.approx(found.u_slope * np.abs(HOURS - HOURS.mean())) and not made.is_extrapolated.any()


def test_beyond_the_reference_runs_is_said():
    found = drifts.drift(HOURS, 20 * NOISE)
    assert drifts.corrected(found, [-0.1, 1.0, 3.2], [20.0, 20.0, 20.0]).is_extrapolated.tolist() == [True, False, True]


def test_interleaved_glasses_lose_nothing_by_it():
    found = drifts.drift(HOURS, 20 * NOISE)
    assert drifts.u_of_ratio(found, [0.0, 2.0], [1.0, 1.0]) == 0
    assert drifts.u_of_ratio(found, [0.0], [3.0]) == pytest.approx(3 * found.u_slope)


def test_the_line_is_surest_in_the_middle():
    found = drifts.drift(HOURS, 20 * NOISE)
    made = drifts.line(found, [0.0, found.middle, 3.1])
    wide = np.log(made.high95_s / made.low95_s)
    assert made.time_s[1] == pytest.approx(np.exp(found.middle_ln)) and wide[1] == min(wide)


def test_limits_of_their_own_scatter():
    made = drifts.limits([20.0, 20.5, 19.8, 20.1, 20.3, 19.9, 30.0])
    assert made.df == 6 and made.is_out.tolist() == [False] * 6 + [True] and made.low_s < made.middle_s < made.high_s
