"""Pure: chips of one glass in one firing held against each other: do they disagree, and what does a chip that is left out lean to?"""

from dataclasses import replace

import numpy as np

from server.measure import saying as say
from server.measure.board import DID, Square
from server.measure.saying import Asked
from server.physics import slump as law
from server.physics.table import table


def chips(asked: Asked, used: list[Square]) -> law.Chips:
    """Squares as the sum takes them."""
    columns = zip(*((s.volume, s.volume_u_share, s.before, s.after) for s in used), strict=True)
    angle = asked.set_number("contact_angle_deg", table("slump")["contact_angle_deg"]["value"])
    made = zip(*((s.matter.density, s.matter.density_u, s.matter.tension, s.matter.tension_u) for s in used), strict=True)
    return law.Chips(tuple(s.letter for s in used), *(np.array(c) for c in columns), table("slump")["reading_sd_mm"]["value"] * 1e-3, angle, *(np.array(c) for c in made))


def disagree(asked: Asked, ours: list[Square], slope_per_k: float) -> bool:
    """Whether chips of one glass differ by more than three standard deviations of reading and kiln; slope of ln viscosity in 1/K.

    A chip outside what can be read is held against the mean of the usable ones by the nearest dose that its reading allows.
    """
    rule = table("slump")
    usable = [s for s in ours if s.state == "usable"]
    if not usable:
        return False
    made, kiln = law.doses(chips(asked, usable)), (rule["kiln"]["sd_k"] * slope_per_k) ** 2
    apart = np.abs(made.ln[:, None] - made.ln[None, :])
    sd = np.sqrt(made.reading[:, None] + made.reading[None, :] + 2.0 * kiln)
    if (apart > rule["apart"]["sd"] * sd).any():
        return True
    mean, room = float(made.ln.mean()), rule["apart"]["sd"] * float(np.sqrt(made.reading.mean() / len(usable) + 2.0 * kiln))
    return any(_beyond(asked, s, mean, room) for s in ours if s.state in ("little", "far"))


def _beyond(asked: Asked, s: Square, mean_ln: float, room: float) -> bool:
    """Whether a chip that hardly moved, or went all but flat, lies beyond the others however it was misread within its error."""
    sign = 1.0 if s.state == "little" else -1.0
    reach = table("slump")["apart"]["sd"] * 2.0**0.5 * table("slump")["reading_sd_mm"]["value"] * 1e-3
    nearest = float(law.doses(chips(asked, [replace(s, after=s.after - sign * reach)])).ln[0])
    return bool(np.isfinite(nearest) and sign * (mean_ln - nearest) > room)


def leanings(asked: Asked, letter: str, ours: list[Square]) -> list[str]:
    """Which way the answer leans, where chips of a glass that count stand beside some that do not."""
    found = []
    for state, way in (("little", "stiffer"), ("far", "softer")):
        places = [s.place for s in ours if s.state == state]
        if places:
            found.append(f"Square {say.listed(places)} {DID[state] if len(places) == 1 else DID[state].replace('is ', 'are ')} and does not count, so {asked.called(letter)} may be {way} than is said here.")
    return found
