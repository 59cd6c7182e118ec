"""A ratio of viscosities turned into kelvins, and back, on a viscosity curve {a, b, t0_c} (log10 of dPa·s, T in °C).

A glass that is r times as stiff as its reference at T behaves there like the reference at T − shift; positive is harder.
To first order shift = ln r / slope; the curve's bend is kept, since the slope changes by a tenth in 15 K.
"""

from math import log

import numpy as np

from server.physics.curve import isokom_vft, log_eta_vft
from server.physics.table import table

LN10 = log(10.0)


def common_curve() -> dict:
    """The curve whose slope is taken where no own curve is known (data/shift.json)."""
    return {key: table("shift")["common_curve"][key] for key in ("a", "b", "t0_c")}


def slope_per_k(temperature_c, vft: dict):
    """1/K by which ln of viscosity falls with temperature: ln 10 · b / (T − T0)²; T above T0."""
    return LN10 * vft["b"] / (np.asarray(temperature_c, dtype=float) - vft["t0_c"]) ** 2


def shift_k(ln_ratio, temperature_c, vft: dict):
    """K by which a glass is harder than the curve's glass, of whose viscosity at temperature_c (°C) it has e**ln_ratio times. NaN off the curve."""
    log_eta = log_eta_vft(np.asarray(temperature_c, dtype=float), vft["a"], vft["b"], vft["t0_c"]) + np.asarray(ln_ratio) / LN10
    safe = np.where(log_eta > vft["a"], log_eta, np.nan)
    return temperature_c - isokom_vft(safe, vft["a"], vft["b"], vft["t0_c"])


def ln_ratio_of(shift, temperature_c, vft: dict):
    """ln of viscosity of a glass `shift` K harder ÷ viscosity of the curve's glass, at temperature_c in °C."""
    a, b, t0 = vft["a"], vft["b"], vft["t0_c"]
    return LN10 * (log_eta_vft(np.asarray(temperature_c, dtype=float) - shift, a, b, t0) - log_eta_vft(temperature_c, a, b, t0))


def shift_with_u(ln_ratio: float, half_width: float, temperature_c: float, temperature_u_k: float, vft: dict) -> tuple[float, float]:
    """(shift, its half-width) in K: from the ratio's half-width in ln, and from temperature_u_k, how far T may be off the curve.

    Half the span between the ends, each cause by itself, added as squares; the half-widths are 68 or 95 % as the inputs.
    """
    ratios = shift_k(np.array([ln_ratio - half_width, ln_ratio + half_width]), temperature_c, vft)
    lowest = vft["t0_c"] + 50.0
    heats = np.maximum(temperature_c + np.array([-1.0, 1.0]) * temperature_u_k, lowest)
    temperatures = shift_k(ln_ratio, heats, vft)
    return float(shift_k(ln_ratio, temperature_c, vft)), float(np.hypot(np.ptp(ratios), np.ptp(temperatures)) / 2.0)
