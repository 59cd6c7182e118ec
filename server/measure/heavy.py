"""Pure: how dense a glass is and how its melt draws in: the usual of soda-lime glass, or from the composition of one that holds lead."""

from dataclasses import dataclass

import numpy as np

from server.measure.saying import Asked
from server.physics.bounds import Glasses
from server.physics.composition import OXIDES
from server.physics.properties import Property, estimate_properties
from server.physics.table import table

# Analyses that say nothing of their glass; the same set as server.glass.view.ANALYSIS_REFUSED.
UNSOUND = frozenset({"unreadable", "weathered_surface", "no_silica", "total_refused", "weathered_layer"})
KG_M3, N_M = 1e3, 1e-3  # of 1 g/cm³ and 1 mN/m


@dataclass(frozen=True)
class Matter:
    """Density in kg/m³ and surface tension in N/m with one standard deviation each; is_usual where nothing is known of the glass but its kind."""

    density: float
    density_u: float
    tension: float
    tension_u: float
    is_usual: bool = True


def lead_wt(asked: Asked, letter: str) -> float:
    """wt% of PbO by the glass's report; 0 without one."""
    return float((asked.estimates.get(letter) or {}).get("wt", {}).get("PbO", 0.0))


def matter(asked: Asked, letter: str) -> Matter | None:
    """What a chip of the glass is made of; None where so much lead stands against a density that no model gives."""
    rule = table("slump")
    density, tension, lead = rule["density_kg_m3"], rule["surface_tension_n_m"], lead_wt(asked, letter)
    if lead <= rule["lead"]["from_wt"]:
        return Matter(density["value"], density["u"], tension["value"], tension["u"])
    found = _properties(asked.estimates[letter])
    dense, drawing = (_told(found.get(key)) for key in ("density", "surface_tension"))
    if dense is None and lead > rule["lead"]["refuse_from_wt"]:
        return None
    by_lead = rule["lead"]["density_kg_m3_per_wt"]
    made = (density["value"] + by_lead * lead, by_lead * lead / 2) if dense is None else (KG_M3 * dense[0], KG_M3 * dense[1])
    pulls = (tension["value"], 2 * tension["u"]) if drawing is None else (N_M * drawing[0], max(N_M * drawing[1], tension["u"]))
    return Matter(*made, *pulls, is_usual=False)


def _properties(report: dict) -> dict[str, Property]:
    if any(note["code"] in UNSOUND for note in report["notes"]):
        return {}
    wt, mol = (np.array([[report[unit].get(name, 0.0) for name in OXIDES]]) for unit in ("wt", "mol"))
    return estimate_properties(Glasses(wt, mol), np.array([True]))


def _told(prop: Property | None) -> tuple[float, float] | None:
    """(value, u) of one property; None where refused."""
    return (float(prop.value[0]), float(prop.u[0])) if prop is not None and np.isfinite(prop.value[0]) else None
