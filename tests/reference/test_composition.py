"""Molar masses and conversions against a general-purpose library and published analyses."""

import numpy as np
import periodictable
import pytest

from server.glass.catalog import find
from server.physics.composition import (
    INDEX, MOLAR_MASS_G_MOL, OXIDE_OF_ELEMENT, OXIDES, Amount, fe2o3_from_feo, feo_from_fe2o3, mol_pct_from_wt_pct, wt_pct_from_mol_pct, wt_pct_from_ppm, wt_pct_of,
)
from tests import glasses as g

# Element to oxide factors printed in handbooks of analysis, computed with IUPAC weights
FACTORS = {"Si": 2.1393, "Al": 1.8894, "Na": 1.3480, "K": 1.2046, "Ca": 1.3992, "Mg": 1.6583, "Fe": 1.4297, "Ti": 1.6685, "Mn": 1.2912, "P": 2.2913, "S": 2.4971, "Pb": 1.0772, "Cu": 1.2518, "Co": 1.2715, "Zn": 1.2447, "Sn": 1.2695, "Sb": 1.1971, "Ba": 1.1165, "Sr": 1.1826, "B": 3.2200, "Zr": 1.3508, "As": 1.3203}


@pytest.mark.parametrize("name", OXIDES)
def test_molar_mass_against_periodictable(name):
    """periodictable 2.1.0; 0.005 g/mol covers abridged against full atomic weights."""
    assert MOLAR_MASS_G_MOL[INDEX[name]] == pytest.approx(periodictable.formula(name).mass, abs=0.006)


def test_wt_to_mol_against_periodictable():
    """The float bulletin's six oxides: 71.23, 13.22, 8.83, 5.70, 0.64, 0.38 mol% (pyrolite 0.3.8, run by the groundwork)."""
    wt = g.row(SiO2=72.6, Al2O3=1.1, MgO=3.9, CaO=8.4, Na2O=13.9, K2O=0.6)
    mol = mol_pct_from_wt_pct(wt[None, :])[0]
    printed = {"SiO2": 71.23, "Na2O": 13.22, "CaO": 8.83, "MgO": 5.70, "Al2O3": 0.64, "K2O": 0.38}
    for name, value in printed.items():
        assert mol[INDEX[name]] == pytest.approx(value, abs=0.006)
    masses = np.array([periodictable.formula(name).mass for name in OXIDES])
    theirs = 100 * (wt / masses) / (wt / masses).sum()
    assert mol == pytest.approx(theirs, abs=0.002)


def test_mol_to_wt_gives_the_published_row():
    """A model glass published in mol% (M5) gives the wt% of the catalogue row."""
    typed = {"SiO2": 53.5, "Na2O": 3.2, "K2O": 17.0, "CaO": 16.7, "MgO": 5.0, "Al2O3": 1.3, "P2O5": 1.9, "MnO": 0.9, "Fe2O3": 0.4}
    wt = wt_pct_of([Amount(name, value, "mol") for name, value in typed.items()])
    published = find("mod-m5")
    for name in typed:
        assert 100 * wt[INDEX[name]] / wt.sum() == pytest.approx(float(published.published[name]), abs=0.02)


@pytest.mark.parametrize(("element", "factor"), FACTORS.items())
def test_element_to_oxide_factor(element, factor):
    assert wt_pct_from_ppm(element, 1e6) / 100 == pytest.approx(factor, rel=2e-4)


def test_certificate_in_mg_per_kg():
    """BAM-S005A: CoO 49.4 mg/kg is 0.00494 wt%; as element, Co times 1.2715."""
    assert wt_pct_from_ppm("Co", 49.4 / 1.2715) == pytest.approx(0.00494, abs=1e-6)


def test_borosilicate_from_element_fractions():
    """B 0.040064, Na 0.028191, Al 0.011644, Si 0.377220, K 0.003321 give 12.9, 3.8, 2.2, 80.7, 0.4 wt%."""
    fractions = {"B": 0.040064, "Na": 0.028191, "Al": 0.011644, "Si": 0.377220, "K": 0.003321}
    wt = wt_pct_of([Amount(name, value * 1e6, "ppm") for name, value in fractions.items()])
    for name, value in {"SiO2": 80.7, "B2O3": 12.9, "Na2O": 3.8, "Al2O3": 2.2, "K2O": 0.4}.items():
        assert wt[INDEX[name]] == pytest.approx(value, abs=0.06)
    assert wt.sum() == pytest.approx(100.0, abs=0.1)


def test_iron_both_ways():
    """FeO 0.45 is Fe2O3 0.500 (factor 1.1113)."""
    assert fe2o3_from_feo(0.45) == pytest.approx(0.500, abs=0.0005)
    assert feo_from_fe2o3(fe2o3_from_feo(0.45)) == pytest.approx(0.45, rel=1e-12)


def test_there_and_back():
    rng = np.random.default_rng(5)
    wt = rng.random((200, len(OXIDES)))
    wt = 100 * wt / wt.sum(axis=1, keepdims=True)
    assert wt_pct_from_mol_pct(mol_pct_from_wt_pct(wt)) == pytest.approx(wt, abs=1e-10)


def test_every_element_names_an_oxide_that_holds_it():
    for element, oxide in OXIDE_OF_ELEMENT.items():
        assert element in oxide
