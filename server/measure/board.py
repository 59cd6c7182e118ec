"""Pure: the squares of a fuse test's board, from readings to chips with the share of the possible drop that each has fallen."""

from dataclasses import dataclass

import numpy as np

from server.measure import saying as say
from server.measure.saying import Asked
from server.physics import slump as law
from server.physics.table import table

MM, G = 1e-3, 1e-3
LEAD_WT = 5  # from here 2500 kg/m³ is wrong by more than a few per cent


@dataclass(frozen=True)
class Square:
    """One chip: heights in m, volume in m³ with its share of error, share of the possible drop, and its state: usable, little, far or flat."""

    place: str
    letter: str
    volume: float
    volume_u_share: float
    before: float
    after: float
    fraction: float
    state: str


def squares(asked: Asked) -> tuple[list[Square], list[str], list[str]]:
    """(chips that were read whole, what is missing, cautions). A matt skin is crystals: the chip is left out."""
    found, missing, cautions = [], [], []
    for place in asked.places():
        letter, before, after = asked.word(place, "glass"), asked.value(place, "height_before_mm"), asked.value(place, "height_after_mm")
        volume = _volume(asked, place)
        lacking = [words for words, here in (
            ("which glass lies there", letter), ("height before", before), ("height after", after), ("mass, or width before", volume),
        ) if not here]
        if lacking:
            missing.append(f"square {place}, {say.listed(lacking)}")
        elif asked.word(place, "skin") == "matt":
            cautions.append(f"Square {place} ({letter}) is left out: a matt skin is crystals, which hold the chip up however soft its glass is.")
        else:
            found.append(_square(asked, place, letter, (before * MM, after * MM), volume))
            cautions += _look(asked, found[-1])
    cautions += _lead(asked, {s.letter for s in found})
    return found, missing, cautions


def _volume(asked: Asked, place: str) -> tuple[float, float] | None:
    """(m³, share of error) from the mass, else from height and width; None without either."""
    mass, rule = asked.value(place, "mass_g"), table("slump")
    if mass is not None:
        return mass * G / rule["density_kg_m3"]["value"], min(0.5, float(np.hypot(rule["mass_u_g"]["value"] / mass, 0.01)))
    height, width = asked.value(place, "height_before_mm"), asked.value(place, "width_before_mm")
    if height is None or width is None:
        return None
    return float(np.pi / 4 * (width * MM) ** 2 * height * MM), rule["volume_u_share"]["value"]


def _square(asked: Asked, place: str, letter: str, heights: tuple[float, float], volume: tuple[float, float]) -> Square:
    rule = table("slump")
    usual = law.shelf(volume[0])
    angle = asked.set_number("contact_angle_deg", rule["contact_angle_deg"]["value"])
    shelf = law.Shelf(usual.volume, usual.density, usual.tension, angle)
    share = float(law.fraction(shelf, *heights))
    if not np.isfinite(share):
        state = "flat"
    else:
        state = "little" if share < rule["usable"]["least"] else "far" if share > rule["usable"]["most"] else "usable"
    return Square(place, letter, *volume, *heights, share, state)


def _look(asked: Asked, s: Square) -> list[str]:
    """What does not go together in one square."""
    rule, found = table("slump")["compact"], []
    rest = float(law.rest_height(law.shelf(s.volume)))
    if s.state != "flat" and s.before < rule["least_height"] * rest:
        found.append(f"Square {s.place} ({s.letter}) began little higher than it would rest ({rest / MM:.1f} mm): its ± is greater than said.")
    width = asked.value(s.place, "width_before_mm")
    if width and s.state != "flat":
        round_mm = 2.0 * float(np.sqrt(s.volume / (np.pi * s.before))) / MM
        if not 1 / rule["width_factor"] < width / round_mm < rule["width_factor"]:
            found.append(f"Square {s.place} ({s.letter}): mass, height and width do not make one compact chip; check the three.")
    word = asked.word(s.place, "rounding")
    if (word in ("dome", "puddle") and s.state == "little") or (word == "sharp" and s.state in ("usable", "far")):
        found.append(f"Square {s.place} ({s.letter}): its edges look '{word}', its heights say otherwise; measure again.")
    return found


def _lead(asked: Asked, letters: set[str]) -> list[str]:
    """Glasses so heavy that the usual density is wrong for them."""
    heavy = [x for x in sorted(letters) if (asked.estimates.get(x) or {}).get("wt", {}).get("PbO", 0.0) > LEAD_WT]
    return [f"{say.first_up(say.listed([asked.called(x) for x in heavy]))} holds lead and is denser than the sum assumes; weigh its ratio with care."] if heavy else []
