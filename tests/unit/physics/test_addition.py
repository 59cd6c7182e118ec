"""Weighing compounds into a glass, against a molar-mass library, the groundwork's worked example, the conservation of mass and plain simulation."""

import numpy as np
import periodictable
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.errors import Missing, Refused
from server.physics.addition import Wanted, Weighed, atoms_of, blended, blended_u, compound, compounds, made_of, to_weigh, weighing_u_g, wt_u
from server.physics.composition import INDEX, OXIDES

SODA_LIME = np.zeros(len(OXIDES))
for _name, _wt in {"SiO2": 69.0, "Na2O": 17.0, "CaO": 8.0, "Al2O3": 2.5, "MgO": 0.6, "K2O": 0.7, "Fe2O3": 0.4, "MnO": 0.3, "Cl": 0.9}.items():
    SODA_LIME[INDEX[_name]] = _wt
KEYS = sorted(compounds())


@pytest.mark.parametrize("key", KEYS)
def test_factors_are_those_of_a_molar_mass_library(key):
    """periodictable 2.1 (public domain, CIAAW atomic weights): grams of compound to one gram of oxide, from the two formulas alone."""
    one = compound(key)
    oxide = periodictable.formula(one["oxide"]).mass
    whole = periodictable.formula(one["formula"]).mass
    assert one["factor"] == pytest.approx(whole / (one["oxides"][one["oxide"]] * oxide), rel=2e-4)
    assert one["molar_mass_g_mol"] == pytest.approx(whole, rel=1e-4)


# IUPAC atomic weights, reckoned for the groundwork (TRADE.md 5.2) by other hands than this code.
GROUNDWORK = {
    "malachite": 1.3899, "cu2o": 0.8994, "cu": 0.7989, "blue-vitriol": 3.1388, "co3o4": 1.0712, "coco3": 1.5873, "mno2": 1.2255, "mnco3": 1.6204, "fe3o4": 0.9666, "pb3o4": 1.0239,
    "cerussite": 1.1972, "white-lead": 1.1584, "sno": 0.8938, "stibnite": 1.1653, "soda-ash": 1.7101, "bicarbonate": 2.7108, "trona": 2.4312, "nano3": 2.7427, "potash": 1.4672, "kno3": 2.1467,
    "limestone": 1.7848, "mgco3": 2.0919, "bone-ash": 2.1852, "baco3": 1.2870, "srco3": 1.4247, "boric-acid": 1.7763, "al-hydrate": 1.5301,
}


@pytest.mark.parametrize(("key", "factor"), GROUNDWORK.items())
def test_factors_are_those_of_the_groundwork(key, factor):
    assert compound(key)["factor"] == pytest.approx(factor, abs=6e-5)


def test_the_groundworks_cobalt_glass():
    """TRADE.md 8, vector 7: 50 g of base, 0.10 wt% CoO in the finished glass: 0.05005 g CoO, 0.05361 g Co3O4."""
    [oxide] = to_weigh(SODA_LIME, 50.0, [Wanted("coo", 0.10)])
    [black] = to_weigh(SODA_LIME, 50.0, [Wanted("co3o4", 0.10)])
    assert (oxide.mass_g, black.mass_g) == (pytest.approx(0.05005, abs=5e-6), pytest.approx(0.05361, abs=5e-6))


def test_one_in_a_hundred_is_less_than_one_per_cent():
    """TRADE.md 5.2: 1 % added to 100 parts is 0.990 % of the result."""
    assert made_of(SODA_LIME, 100.0, [Weighed("cuo", 1.0)]).wt[INDEX["CuO"]] == pytest.approx(0.990, abs=5e-4)


parts = st.lists(st.tuples(st.sampled_from(KEYS), st.floats(0.0, 30.0), st.floats(0.3, 1.0)), max_size=4)


@given(parts, st.floats(1.0, 500.0))
def test_mass_is_kept_in_oxides_gas_and_air(weighed, base_g):
    """Atom by atom past our own yields: what is weighed of each element that stays is in the glass, and all that was weighed is glass or gas."""
    made = made_of(SODA_LIME, base_g, [Weighed(*one) for one in weighed])
    assert made.mass_g + made.gas_g == pytest.approx(base_g + sum(mass for _key, mass, _purity in weighed))
    assert made.wt.sum() == pytest.approx(100.0)
    for oxide, element in (("CuO", "Cu"), ("PbO", "Pb"), ("CoO", "Co")):
        inside = made.wt[INDEX[oxide]] / 100 * made.mass_g * getattr(periodictable, element).mass / periodictable.formula(oxide).mass
        brought = sum(m * p * atoms_of(compound(k)["formula"]).get(element, 0) * getattr(periodictable, element).mass / periodictable.formula(compound(k)["formula"]).mass for k, m, p in weighed)
        assert inside == pytest.approx(brought, rel=5e-4, abs=1e-9)


wishes = st.lists(st.tuples(st.sampled_from(["cuo", "malachite", "coco3", "mnco3", "bone-ash", "white-lead", "sb2o3", "borax", "sno2"]), st.floats(0.31, 12.0), st.floats(0.4, 1.0)), min_size=1, max_size=4, unique_by=lambda one: compounds()[one[0]]["oxide"])


@given(wishes, st.floats(1.0, 500.0))
def test_what_is_weighed_gives_what_is_wanted_of_all_together(wishes, base_g):
    wanted = [Wanted(*one) for one in wishes]
    made = made_of(SODA_LIME, base_g, to_weigh(SODA_LIME, base_g, wanted))
    for one in wanted:
        assert made.wt[INDEX[compound(one.compound)["oxide"]]] == pytest.approx(one.wt, abs=1e-9)


def test_what_cannot_be_is_said():
    with pytest.raises(Refused, match="already"):
        to_weigh(SODA_LIME, 50.0, [Wanted("mno2", 0.1)])
    with pytest.raises(Refused, match="same oxide"):
        to_weigh(SODA_LIME, 50.0, [Wanted("cuo", 1.0), Wanted("malachite", 1.0)])
    with pytest.raises(Refused, match="hardly any base"):
        to_weigh(SODA_LIME, 50.0, [Wanted("pbo", 95.0)])
    with pytest.raises(Missing):
        to_weigh(SODA_LIME, 50.0, [Wanted("unobtainium", 1.0)])
    with pytest.raises(Refused, match="no analysis"):
        made_of(np.zeros(len(OXIDES)), 50.0, [])
    for wrong in ("Cu2(OH", "xyz", "CuO-"):
        with pytest.raises(Refused):
            atoms_of(wrong)
    assert to_weigh(SODA_LIME, 50.0, []) == []


def test_impurity_and_metal():
    assert made_of(SODA_LIME, 10.0, [Weighed("malachite", 1.0, 0.5)]).wt[INDEX["CuO"]] == pytest.approx(made_of(SODA_LIME, 10.0, [Weighed("malachite", 0.5)]).wt[INDEX["CuO"]])
    assert made_of(SODA_LIME, 10.0, [Weighed("cu", 1.0)]).gas_g == pytest.approx(1.0 - 79.545 / 63.546, abs=1e-4)  # copper takes up its oxygen


def test_the_balances_share_is_what_a_simulation_shows():
    """200,000 weighings, each the difference of two readings rounded to 0.01 g of a mass that lies anywhere between the marks."""
    rng = np.random.default_rng(7)
    weighed, resolution, n = [Weighed("malachite", 0.2), Weighed("co3o4", 0.05)], 0.01, 200_000

    def read(grams: float) -> np.ndarray:
        tare = rng.uniform(0, 1, n)
        return grams + (np.round((tare + grams) / resolution) - np.round(tare / resolution)) * resolution - grams

    base, copper, cobalt = read(20.0), read(0.2), read(0.05)
    copper_g, cobalt_g = copper / compound("malachite")["factor"], cobalt / compound("co3o4")["factor"]
    percent = 100 * copper_g / (base + copper_g + cobalt_g)
    u = wt_u(SODA_LIME, 20.0, weighed, resolution)[INDEX["CuO"]]
    assert weighing_u_g(resolution) == pytest.approx(0.004082, abs=1e-6)
    assert u == pytest.approx(weighing_u_g(0.01) * 100 / 1.3899 / 20.2, rel=0.02)  # by hand: one gram more is 100/1.3899/20.2 wt% more
    assert percent.std() <= u * 1.02


glass_parts = st.lists(st.tuples(st.lists(st.floats(0.0, 60.0), min_size=len(OXIDES), max_size=len(OXIDES)).filter(lambda row: sum(row) > 1), st.floats(0.1, 50.0)), min_size=1, max_size=5)


@given(glass_parts)
def test_a_blend_holds_what_its_parts_held(parts):
    """Oxide by oxide in grams, each part brought to 100: nothing comes and nothing goes."""
    wt, grams = np.array([row for row, _g in parts]), np.array([g for _row, g in parts])
    made = blended(wt, grams)
    held = (wt / wt.sum(axis=1, keepdims=True) * grams[:, None]).sum(axis=0)
    assert made.wt / 100 * made.mass_g == pytest.approx(held)
    assert (made.wt <= (100 * wt / wt.sum(axis=1, keepdims=True)).max(axis=0) + 1e-9).all()


def test_half_and_half_lies_in_the_middle_and_the_balance_matters_by_their_difference():
    other = SODA_LIME * 0.0
    other[INDEX["SiO2"]], other[INDEX["PbO"]] = 60.0, 40.0
    wt = np.array([SODA_LIME, other])
    made = blended(wt, np.array([10.0, 10.0]))
    assert made.wt[INDEX["PbO"]] == pytest.approx(20.0)
    slope = 20.0 / 20.0  # wt% PbO per gram more of either, by hand
    assert blended_u(wt, np.array([10.0, 10.0]), 0.1)[INDEX["PbO"]] == pytest.approx(0.1 / 6**0.5 * 2**0.5 * slope)
    with pytest.raises(Refused):
        blended(wt, np.zeros(2))
    with pytest.raises(Refused):
        blended(np.array([SODA_LIME, other * 0]), np.ones(2))


def test_who_asks_for_iron_means_all_of_it():
    """By hand: a base of 1 wt% FeO holds 1.1113 wt% as Fe2O3 (2 x 71.844 -> 159.687 g/mol), so 2 wt% of it in all need 100 g x (2 - 1.1113)/98 = 0.907 g."""
    base = np.zeros(len(OXIDES))
    for name, wt in {"SiO2": 74.0, "Na2O": 16.0, "CaO": 9.0, "FeO": 1.0}.items():
        base[INDEX[name]] = wt
    [iron] = to_weigh(base, 100.0, [Wanted("fe2o3", 2.0)])
    assert iron.mass_g == pytest.approx(0.907, abs=1e-3)
    made = made_of(base, 100.0, [iron]).wt
    assert made[INDEX["Fe2O3"]] + 1.1113 * made[INDEX["FeO"]] == pytest.approx(2.0, abs=1e-3)
    with pytest.raises(Refused):
        to_weigh(base, 100.0, [Wanted("fe2o3", 1.0)])


def test_who_asks_for_antimony_or_copper_means_all_of_it():
    """By hand: 1.75 wt% Sb2O5 (323.517 g/mol) is 1.5769 wt% as Sb2O3 (291.518), so 2 wt% in all need 100 g x (2 - 1.5769)/98 = 0.4317 g; 1 wt% Cu2O (143.091) is 1.1118 wt% as CuO (2 x 79.545), so 2 wt% need 0.9063 g."""
    for form, compound, grams in (({"Sb2O5": 1.75}, "sb2o3", 0.4317), ({"Cu2O": 1.0}, "cuo", 0.9063)):
        base = np.zeros(len(OXIDES))
        for name, wt in {"SiO2": 84.0 - sum(form.values()), "Na2O": 16.0, **form}.items():
            base[INDEX[name]] = wt
        [added] = to_weigh(base, 100.0, [Wanted(compound, 2.0)])
        assert added.mass_g == pytest.approx(grams, abs=1e-3)
