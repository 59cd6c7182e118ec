"""Rules of combining and refusing for the other properties; sums and figures are checked in tests/reference."""

import numpy as np
import pytest

from server.physics import properties
from server.physics.combine import ANSWERED, EXTRAPOLATED, REFUSED
from server.physics.properties import RULES, answers, disagreement, estimate_properties, report_properties
from server.physics.table import property_models
from tests import glasses as g

OPEN = np.array([True])
CELL = {"n": 40, "bias": 0.0, "median_abs": 0.001, "u": 0.006, "u95": 0.012}
FITTED = {
    "key": "a-fit", "name": "A fit", "basis": "mol_pct", "reads": ["SiO2", "Na2O", "K2O", "CaO", "MgO", "Al2O3"],
    "bounds": [{"of": ["PbO"], "unit": "wt", "max": 1}], "reach": None,
    "answers": {
        "density": {
            "kind": "sum", "constant": 2.2, "terms": [{"c": 0.0125, "of": [["CaO", "Na2O"]]}, {"c": 0.0001, "of": [["MgO"], ["CaO"]]}],
            "u_relative": 0.01, "counted": {"any": {"inside": CELL}},
        }
    },
}


def one(wt, files=None) -> dict[str, dict]:
    glasses = g.as_given(100 * wt / wt.sum())
    return {r["key"]: r for r in report_properties(estimate_properties(glasses, OPEN, files), 0)}


def test_a_fitted_model_file_joins_with_its_own_count():
    """By inverse variance: 1/u² over the sum of 1/u² is the share that moves the mean."""
    before, after = one(g.FLOAT)["density"], one(g.FLOAT, (*property_models(), FITTED))["density"]
    fit = next(s for s in after["said"] if s["model"] == "a-fit")
    assert fit["glasses_counted"] == 40 and fit["u"] == 0.006
    used = [s for s in after["said"] if s["used"]]
    assert fit in used
    assert after["value"] == pytest.approx(np.average([s["value"] for s in used], weights=[1 / s["u"] ** 2 for s in used]), rel=1e-12)
    assert after["value"] != before["value"]


def test_agreeing_earns_no_credit_and_spread_widens():
    made = one(g.FLOAT)["specific_heat"]
    values, u = (np.array([s[name] for s in made["said"]]) for name in ("value", "u"))
    share = u**-2.0 / (u**-2.0).sum()
    spread = (share * (values - made["value"]) ** 2).sum()
    assert made["u"] == pytest.approx(np.sqrt((share * u**2).sum() + spread), rel=1e-12)
    assert made["u"] > u.min()


def test_disagreement_is_told_only_beyond_both_errors():
    values = np.array([[1.0, 1.0, 1.0], [1.1, 1.6, 1.6], [1.0, 3.0, 3.0]])
    u = np.array([[0.3, 0.3, 0.3], [0.4, 0.4, 0.4], [0.3, 0.3, 0.3]])
    used = np.array([[True, True, True], [True, True, True], [True, True, False]])
    apart, pair = disagreement(values, u, used)
    np.testing.assert_allclose(apart, [np.nan, 2.0, 0.6])
    assert pair[:, 1].tolist() == [0, 2] and pair[:, 2].tolist() == [0, 1]
    assert disagreement(values[:2, :1], u[:2, :1], used[:2, :1])[1][:, 0].tolist() == [-1, -1]


def test_what_needs_a_refused_density_is_refused_and_says_so():
    made = one(g.BOROSILICATE)
    assert made["density"]["value"] is None
    assert made["youngs_modulus"]["said"][0]["lacking"] == "density"
    assert made["thermal_conductivity"]["said"][0]["lacking"] == "density"


def test_what_needs_a_density_carried_further_is_carried_further():
    glasses = g.as_given(g.WOOD_ASH)
    found = estimate_properties(glasses, OPEN)
    assert found["density"].state[0] == EXTRAPOLATED
    assert found["youngs_modulus"].state[0] == EXTRAPOLATED


def test_a_refused_analysis_has_no_property():
    found = estimate_properties(g.as_given(g.FLOAT), np.array([False]))
    assert all(prop.state[0] == REFUSED and np.isnan(prop.value[0]) for prop in found.values())


def test_stated_errors_are_doubled_beyond_the_bounds():
    inside, outside = one(g.LEAD_29), one(g.row(SiO2=50, PbO=42, K2O=8))
    appen = [next(s for s in made["refractive_index"]["said"]) for made in (inside, outside)]
    assert [s["state"] for s in appen] == ["answered", "extrapolated"]
    assert appen[1]["u"] == RULES["stated_outside_factor"] * appen[0]["u"]


def test_stretched_models_do_not_dilute_those_inside():
    """A potash glass too poor in silica for Lyon: the others are inside and answer alone."""
    made = one(g.row(SiO2=59, K2O=18, CaO=23))["surface_tension"]
    assert made["state"] == "answered"
    assert {s["name"]: (s["state"], s["used"]) for s in made["said"]}["Lyon"] == ("extrapolated", False)


def test_counts_stand_only_where_they_were_made():
    """The open measurements hold no lead: there the stated error stands, whatever was counted."""
    natron, lead = one(g.row(SiO2=70, Na2O=18, CaO=8, Al2O3=2, PbO=0.5)), one(g.row(SiO2=66, Na2O=17, CaO=8, Al2O3=2, PbO=7))
    assert all(s["glasses_counted"] >= 8 for s in natron["density"]["said"])
    assert all(s["glasses_counted"] == 0 for s in lead["density"]["said"])


def test_every_file_is_asked_for_every_answer_it_gives():
    asked = {(m["key"], q) for q in properties.QUANTITIES for m in answers(property_models(), q)}
    assert asked == {(m["key"], q) for m in property_models() for q in m["answers"]}
    found = estimate_properties(g.as_given(g.FLOAT), OPEN)
    assert set(found) == set(properties.QUANTITIES)
    assert all(prop.state[0] == ANSWERED for prop in found.values())
