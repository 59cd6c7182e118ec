"""Shares and quantiles of Student's t, chi-square and F from the incomplete beta and gamma functions.

Source: NIST Digital Library of Mathematical Functions, 8.7.1 and 8.9.2 (incomplete gamma), 8.17.22 (incomplete beta), summed as continued
fractions by the modified method of Lentz; t, chi-square and F as in 26.4, 26.5 and 26.6 of Abramowitz & Stegun 1964. All from memory, held
to 1e-8 of scipy by tests/reference/test_tails.py. Degrees of freedom are any real number from 0.5 to 1e5; beyond, the gamma functions lose figures.
"""

from collections.abc import Callable
from functools import lru_cache
from math import exp, inf, lgamma, log, log1p, sqrt

TINY, SMALL, MOST_TERMS = 1e-300, 1e-15, 5000


def _lentz(first: float, terms: Callable[[int], tuple[float, float]]) -> float:
    """first + a1/(b1 + a2/(b2 + …)) with (a, b) = terms(1), terms(2), …"""
    value = first or TINY
    c, d = value, 0.0
    for i in range(1, MOST_TERMS):
        a, b = terms(i)
        d = 1.0 / ((b + a * d) or TINY)
        c = (b + a / c) or TINY
        value *= c * d
        if abs(c * d - 1.0) < SMALL:
            break
    return value


def gamma_shares(x: float, a: float) -> tuple[float, float]:
    """(lower, upper) regularised incomplete gamma functions at x ≥ 0 for a > 0; each keeps its figures where it is small."""
    if x <= 0.0:
        return 0.0, 1.0
    front = exp(a * log(x) - x - lgamma(a))
    if x < a + 1.0:
        term = total = 1.0 / a
        for i in range(1, MOST_TERMS):
            term *= x / (a + i)
            total += term
            if term < SMALL * total:
                break
        return front * total, 1.0 - front * total
    upper = front / _lentz(x + 1.0 - a, lambda i: (-i * (i - a), x + 2 * i + 1.0 - a))
    return 1.0 - upper, upper


def _beta_lower(x: float, y: float, a: float, b: float) -> float:
    """The lower share where x < (a + 1)/(a + b + 2), times a over the front factor."""

    def terms(i: int) -> tuple[float, float]:
        m = i // 2
        if i % 2:
            return -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)), 1.0
        return m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)), 1.0

    return 1.0 / _lentz(1.0, terms)


def beta_shares(x: float, y: float, a: float, b: float) -> tuple[float, float]:
    """(lower, upper) regularised incomplete beta functions at x, with y = 1 − x given apart so that neither loses figures near its end."""
    if x <= 0.0 or y <= 0.0:
        return (0.0, 1.0) if x <= 0.0 else (1.0, 0.0)
    front = exp(a * log(x) + b * log(y) + lgamma(a + b) - lgamma(a) - lgamma(b))
    if x < (a + 1.0) / (a + b + 2.0):
        lower = front * _beta_lower(x, y, a, b) / a
        return lower, 1.0 - lower
    upper = front * _beta_lower(y, x, b, a) / b
    return 1.0 - upper, upper


def _solved(below: Callable, slope: Callable, share: float, low: float, high: float) -> float:
    """u between low and high where the share below is `share`, by Newton's steps, halved where they leave the bracket."""
    u = 0.5 * (low + high)
    for _ in range(200):
        off = below(u) - share
        low, high = (low, u) if off > 0 else (u, high)
        rise = slope(u)
        step = u - off / rise if rise > 0 else inf
        after = step if low < step < high else 0.5 * (low + high)
        if abs(after - u) <= 1e-13 * (1.0 + abs(u)):
            return after
        u = after
    return u


def _beta_odds(share: float, a: float, b: float) -> float:
    """x/(1 − x) at which the incomplete beta function is `share`; solved over its logarithm."""
    constant = lgamma(a + b) - lgamma(a) - lgamma(b)

    def ends(u: float) -> tuple[float, float]:
        return 1.0 / (1.0 + exp(-u)), 1.0 / (1.0 + exp(u))

    def slope(u: float) -> float:
        return exp(constant - a * log1p(exp(-u)) - b * log1p(exp(u)))

    middle, reach = log(a / b), 4.0
    while beta_shares(*ends(middle - reach), a, b)[0] > share or beta_shares(*ends(middle + reach), a, b)[0] < share:
        reach *= 2.0
    return exp(_solved(lambda u: beta_shares(*ends(u), a, b)[0], slope, share, middle - reach, middle + reach))


def t_upper(t: float, df: float) -> float:
    """Share of Student's t above t."""
    if t == 0.0:
        return 0.5
    two = beta_shares(df / (df + t * t), t * t / (df + t * t), 0.5 * df, 0.5)[0]
    return 0.5 * two if t > 0 else 1.0 - 0.5 * two


def t_two_sided(t: float, df: float) -> float:
    """Share of Student's t farther from 0 than t."""
    return 2.0 * t_upper(abs(t), df)


@lru_cache(maxsize=4096)
def t_quantile(share: float, df: float) -> float:
    """t below which `share` (0 to 1, exclusive) of Student's t lies."""
    if share == 0.5:
        return 0.0
    away = sqrt(df / _beta_odds(2.0 * min(share, 1.0 - share), 0.5 * df, 0.5))
    return away if share > 0.5 else -away


def chi2_upper(x: float, df: float) -> float:
    """Share of chi-square above x."""
    return gamma_shares(0.5 * x, 0.5 * df)[1]


@lru_cache(maxsize=4096)
def chi2_quantile(share: float, df: float) -> float:
    """Chi-square below which `share` (0 to 1, exclusive) lies."""
    a = 0.5 * df
    low = (log(share) + lgamma(a + 1.0)) / a - 1.0
    high = max(log(a), low) + 1.0
    while gamma_shares(exp(high), a)[0] < share:
        high += 1.0
    return 2.0 * exp(_solved(lambda u: gamma_shares(exp(u), a)[0], lambda u: exp(a * u - exp(u) - lgamma(a)), share, low, high))


def f_upper(f: float, df1: float, df2: float) -> float:
    """Share of F with df1 and df2 degrees of freedom above f ≥ 0."""
    whole = df1 * f + df2
    return beta_shares(df1 * f / whole, df2 / whole, 0.5 * df1, 0.5 * df2)[1]


@lru_cache(maxsize=4096)
def f_quantile(share: float, df1: float, df2: float) -> float:
    """F below which `share` (0 to 1, exclusive) lies."""
    return df2 / df1 * _beta_odds(share, 0.5 * df1, 0.5 * df2)
