"""Pure: what a firing would do to a small chip of each known glass, told before it is fired."""

import numpy as np

from server.measure import saying as say
from server.measure.heavy import matter
from server.measure.saying import Asked
from server.physics import slump as law
from server.physics.shift import shift_k
from server.physics.table import table
from server.web.page import number


def forecast(asked: Asked) -> list[str]:
    """One sentence for each glass with a curve: its drop, and how many kelvins would suit it better; or why none can be foreseen."""
    letters = [chr(ord("A") + i) for i in range(len(asked.glasses))]
    found = ["A test with one glass can never give a ratio: lay a second glass beside it."] if len(letters) < 2 else []
    numbers = [asked.set_number(key) for key in ("peak_c", "hold_min", "rise_c_h")]
    if None in numbers:
        return found
    told = [_of_glass(asked, letter, *numbers) for letter in letters if asked.curve(letter) and matter(asked, letter)]
    if not told:
        return [*found, "None of these glasses has an estimate with a viscosity curve, so nothing can be foreseen of this firing."]
    found += [line for line, _ in told]
    if {way for _, way in told} >= {"hotter", "cooler"}:
        found.append("No one firing suits them all: compare each with a glass that lies between, in two firings.")
    return found


def _of_glass(asked: Asked, letter: str, peak_c: float, hold_min: float, rise_c_h: float) -> tuple[str, str]:
    """(the sentence, which way the firing should go: hotter, cooler or empty)."""
    vft, curve_u = asked.curve(letter)
    rule, made = table("slump")["forecast"], matter(asked, letter)
    volume = rule["mass_g"] * 1e-3 / made.density
    before = float(np.cbrt(4.0 * volume / np.pi))  # as high as wide
    shelf = law.Shelf(np.asarray(volume), made.density, made.tension, asked.set_number("contact_angle_deg", table("slump")["contact_angle_deg"]["value"]))
    off = float(np.hypot(curve_u, table("slump")["peak_u_k"]["value"]))
    dose = law.program_dose(np.array([peak_c - off, peak_c, peak_c + off]), hold_min * 60.0, rise_c_h / 3600.0, vft)
    low, share, high = (100.0 * float(x) for x in law.share_after(shelf, before, dose))
    name = say.first_up(asked.called(letter))
    drop = f"{name} would drop some {number(share)} %, most likely {number(low)} to {number(high)} %"
    if rule["good_from"] <= share / 100.0 <= rule["good_to"]:
        return f"{drop}: good.", ""
    wanted = float(law.dose_to(shelf, before, np.asarray(table("slump")["usable"]["aim"])))
    kelvin = -float(shift_k(-np.log(wanted / dose[1]), peak_c, vft))
    word = "hotter" if kelvin > 0 else "cooler"
    if not np.isfinite(kelvin) or abs(kelvin) > rule["farthest_k"]:
        return f"{drop}: fire far {word}.", word
    return f"{drop}: fire it some {number(5 * max(1, round(abs(kelvin) / 5)))} K {word}.", word
