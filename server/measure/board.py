"""Pure: the squares of a fuse test's board, from readings to chips with the share of the possible drop that each has fallen."""

from dataclasses import dataclass

import numpy as np

from server.measure import saying as say
from server.measure.heavy import Matter, lead_wt, matter
from server.measure.saying import Asked
from server.physics import slump as law
from server.physics.table import table

MM, G = 1e-3, 1e-3
STATES = {"little": "hardly moved", "far": "all but flat", "flat": "began no higher than it rests", "misread": "misread"}
DID = {"little": "hardly moved", "far": "went all but flat", "flat": "began no higher than it rests", "misread": "is misread"}


@dataclass(frozen=True)
class Square:
    """One chip: heights in m, volume in m³ with its share of error, share of the possible drop, its state (usable, little, far, flat or misread), and what it is made of."""

    place: str
    letter: str
    volume: float
    volume_u_share: float
    before: float
    after: float
    fraction: float
    state: str
    matter: Matter
    shelf: law.Shelf


def squares(asked: Asked) -> tuple[list[Square], list[str], list[str]]:
    """(chips that were read whole, what is missing, cautions). A matt skin is crystals: the chip is left out."""
    found, missing, cautions = [], [], []
    made = {letter: matter(asked, letter) for letter in {asked.word(place, "glass") for place in asked.places()} if letter}
    for place in asked.places():
        letter, before, after = asked.word(place, "glass"), asked.value(place, "height_before_mm"), asked.value(place, "height_after_mm")
        volume = _volume(asked, place, made.get(letter))
        lacking = [words for words, here in (
            ("which glass lies there", letter), ("height before", before), ("height after", after), ("mass, or width before", volume),
        ) if not here]
        if lacking:
            missing.append(f"square {place}, {say.listed(lacking)}")
        elif asked.word(place, "skin") == "matt":
            cautions.append(f"Square {place} ({letter}) is left out: a matt skin is crystals, which hold the chip up however soft its glass is.")
        elif made[letter] is None:
            cautions.append(f"Square {place} ({letter}) is left out: it holds lead ({lead_wt(asked, letter):.0f} % PbO), and no model tells how dense it is.")
        else:
            found.append(_square(asked, place, letter, (before * MM, after * MM), volume, made[letter]))
            cautions += _look(asked, found[-1])
    cautions += _lead(asked, found)
    return found, missing, cautions


def _volume(asked: Asked, place: str, made: Matter | None) -> tuple[float, float] | None:
    """(m³, share of error) from the mass, else from height and width; None without either. Without known matter the usual one's."""
    mass, rule = asked.value(place, "mass_g"), table("slump")
    if mass is not None:
        density = made.density if made else rule["density_kg_m3"]["value"]
        by_density = 0.0 if made is None or made.is_usual else made.density_u / density
        return mass * G / density, min(0.5, float(np.hypot(np.hypot(rule["mass_u_g"]["value"] / mass, 0.01), by_density)))
    height, width = asked.value(place, "height_before_mm"), asked.value(place, "width_before_mm")
    if height is None or width is None:
        return None
    return float(np.pi / 4 * (width * MM) ** 2 * height * MM), rule["volume_u_share"]["value"]


def _square(asked: Asked, place: str, letter: str, heights: tuple[float, float], volume: tuple[float, float], made: Matter) -> Square:
    rule = table("slump")
    shelf = law.Shelf(np.asarray(volume[0]), made.density, made.tension, asked.set_number("contact_angle_deg", rule["contact_angle_deg"]["value"]))
    share = float(law.fraction(shelf, *heights))
    sd = rule["reading_sd_mm"]["value"] * MM
    least = float(law.least_height(shelf, (made.density_u, made.tension_u), volume[1], sd))
    if heights[1] > heights[0] + rule["misread"]["sd"] * sd or heights[1] < least < heights[0]:
        state = "misread"
    elif not np.isfinite(share):
        state = "flat"
    else:
        state = "little" if share < rule["usable"]["least"] else "far" if share > rule["usable"]["most"] else "usable"
    return Square(place, letter, *volume, *heights, share, state, made, shelf)


def _look(asked: Asked, s: Square) -> list[str]:
    """What does not go together in one square."""
    rule, found = table("slump")["compact"], []
    if s.state == "misread":
        why = "is taller after the firing than before: measure it again, or the two are exchanged. Bubbles lift a chip too" if s.after > s.before else "lies lower than a chip of its mass can rest: measure its height and mass again"
        return [f"Square {s.place} ({s.letter}) {why}."]
    rest = float(law.rest_height(s.shelf))
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


def _lead(asked: Asked, found: list[Square]) -> list[str]:
    """Glasses so heavy that their density is taken from the composition."""
    heavy = {s.letter: s.matter for s in found if not s.matter.is_usual}
    return [f"{say.first_up(asked.called(x))} holds lead: its sum takes {made.density:.0f} ± {made.density_u:.0f} kg/m³ from its composition." for x, made in sorted(heavy.items())]
