"""Pure: where a glass, or the softer of two, sets when it cools: as told, by the curves, or as usual for its kind."""

from dataclasses import dataclass

import numpy as np

from server.measure import saying as say
from server.measure.saying import Asked
from server.physics import seal
from server.physics.table import table


@dataclass(frozen=True)
class SetPoint:
    """°C, how far it may be off in K, and what is to be said of it."""

    set_c: float
    u_k: float
    cautions: list[str]


def set_point(asked: Asked, letters: list[str]) -> SetPoint:
    """Where the softest of these glasses sets. A lead glass without a curve sets far lower than usual, and nobody knows how far."""
    told, own = asked.set_number("set_c"), float(table("seal")["set_point"]["u_k"])
    if told is not None:
        return SetPoint(told, own, [])
    curves = [(seal.set_point_c(curve[0]), asked.estimates[x]["points"]["annealing"]["u_k"]) for x in letters if (curve := asked.curve(x))]
    rule = table("thread")["set_c"]
    heavy = [x for x in letters if not asked.curve(x) and (asked.estimates.get(x) or {}).get("wt", {}).get("PbO", 0.0) > rule["lead"]["from_wt"]]
    if heavy:
        caution = f"{say.first_up(say.listed([asked.called(x) for x in heavy]))} holds lead and has no curve: it is taken to set at {rule['lead']['value']} ± {rule['lead']['u_k']} °C. Give the set point if you know it."
        return SetPoint(rule["lead"]["value"], rule["lead"]["u_k"], [caution])
    if len(curves) < len(letters):
        return SetPoint(rule["value"], rule["u_k"], [])
    set_c, curve_u = min(curves)
    return SetPoint(float(set_c), float(np.hypot(own, curve_u)), [])
