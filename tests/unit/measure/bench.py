"""Invented glasses, readings and a shorthand for what a test comes to."""

import numpy as np

from server.measure.result import result
from server.physics.composition import INDEX, OXIDES
from server.physics.report import estimate_one


def report(**wt):
    """The report of an analysis given by oxide."""
    amounts = np.zeros(len(OXIDES))
    for name, value in wt.items():
        amounts[INDEX[name]] = value
    return estimate_one(amounts)


NATRON = report(SiO2=69.5, Na2O=17.0, K2O=0.7, CaO=7.8, MgO=0.6, Al2O3=2.5)
FLOAT = report(SiO2=72.0, Na2O=14.0, CaO=9.0, MgO=4.0, Al2O3=1.0)
LEAD = report(SiO2=33.0, PbO=62.0, K2O=5.0)
BOTH = {"A": NATRON, "B": FLOAT}


def glass(name, piece=None):
    return {"key": None, "name": name, "piece_id": None, "piece": piece, "mass_g": None}


GLASSES = [glass("Sand glass"), glass("Ash glass"), glass("Blue glass")]


def told(test, setup, rows, estimates=BOTH, glasses=GLASSES):
    """rows: place -> {quantity: reading}."""
    return result(test, glasses, setup, {(place, name): value for place, row in rows.items() for name, value in row.items()}, estimates)
