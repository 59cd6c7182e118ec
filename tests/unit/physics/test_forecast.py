"""Forecasts of the flame test: the torch number comes back, ranges widen with what is unsure, and what lies outside is refused or said."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from server.errors import OutOfBounds, Refused
from server.physics import flame, forecast

VFT = {"a": -1.601, "b": 4330.9, "t0_c": 246.1}
BORO = {"a": -2.154839, "b": 7254.76795, "t0_c": 81.290323}


@given(st.floats(30, 450), st.floats(0.5, 5), st.floats(450, 600))
def test_the_torch_number_comes_back(h, mass_g, preheat_c):
    seen = float(flame.sag_time_s(VFT, mass_g, preheat_c, forecast.h_at_mass(h, mass_g)))
    assert forecast.torch_number(seen, mass_g, VFT, preheat_c).h_w_m2k == pytest.approx(h, rel=1e-6)


@given(st.floats(70, 300), st.floats(1, 5))
def test_a_reference_is_foretold_as_it_was(h, mass_g):
    acts = forecast.h_at_mass(h, mass_g)
    sag, even = float(flame.sag_time_s(VFT, mass_g, 500.0, acts)), float(flame.round_time_s(VFT, mass_g, 500.0, acts)) * 0.8
    assume(np.isfinite(even))
    torch = forecast.torch_number(sag, mass_g, VFT, 500.0, mean_round_s=even)
    made = forecast.forecast(VFT, 0.0, mass_g, 500.0, torch.h_w_m2k, 0.0, torch.round_dose)
    assert (made["sag"].best_s, made["round"].best_s) == pytest.approx((sag, even), rel=1e-3)


def test_stated_ranges_where_all_else_is_known():
    made = forecast.forecast(VFT, 0.0, 2.0, 500.0, 150.0, 0.0, 3.0)
    sag, even, glow = made["sag"], made["round"], made["glow"]
    assert np.log(sag.high68_s / sag.best_s) == pytest.approx(0.15) and np.log(sag.best_s / sag.low95_s) == pytest.approx(0.15 * 1.96, rel=1e-3)
    assert even.high68_s / even.best_s == pytest.approx(1.8) and even.best_s / even.low68_s == pytest.approx(1.8)
    assert np.log(glow.high68_s / glow.best_s) == pytest.approx(0.20)
    assert (sag.words, even.words, glow.words) == ((), (), ("same colour only",))


def test_a_curve_known_to_20_k_widens_as_squares():
    """0.0048 of ln t a kelvin for sag, or what the model has where that is more; here it has 0.0043."""
    sag = forecast.forecast(VFT, 20.0, 2.0, 500.0, 150.0, 0.0)["sag"]
    assert flame.sag_slope_per_k(VFT, 2.0, 500.0, 150.0) < 0.0048
    assert np.log(sag.high68_s / sag.best_s) == pytest.approx(np.hypot(0.15, 0.0048 * 20))


@pytest.mark.parametrize("wider", [{"u_k": 15.0}, {"u_ln_h": 0.05}, {"mass_g": 4.0}])
def test_each_doubt_widens(wider):
    known = {"u_k": 0.0, "mass_g": 2.0, "preheat_c": 500.0, "h_w_m2k": 140.0, "u_ln_h": 0.0}
    spread = [made[stage][2] / made[stage][0] for stage in ("sag", "round") for made in (forecast.ranges(VFT, **known), forecast.ranges(VFT, **{**known, **wider}))]
    assert spread[1] > spread[0] * 1.001 and spread[3] > spread[2] * 1.001


def test_a_stall_has_no_number_and_says_so():
    weak = forecast.forecast(VFT, 5.0, 2.0, 500.0, 60.0, 0.03, 3.0)["round"]
    assert weak.best_s is None and weak.high95_s is None and weak.words == ("stalls: more than 10 minutes",)
    middling = forecast.forecast(VFT, 5.0, 2.0, 500.0, 110.0, 0.03, 3.0)["round"]
    assert middling.best_s is not None and middling.high95_s is None and middling.words == ("may stall: more than 10 minutes",)
    assert middling.holds(5000.0) and not middling.holds(10.0)
    assert not weak.holds(10.0)


def test_rounding_that_was_not_fitted_says_so_and_is_wider():
    fitted, bare = (forecast.forecast(VFT, 0.0, 2.0, 500.0, 150.0, 0.0, dose)["round"] for dose in (3.0, None))
    assert bare.words == ("not fitted to a reference's rounding",)
    assert bare.high68_s / bare.best_s > fitted.high68_s / fitted.best_s


def test_carried_beyond_what_was_tried_it_says_extrapolated():
    hard = forecast.forecast(BORO, 0.0, 2.0, 500.0, 120.0, 0.0)
    assert all("extrapolated: softens at 825 °C" in " ".join(each.words) for each in hard.values())
    cold = forecast.forecast(VFT, 0.0, 2.0, 25.0, 120.0, 0.0)["sag"]
    assert "extrapolated: preheat of 25 °C" in " ".join(cold.words)


@pytest.mark.parametrize(
    ("change", "quantity"),
    [({"mass_g": 0.4}, "mass_g"), ({"mass_g": 5.1}, "mass_g"), ({"mass_g": float("nan")}, "mass_g"), ({"preheat_c": 700.0}, "preheat_c"), ({"h_w_m2k": 10.0}, "convection_w_m2k"), ({"h_w_m2k": 900.0}, "convection_w_m2k")],
)
def test_outside_its_bounds_nothing_is_foretold(change, quantity):
    asked = {"vft": VFT, "u_k": 5.0, "mass_g": 2.0, "preheat_c": 500.0, "h_w_m2k": 120.0, "u_ln_h": 0.03, **change}
    with pytest.raises(OutOfBounds) as refused:
        forecast.forecast(**asked)
    assert refused.value.details["quantity"] == quantity and "The estimate of the flame holds for" in refused.value.message


@pytest.mark.parametrize(("seconds", "word"), [(1.0, "sag in 1 s"), (1e5, "sag in 1e+05 s"), (float("nan"), "sag in nan s")])
def test_no_torch_gives_such_a_time(seconds, word):
    with pytest.raises(Refused) as refused:
        forecast.torch_number(seconds, 2.0, VFT, 500.0)
    assert refused.value.code == "no_torch" and word in refused.value.message


def test_no_curve_no_forecast():
    for curve in ({"a": -1.6, "b": -10.0, "t0_c": 246.0}, {"a": float("nan"), "b": 4000.0, "t0_c": 246.0}, {"a": -1.6, "b": 1000.0, "t0_c": 246.0}):
        with pytest.raises(Refused) as refused:
            forecast.forecast(curve, 0.0, 2.0, 500.0, 120.0, 0.0)
        assert refused.value.code == "no_curve"
    with pytest.raises(Refused) as refused:
        forecast.forecast(VFT, -1.0, 2.0, 500.0, 120.0, 0.0)
    assert refused.value.code == "no_uncertainty"


def test_an_unusual_torch_is_named():
    slow = forecast.torch_number(120.0, 2.0, VFT, 500.0)
    assert slow.h_w_m2k < 60 and "unusual torch number" in slow.words[0]
    usual = forecast.torch_number(17.4, 2.0, VFT, 500.0, u_ln_time=0.046)
    assert usual.words == () and usual.u_ln == pytest.approx(0.046 / 1.15, rel=0.02)
    assert forecast.torch_number(17.4, 2.0, VFT, 500.0, 0.046, 10.0).u_ln > usual.u_ln


@pytest.mark.parametrize("even_s", [None, 700.0, float("nan")])
def test_no_rounding_no_dose(even_s):
    assert forecast.torch_number(17.4, 2.0, VFT, 500.0, mean_round_s=even_s).round_dose is None


def test_many_at_once_are_one_by_one():
    curves = {"a": np.array([-1.601, -1.34]), "b": np.array([4330.9, 3952.3]), "t0_c": np.array([246.1, 256.8])}
    many = forecast.ranges(curves, np.array([5.0, 12.0]), np.array([1.5, 3.0]), 500.0, 140.0, 0.04)
    one = forecast.ranges({"a": -1.34, "b": 3952.3, "t0_c": 256.8}, 12.0, 3.0, 500.0, 140.0, 0.04)
    for stage in forecast.STAGES:
        assert many[stage].shape == (2, 5) and many[stage][1] == pytest.approx(one[stage])
