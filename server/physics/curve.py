"""The viscosity curve: log10(eta/dPa·s) = A + B/(T - T0), T in °C (Vogel, Fulcher, Tammann)."""

import numpy as np


def log_eta_vft(temperature_c, a, b, t0_c):
    """log10(dPa·s) at temperature_c (°C, array or float), which must be above t0_c."""
    return a + b / (temperature_c - t0_c)


def isokom_vft(log_eta_dpas, a, b, t0_c):
    """Temperature in °C at which log10(eta/dPa·s) has the given value, which must be above a."""
    return t0_c + b / (log_eta_dpas - a)


def vft_through(log_eta_dpas: tuple[float, float, float], temperature_c) -> tuple:
    """(a, b, t0_c) of the one VFT curve through three isokoms.

    log_eta_dpas  : three rising values
    temperature_c : array (3, n), °C, falling down the first axis
    returns       : three arrays (n,); NaN where no falling VFT curve passes through the points
    """
    l1, l2, l3 = log_eta_dpas
    t1, t2, t3 = temperature_c
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = ((t1 - t2) * (l3 - l2)) / ((t2 - t3) * (l2 - l1))
        a = (ratio * l1 - l3) / (ratio - 1.0)
        b = (t1 - t2) / (1.0 / (l1 - a) - 1.0 / (l2 - a))
        t0 = t1 - b / (l1 - a)
    sound = (t1 > t2) & (t2 > t3) & (ratio > 1.0) & (b > 0) & (t0 < t3) & (a < l1)
    return tuple(np.where(sound, x, np.nan) for x in (a, b, t0))
