"""Chances of a value known to two half-widths."""

from math import erf

import numpy as np

Z68, Z95 = 0.994458, 1.959964
phi = np.vectorize(lambda z: 0.5 * (1.0 + erf(z / 2.0**0.5)), otypes=[float])


def below(limit, value, u68, u95):
    """Probability that the true value lies below a limit. The normal score runs straight from 0 through u68 (0.994) to u95 (1.96) and on.

    So 68 and 95 of 100 lie within u68 and u95, as counted, whatever the tails between.
    """
    x = np.abs(np.asarray(limit, dtype=float) - value)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (Z95 - Z68) / np.maximum(u95 - u68, 1e-3 * u68)
        score = np.where(x <= u68, Z68 * x / u68, Z68 + (x - u68) * slope)
    score = np.where(np.asarray(u68) > 0, score, np.where(x > 0, np.inf, 0.0))
    return phi(np.sign(limit - value) * score)


def within(limit, value, u68, u95):
    """Probability that the size of the true value lies below a limit of the same unit; signs play no part."""
    return below(limit, value, u68, u95) - below(-np.asarray(limit), value, u68, u95)
