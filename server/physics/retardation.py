"""What crossed polarisers show of stress: retardation, and its colour in daylight by CIE data (data/colour.json).

Axes at 45° to the polarisers, the stress-optical coefficient the same for every wavelength.
"""

from functools import cache

import numpy as np

from server.physics.table import table

NM = 1e9


def stress_optic(wt: dict) -> tuple[float, float] | None:
    """(C, its half range) in 1/Pa by kind of glass, from wt% of oxides; None where lead makes a reading worthless."""
    for kind in table("seal")["stress_optic"]["kinds"]:
        if wt.get(kind["of"], 0.0) >= kind["from_wt"]:
            low, high = kind["low"], kind["high"]
            return None if low is None else ((low + high) / 2e12, (high - low) / 2e12)
    raise ValueError("the last kind must take every glass")


def retardation_nm(c_per_pa, stress_difference_pa, path_m):
    """Path difference in nm of light that crosses path_m under a constant difference of the two stresses across the ray."""
    return c_per_pa * stress_difference_pa * path_m * NM


def cylinder_retardation_nm(c_per_pa, strain, share, e_pa, poisson, diameter_m):
    """nm seen from the side through the axis of a long core in its sheath: stress along minus round, summed over the diameter.

    The sum over core and sheath closes to E strain d s (1 − s) / (1 − ν), s = core diameter ÷ d.
    """
    return c_per_pa * e_pa * strain * diameter_m * share * (1.0 - share) / (1.0 - poisson) * NM


@cache
def _light() -> tuple[np.ndarray, np.ndarray]:
    """(wavelengths in nm (n,), weights (3, n)): observer × D65 by which a transmittance sums to XYZ with Y = 1 for clear light."""
    data = table("colour")
    weights = np.array([data["x_bar"], data["y_bar"], data["z_bar"]]) * np.array(data["d65"])
    return data["from_nm"] + data["step_nm"] * np.arange(weights.shape[1]), weights / weights[1].sum()


def xyz(nm) -> np.ndarray:
    """CIE XYZ, shape (..., 3), of retardations in nm between crossed polarisers; Y = 1 is the light without the polarisers' crossing."""
    waves, weights = _light()
    passed = np.sin(np.pi * np.abs(np.asarray(nm, dtype=float))[..., None] / waves) ** 2
    return passed @ weights.T


def white() -> np.ndarray:
    """XYZ of the light itself, Y = 1."""
    return _light()[1].sum(axis=1)


def srgb(xyz_values: np.ndarray) -> np.ndarray:
    """sRGB 0–255, integers, shape (..., 3), of XYZ; what a screen cannot show is clipped."""
    linear = np.clip(xyz_values @ np.array(table("colour")["xyz_to_srgb"]).T, 0.0, 1.0)
    coded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.rint(255 * coded).astype(int)


def hex_colour(nm: float) -> str:
    """'#rrggbb' of a retardation in nm."""
    return "#{:02x}{:02x}{:02x}".format(*srgb(xyz(nm)))


def name(nm: float) -> str:
    """The colour in a word, by the table of limits."""
    rule = table("colour")["names"]
    return next((word for limit, word in rule["up_to_nm"] if abs(nm) < limit), rule["beyond"])
