"""The estimate against certified and measured glasses that no model here was fitted to; sources in measured.csv."""

import numpy as np
import pytest

from server.physics.curve import isokom_vft
from server.physics.report import estimate_one
from tests import glasses as g

MEASURED = g.measured()
SODA_LIME = ("srm710", "dgg1", "float_ats129", "c0080")
ALKALI_SILICATES = tuple(key for key in MEASURED if key.startswith("alk_"))
POINTS = {"working_point": "working", "softening_point": "softening", "annealing_point": "annealing", "strain_point": "strain"}


def curve_errors(made: dict, lines: list[dict]) -> list[tuple[float, float]]:
    """(error in K, stated 95 % half-width) for every measured isokom between log 4 and 13."""
    found = []
    for line in lines:
        if line["property"] != "isokom" or not 4 <= float(line["viscosity_log10_dPas"]) <= 13:
            continue
        level = float(line["viscosity_log10_dPas"])
        u95 = np.interp(level, (4, 7.6, 13), [made["points"][p]["u95_k"] for p in ("working", "softening", "annealing")])
        found.append((isokom_vft(level, **{k: made["vft"][k] for k in ("a", "b", "t0_c")}) - float(line["value"]), u95))
    return found


@pytest.mark.parametrize("key", SODA_LIME)
def test_soda_lime_fixed_points(key):
    """Within 25 K: the goal of 9 in 10 within 25 K for soda-lime; makers' analyses are rounded, worth 5-10 K by itself."""
    wt, lines = MEASURED[key]
    made = estimate_one(wt)
    checked = 0
    for line in lines:
        if line["property"] in POINTS and line["viscosity_log10_dPas"] != "13.4":
            error = made["points"][POINTS[line["property"]]]["t_c"] - float(line["value"])
            assert abs(error) <= 25, (line["property"], error)
            checked += 1
    errors = curve_errors(made, lines)
    assert all(abs(error) <= 15 for error, _u95 in errors), errors
    assert checked + len(errors) >= 3


@pytest.mark.parametrize("key", ("srm710", "dgg1"))
def test_certified_isokoms_lie_inside_the_stated_95_percent(key):
    wt, lines = MEASURED[key]
    errors = curve_errors(estimate_one(wt), lines)
    assert len(errors) >= 5
    assert all(abs(error) <= u95 for error, u95 in errors)


def test_of_alkali_silicates_95_percent_of_the_isokoms_lie_inside():
    """Lime-free glasses (Le Losq & Neuville 2017), outside every published model; the learnt one knows their like from other papers."""
    inside, asked = 0, 0
    for key in ALKALI_SILICATES:
        wt, lines = MEASURED[key]
        made = estimate_one(wt)
        states = {v["model"]: v["state"] for v in made["verdicts"]}
        assert states["lakatos-1972"] != "answered" and states["okhotin"] != "answered", key
        if made["points"]:
            errors = curve_errors(made, lines)
            inside += sum(abs(error) <= u95 for error, u95 in errors)
            asked += len(errors)
    assert asked >= 60
    assert inside / asked >= 0.9


@pytest.mark.parametrize("key", ("srm717", "b33_1", "b33_3", "c0010", "c0120", "c7720", "c1720"))
def test_lead_boron_and_aluminosilicate_glasses_are_refused(key):
    made = estimate_one(MEASURED[key][0])
    assert made["status"] == "refused"
    assert made["points"] is None
    assert made["notes"]


@pytest.mark.parametrize("key", ("float_ats129", "c0080", "c0010", "c0120", "b33_1", "b33_3", "b33_5"))
def test_expansion(key):
    """Within 8 x 10^-7/K over 20-300 °C: the goal of 9 in 10; ranges 0-300 and 24-302 °C agree with it to 1 %."""
    wt, lines = MEASURED[key]
    values = [float(x["value"]) for x in lines if x["property"] in {"expansion_24_302C", "expansion_0_300C", "expansion_20_300C"}]
    made = estimate_one(wt)
    assert len(values) == 1
    assert made["alpha"]["value_1e7_k"] == pytest.approx(values[0], abs=8)


def test_strain_point_lies_44_k_below_annealing():
    """ASTM C336 strain points: 37-52 K below the annealing points of the measured set, 44 in the mean."""
    gaps = []
    for _wt, lines in MEASURED.values():
        by = {x["property"]: float(x["value"]) for x in lines}
        if {"strain_point", "annealing_point"} <= set(by):
            gaps.append(by["annealing_point"] - by["strain_point"])
    points = estimate_one(g.FLOAT)["points"]
    assert points["annealing"]["t_c"] - points["strain"]["t_c"] == pytest.approx(np.mean(gaps), abs=2)
    assert points["strain"]["u_k"] > points["annealing"]["u_k"]
