"""Stand-ins against the outside: pairs of measured glasses, makers' sheets, certified curves and trade facts."""

import numpy as np
import pytest

from server.physics import alike
from server.physics.composition import mol_pct_from_wt_pct
from server.physics.curve import log_eta_vft
from server.physics.estimate import estimate
from server.physics.report import estimate_one
from server.physics.table import table
from tests import accuracy
from tests import glasses as g
from tests.reference.test_trade_facts import FUSE_90, FUSE_96, SOFT_104

MEASURED = g.measured()
SODA_LIME = ("srm710", "dgg1", "float_ats129", "c0080")
BORO_SHEETS = ("b33_1", "b33_2", "b33_3", "b33_4", "b33_5")
FLOOR = {"softening": 5.0, "working": 10.0, "width": 10.0, "steepness": 5.0, "expansion": 2.0}  # rules.json floors; steepness 5 % assumed
ROW = {key: i for i, key in enumerate(alike.CRITERIA)}
HLLA = g.row(SiO2=58.5, Al2O3=2.5, Na2O=1.0, K2O=6.5, CaO=22.0, MgO=4.0, FeO=0.9, MnO=1.1, P2O5=2.5)  # typical of HLLA, from memory


def on_paper(key: str) -> alike.Working:
    """Working properties of a measured glass as its maker prints them, with the ± that reference values carry."""
    by = {x["property"]: float(x["value"]) for x in MEASURED[key][1]}
    soft, work, anneal = by["softening_point"], by["working_point"], by["annealing_point"]
    expansion = next(v for k, v in by.items() if k.startswith("expansion_"))
    value = np.array([soft, work, work - soft, 100 * np.log(alike.slope_at_softening(work - soft, soft - anneal)), expansion])
    u = np.array([FLOOR[k] for k in alike.CRITERIA])
    return alike.Working(value[:, None], u[:, None], 2 * u[:, None], mol_pct_from_wt_pct(MEASURED[key][0][None]))


def errors_and_widths(quantity: str) -> dict[str, tuple]:
    """Property -> (errors, u, u95) (n,) of the combined answers for glasses kept from the learnt models, and mol% (n, oxides), halves (n,)."""
    glasses, read, numbers, clusters = accuracy.quantities()[quantity]
    made = estimate(glasses.wt, said=accuracy.kept_answers("near", quantity))
    answers, _spread, state = accuracy.spread_of(made, quantity)
    errors = accuracy.errors_of(np.where(state == 0, answers, np.nan), accuracy.without_own_melts({"key": "lakatos-1972"}, read, numbers))
    halves = np.unique(clusters, return_inverse=True)[1] % 2
    widths = [(made.alpha_u, made.alpha_u95)] if quantity == "expansion" else [*zip(made.isokom_u_k, made.isokom_u95_k, strict=True), (made.range_u_k, made.range_u95_k)]
    return {prop: (e, *w, glasses.mol, halves) for (prop, e), w in zip(errors.items(), widths, strict=True)}


@pytest.mark.parametrize(("quantity", "prop"), [("viscosity", "4"), ("viscosity", "7.6"), ("viscosity", "range"), ("expansion", "alpha")])
def test_widths_of_differences_hold_on_pairs_that_they_were_not_counted_on(quantity, prop):
    """Ferraina et al. 2024 and Le Losq et al. 2021: factors from the pairs of one half of the clusters, tried on those of the other."""
    error, u, u95, mol, halves = errors_and_widths(quantity)[prop]
    inside = []
    for half in (0, 1):
        counted = accuracy.pair_counts(error, u, u95, mol, halves == half)
        i = np.flatnonzero(np.isfinite(error) & np.isfinite(u95) & (halves != half))
        a, b = (i[k] for k in np.triu_indices(len(i), 1))
        distance = np.sqrt(((mol[a] - mol[b]) ** 2).sum(axis=1))
        near = distance < 12
        size = np.abs(error[a] - error[b])[near]
        for name, width in (("f68", u), ("f95", u95)):
            factor = np.interp(distance[near], counted["distance_mol"], counted[name])
            inside.append(np.mean(size <= factor * np.hypot(width[a], width[b])[near]))
    assert 0.60 <= np.mean(inside[::2]) <= 0.76
    assert 0.92 <= np.mean(inside[1::2]) <= 0.985


def test_much_alike_glasses_share_part_of_their_error():
    """Counted, not assumed: below 2 mol% the width that held 68 of 100 differences of working points is three quarters of the sum of squares."""
    error, u, u95, mol, _halves = errors_and_widths("viscosity")["4"]
    counted = accuracy.pair_counts(error, u, u95, mol, np.ones(len(error), dtype=bool))
    assert counted["f68"][0] < 0.8 < 0.9 < counted["f68"][2]


def test_measured_differences_of_soda_lime_glasses_lie_inside_the_interval():
    """Softening points of certificates and sheets (sources in measured.csv; dgg1 by its certified curve), all six pairs."""
    made = alike.working([estimate_one(MEASURED[key][0]) for key in SODA_LIME])
    truth = [next((float(x["value"]) for x in MEASURED[key][1] if x["property"] == "softening_point"), 716.8) for key in SODA_LIME]
    for i in range(4):
        for j in range(i):
            found = alike.compare(made.at([i]), made.at([j]), alike.DEFAULT_MARGINS)
            assert abs(found.difference[0, 0] - (truth[j] - truth[i])) <= found.u95[0, 0]


def test_two_float_glasses_are_not_called_different():
    """DGG standard glass I and a maker's clear float: softening points 717 and 715 °C."""
    made = alike.working([estimate_one(MEASURED[key][0]) for key in ("dgg1", "float_ats129")])
    found = alike.compare(made.at([0]), made.at([1]), alike.DEFAULT_MARGINS)
    assert (found.verdict != alike.DIFFERS).all()
    assert (np.abs(found.difference[:3, 0]) <= alike.DEFAULT_MARGINS[:3]).all()


@pytest.mark.parametrize("one", BORO_SHEETS)
def test_sheets_of_one_borosilicate_are_not_different_but_differ_from_soda_lime(one):
    """Five makers' sheets of borosilicate 3.3, one replicate group in measured.csv, against soda-lime lamp glass 0080."""
    for other in BORO_SHEETS:
        assert (alike.compare(on_paper(one), on_paper(other), alike.DEFAULT_MARGINS).verdict != alike.DIFFERS).all()
    against = alike.compare(on_paper(one), on_paper("c0080"), alike.DEFAULT_MARGINS)
    for key in ("softening", "working", "width", "expansion"):
        assert against.verdict[ROW[key], 0] == alike.DIFFERS


def test_estimated_borosilicate_has_no_viscosity_to_rank_and_differs_in_expansion():
    made = alike.working([estimate_one(g.FLOAT), estimate_one(g.BOROSILICATE)])
    found = alike.compare(made.at([0]), made.at([1]), alike.DEFAULT_MARGINS)
    assert np.isnan(alike.expected_miss(found, alike.DEFAULT_MARGINS)[0])
    assert found.verdict[ROW["expansion"], 0] == alike.DIFFERS
    assert (found.verdict[:4, 0] == alike.UNSURE).all()


def test_slope_of_the_certified_curve_lies_inside_the_interval():
    """DGG standard glass I: log eta = -1.601 + 4330.9/(T - 246.1), Encyclopedia of Glass Science (2021)."""
    a, b, t0 = -1.601, 4330.9, 246.1
    softening = t0 + b / (7.6 - a)
    certified = (log_eta_vft(softening - 0.5, a, b, t0) - log_eta_vft(softening + 0.5, a, b, t0)) / 1.0
    made = alike.working([estimate_one(MEASURED["dgg1"][0])])
    error = made.value[ROW["steepness"], 0] - 100 * np.log(certified)
    assert abs(error) <= made.u[ROW["steepness"], 0]


def test_hlla_works_short_and_hot_against_natron():
    """Common practice, no source: lime-rich wood-ash glass is stiff, and short: its range is narrow."""
    made = alike.working([estimate_one(g.NATRON), estimate_one(HLLA)])
    difference = alike.compare(made.at([0]), made.at([1]), alike.DEFAULT_MARGINS).difference[:, 0]
    assert difference[ROW["softening"]] > 0 and difference[ROW["width"]] < 0


def test_104_and_90_shatter_apart():
    """Common practice, no source: neighbours of the trade's families are nearer than 104 and 90, which shatter."""
    made = alike.working([estimate_one(wt) for wt in (SOFT_104, FUSE_96, FUSE_90)])
    near = alike.compare(made.at([0]), made.at([1]), alike.DEFAULT_MARGINS)
    far = alike.compare(made.at([0]), made.at([2]), alike.DEFAULT_MARGINS)
    assert abs(far.difference[ROW["expansion"], 0]) > 10
    miss = [alike.expected_miss(found, alike.DEFAULT_MARGINS)[0] for found in (near, far)]
    assert miss[0] < miss[1]


def test_resolution_of_the_pull_test_at_two_heats_and_of_the_thread():
    """Pull: u of ln ratio 0.13 each, slope by DGG-1's certified curve. Thread: a = 8 s d/(1.698 L^2 dT), Timoshenko 1925 for the round half-and-half."""
    tests = {t["key"]: t for t in table("alike")["tests"]}
    low, high = (log_eta_vft(t, -1.601, 4330.9, 246.1) * np.log(10) for t in (700.0, 850.0))
    assert 100 * 2 * 0.13 * 2**0.5 / (low - high) == pytest.approx(tests["pull_twice"]["u95"], rel=0.05)
    bow_m, thread_m, length_m, drop_k = 0.5e-3, 1e-3, 0.2, 480
    assert 2 * 8 * bow_m * thread_m / (1.698 * length_m**2 * drop_k) * 1e7 == pytest.approx(tests["thread"]["u95"], rel=0.05)
