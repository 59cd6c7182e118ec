"""Times in the flame: they broadcast, fall and rise as they must, and end where a piece stalls or never glowed."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.physics import flame
from server.physics.table import table

VFT = {"a": -1.601, "b": 4330.9, "t0_c": 246.1}


def test_broadcasting_is_one_by_one():
    masses, h = np.array([0.5, 2.0, 5.0]), np.array([[80.0], [160.0]])
    whole = flame.sag_time_s(VFT, masses, 500.0, h)
    assert whole.shape == (2, 3)
    assert whole == pytest.approx(np.array([[float(flame.sag_time_s(VFT, m, 500.0, each)) for m in masses] for each in (80.0, 160.0)]))
    assert flame.glow_time_s(np.array([900.0, 950.0]), 2.0).shape == (2,)


@given(st.floats(30, 400), st.floats(0.5, 5), st.floats(20, 620), st.floats(-60, 60))
def test_times_go_the_way_they_must(h, mass_g, preheat_c, shift):
    curve = {**VFT, "t0_c": VFT["t0_c"] + shift}
    here = flame.sag_time_s(curve, mass_g, preheat_c, h)
    assert flame.sag_time_s(curve, mass_g, preheat_c, 1.05 * h) < here
    assert flame.sag_time_s(curve, 1.05 * mass_g, preheat_c, h) > here
    assert flame.sag_time_s(curve, mass_g, preheat_c + 5, h) < here
    assert flame.sag_time_s({**curve, "t0_c": curve["t0_c"] + 2}, mass_g, preheat_c, h) > here
    assert flame.round_time_s(curve, mass_g, preheat_c, h) > here
    assert flame.sag_slope_per_k(curve, mass_g, preheat_c, h) > 0


@given(st.floats(30, 400), st.floats(20, 620))
def test_a_history_climbs_to_its_plateau(h, preheat_c):
    made = flame.history(VFT, 2.0, preheat_c, h)
    assert np.all(np.diff(made.temperature_c) > 0) and made.temperature_c[-1] < made.plateau_c
    assert np.all(np.diff(made.time_s) > 0) and np.all(np.diff(made.dose_per_pa) >= 0)


def test_a_piece_hotter_than_its_plateau_cools_to_it():
    made = flame.history(VFT, 2.0, 900.0, 60.0)
    assert made.temperature_c[0] == pytest.approx(900.0) and np.all(np.diff(made.temperature_c) < 0)
    assert np.all(np.diff(made.time_s) > 0)


def test_rounding_stalls_beyond_ten_minutes():
    assert table("flame")["setting"]["stall_s"]["value"] == 600
    assert np.isinf(flame.round_time_s(VFT, 2.0, 500.0, 60.0))
    patient = replace(flame.usual(), stall_s=1e9)
    assert 600 < flame.round_time_s(VFT, 2.0, 500.0, 60.0, patient) < 1e6


def test_what_never_glowed_has_no_glow_to_lose():
    assert flame.glow_time_s(np.array([400.0, 524.9]), 2.0) == pytest.approx([0, 0])
    assert flame.glow_time_s(530.0, 2.0) > 0


@pytest.mark.parametrize("part", [*table("flame")["setting"].values(), *(table("flame")[name] for name in ("conductivity_w_mk", "convection_w_m2k", "preheat_c", "mass_g"))])
def test_every_default_lies_in_its_range_and_says_where_from(part):
    assert part["low"] <= part["value"] <= part["high"] and len(part["citation"]) > 10
