"""Two means of unequal scatter: Welch's standard error, and how likely so many trials are to settle whether two glasses are alike.

Source: Welch, Biometrika 34 (1947) 28, degrees of freedom by Satterthwaite, Biometrics Bull. 2 (1946) 110. Power of two one-sided tests:
Phillips, J. Pharmacokinet. Biopharm. 18 (1990) 137: given the standard error that a set of trials will show, the mean is normal; that is summed over
the chi distribution of the standard error. Exact for equal scatter; with Welch's degrees of freedom an approximation. All from memory.
"""

from dataclasses import dataclass
from math import lgamma, log, sqrt

import numpy as np

from server.physics.chance import phi
from server.physics.table import table
from server.physics.tails import t_quantile

NODES, WEIGHTS = np.polynomial.legendre.leggauss(64)
REACH = 9.0  # standard deviations of the chi distribution that are summed


@dataclass(frozen=True)
class Spread:
    """Scatter of one glass: n trials and the variance of their ln."""

    n: int
    variance: float

    def with_at_least(self, n: int) -> "Spread":
        """The same scatter, had there been n trials; never fewer than there are."""
        return Spread(max(n, self.n), self.variance)


def standard_error(first: Spread, second: Spread) -> tuple[float, float]:
    """(standard error of the difference of two means, its degrees of freedom after Satterthwaite). Not for two glasses without any scatter."""
    a, b = first.variance / first.n, second.variance / second.n
    whole = a + b
    return sqrt(whole), 1.0 / ((a / whole) ** 2 / (first.n - 1) + (b / whole) ** 2 / (second.n - 1))


def _summed(chance, df: float, most: float) -> float:
    """∫ chance(r) f(r) dr over 0 < r < most; r² df is chi-square with df degrees of freedom, f the density of r."""
    wide = REACH / sqrt(2.0 * df)
    low, high = max(0.0, 1.0 - wide), min(1.0 + wide, most)
    if high <= low:
        return 0.0
    r = 0.5 * (low + high) + 0.5 * (high - low) * NODES
    density = np.exp(log(2.0) + 0.5 * df * log(0.5 * df) - lgamma(0.5 * df) + (df - 1.0) * np.log(r) - 0.5 * df * r * r)
    return float(0.5 * (high - low) * np.sum(WEIGHTS * density * chance(r)))


def chance_alike(ln_ratio: float, u_ln: float, df: float, margin_ln: float) -> float:
    """Probability that two one-sided tests will find two glasses alike that truly differ by ln_ratio, u_ln being the true standard error."""
    t = t_quantile(1.0 - table("compare")["level"]["value"], df)

    def inside(r: np.ndarray) -> np.ndarray:
        return np.maximum(phi((margin_ln - ln_ratio) / u_ln - t * r) - phi((-margin_ln - ln_ratio) / u_ln + t * r), 0.0)

    return _summed(inside, df, margin_ln / (t * u_ln))


def chance_unlike(ln_ratio: float, u_ln: float, df: float, margin_ln: float) -> float:
    """Probability that the 90 % interval will lie wholly beyond one margin, for two glasses that truly differ by ln_ratio."""
    t = t_quantile(1.0 - table("compare")["level"]["value"], df)

    def beyond(r: np.ndarray) -> np.ndarray:
        return phi((ln_ratio - margin_ln) / u_ln - t * r) + phi((-margin_ln - ln_ratio) / u_ln - t * r)

    return _summed(beyond, df, 1.0 + REACH)


def trials_needed(first: Spread, second: Spread, ln_ratio: float, margin_ln: float) -> int | None:
    """How many trials of each glass, those there are among them, settle the verdict in 80 of 100 campaigns if ratio and scatter are as seen.

    A glass that has more keeps them. None beyond 200 of each, so also where the ratio seen is at the margin. Both ratio and scatter are
    themselves uncertain, so this is a plan, not a promise; and it looks at the verdict as if the trials were begun anew.
    """
    rule = table("compare")
    chance = chance_alike if abs(ln_ratio) < margin_ln else chance_unlike

    def is_enough(n: int) -> bool:
        u_ln, df = standard_error(first.with_at_least(n), second.with_at_least(n))
        return chance(ln_ratio, u_ln, df, margin_ln) >= rule["power"]["value"]

    low, high = min(first.n, second.n), rule["most_trials"]["value"]
    if low >= high or not is_enough(high):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if is_enough(middle) else (middle, high)
    return high
