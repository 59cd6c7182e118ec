"""How far apart two glasses may be and still work alike, as the person sets it."""

from collections.abc import Mapping

import numpy as np

from server.errors import Refused
from server.physics.table import table

CRITERIA = tuple(table("alike")["criteria"])


def margins_from(given: Mapping[str, str]) -> np.ndarray:
    """Margins (criteria,) from text by criterion; one that is not given takes its default. Raises Refused naming the field."""
    return np.array([_margin(c, given[c["key"]]) if c["key"] in given else float(c["margin"]) for c in CRITERIA])


def _margin(criterion: dict, text: str) -> float:
    limits = f"{criterion['least']:g} to {criterion['most']:g} {criterion['unit']}"
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        value = float("nan")
    if not criterion["least"] <= value <= criterion["most"]:
        raise Refused(f"{criterion['label']}: a margin is a number from {limits}.", code="bad_margin", field=criterion["key"])
    return value
