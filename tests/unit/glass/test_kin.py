"""Kin from figures as typed: limits, ppm, mol% and what was not detected."""

import numpy as np
import pytest

from server.glass import own
from server.glass.catalog import find
from server.glass.kin import kin_of, most_wt
from server.physics.composition import INDEX
from tests.unit.glass.test_own import add, glass_entry


def typed(store, *amounts: tuple[str, str, str]):
    """An own glass stored and read back."""
    raw = glass_entry(amounts=[{"name": name, "text": text, "unit": unit} for name, text, unit in amounts])
    add(store, raw)
    with store.read() as session:
        return own.find(session, raw["subject"])


MAIN = (("SiO2", "70", "wt"), ("Na2O", "17", "wt"), ("CaO", "8,1", "wt"), ("Al2O3", "2.6", "wt"), ("MgO", "0.6", "wt"))


@pytest.mark.parametrize(("text", "most"), [("0.7", 0.7), ("<0.05", 0.05), ("bd", 0.1), ("n.d.", 0.1), ("0", 0.0), ("0.00", 0.0), ("-", np.inf), ("n.a.", np.inf)])
def test_the_most_that_a_cell_may_stand_for(store, text, most):
    """Not detected without a limit: to 0.1 wt% (common practice, no source). Not analysed: anything."""
    glass = typed(store, *MAIN, ("K2O", text, "wt"))
    assert most_wt(glass)[INDEX["K2O"]] == most
    assert np.isinf(most_wt(glass)[INDEX["TiO2"]])


@pytest.mark.parametrize(("potash", "told"), [("0.7", True), ("<0.3", True), ("bd", True), ("n.a.", False), ("", False)])
def test_missing_potash_cannot_say(store, potash, told):
    found = kin_of(typed(store, *MAIN, ("K2O", potash, "wt")))
    assert ("natron" in {line["key"] for line in found["told"]}) == told
    assert ("natron" in {line["key"] for line in found["cannot"]}) != told


def test_ppm_and_mol_are_read_in_their_own_unit(store):
    """1000 mg/kg Pb is 0.1077 wt% PbO (factor 1.0772, atomic weights)."""
    ppm = typed(store, *MAIN, ("K2O", "0.7", "wt"), ("Pb", "1000", "ppm"))
    assert most_wt(ppm)[INDEX["PbO"]] == pytest.approx(0.10772, abs=1e-5)
    assert "Pb 100" in kin_of(ppm)["recycling"]
    mol = typed(store, ("SiO2", "70", "mol"), ("Na2O", "16.5", "mol"), ("CaO", "9", "mol"), ("K2O", "0.5", "mol"), ("MgO", "1", "mol"), ("Al2O3", "1.8", "mol"))
    assert most_wt(mol) == pytest.approx(np.where(mol.wt > 0, mol.wt, np.inf))
    assert "natron" in {line["key"] for line in kin_of(mol)["told"]}


def test_catalogue_blanks_stay_open():
    most = most_wt(find("fre-levi-ap-mean"))
    assert most[INDEX["K2O"]] == 0.71 and np.isinf(most[INDEX["MnO"]])
    assert most_wt(find("jac-003"))[INDEX["Sb2O3"]] == 0.0


def test_no_short_citation_is_told_twice():
    cites = kin_of(find("jac-041"))["cites"]
    assert len(cites) == len(set(cites)) > 2 and "Brems & Degryse 2014" in cites
