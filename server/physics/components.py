"""Scatter within a glass (or piece) against scatter between them: one-way random effects on ln t, any number of times per group.

Point values: mean squares set equal to what they expect, with n0 = (N − Σn²/N)/(a − 1) for unequal groups; the same as REML where all groups are
equally large and the value is not negative (Searle, Casella & McCulloch, Variance Components, 1992). Intervals, 95 %:

    within    chi-square on the mean square within; exact
    between   modified large sample (Ting, Burdick, Graybill, Jeyaratnam & Lu, J. Stat. Comput. Simul. 35 (1990) 135; Burdick & Graybill,
              Confidence Intervals on Variance Components, 1992), with the scatter of the unweighted group means times their harmonic mean size for
              unequal groups (Thomas & Hultquist, Ann. Statist. 6 (1978) 582). Holds 93 to 97 of 100 from three groups on where the scatter between is half
              that within or more; where it is smaller, or of two groups only, up to 98
    ICC(1,1)  F (Shrout & Fleiss, Psychol. Bull. 86 (1979) 420); for unequal groups the exact one of Wald (Ann. Math. Statist. 11 (1940) 96), which is the same for equal ones

All formulas from memory, held to published examples and to what they cover by simulation (tests/reference/test_components.py, test_coverage.py).
"""

from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np

from server.physics.root import crossing
from server.physics.tails import chi2_quantile, f_quantile, f_upper
from server.physics.times import log_times

LOW, HIGH, LEAST_F = 0.025, 0.975, 1e-300


@dataclass(frozen=True)
class Components:
    """Standard deviations are of ln t (0.10 is some 10 %). What cannot be told is None, and `why` says so in words.

    between_sd is 0 where the groups lie closer together than their scatter lets expect; its upper end still counts. icc (share of the variance that lies between
    groups) and its ends are left as computed and may then be below zero. total_sd: of a single time of a single group, √(within² + between²), or of all times where they cannot be parted.
    """

    n_groups: int
    n_times: int
    can_separate: bool
    why: str
    total_sd: float | None = None
    within_sd: float | None = None
    within_low95: float | None = None
    within_high95: float | None = None
    between_sd: float | None = None
    between_low95: float | None = None
    between_high95: float | None = None
    icc: float | None = None
    icc_low95: float | None = None
    icc_high95: float | None = None
    f: float | None = None
    p: float | None = None  # for no scatter between groups
    df_between: int | None = None
    df_within: int | None = None
    mean_square_between: float | None = None
    mean_square_within: float | None = None
    n0: float | None = None


@dataclass(frozen=True)
class _Table:
    """Analysis of variance: sizes and means of the groups (a,), mean squares, degrees of freedom."""

    sizes: np.ndarray
    means: np.ndarray
    between: float
    within: float
    df_between: int
    df_within: int

    @property
    def n0(self) -> float:
        total = self.sizes.sum()
        return float((total - (self.sizes**2).sum() / total) / self.df_between)

    @property
    def harmonic(self) -> float:
        return float(len(self.sizes) / (1.0 / self.sizes).sum())


def components(groups: list[np.ndarray]) -> Components:
    """Scatter within and between groups of times in seconds, one array (n,) per glass or piece; groups without times are passed over.

    Refused: a time not above zero (not_a_time). A design that cannot part the two is no refusal: can_separate is False and `why` says what lacks.
    """
    logs = [log_times(g) for g in groups if len(g)]
    sizes = np.array([len(g) for g in logs], dtype=float)
    if why := _lacking(sizes):
        return _unparted(logs, why)
    means = np.array([g.mean() for g in logs])
    df_between, df_within = len(logs) - 1, int(sizes.sum()) - len(logs)
    grand = float((sizes * means).sum() / sizes.sum())
    squares = sum(float(((g - g.mean()) ** 2).sum()) for g in logs)
    if squares < 1e-24:
        return _unparted(logs, "The times of each glass are the same to the last figure, so there is no scatter within it to judge by.")
    between = float((sizes * (means - grand) ** 2).sum()) / df_between
    return _parted(_Table(sizes, means, between, squares / df_within, df_between, df_within))


def _lacking(sizes: np.ndarray) -> str:
    """What the design lacks, in words; empty where it parts the two."""
    if not len(sizes):
        return "There are no times yet."
    if sizes.max() < 2:
        return "No group holds two times, so scatter within groups and between them cannot be told apart: repeat at least one."
    if len(sizes) < 2:
        return "There is only one group, so nothing can be said of scatter between groups."
    return ""


def _unparted(logs: list[np.ndarray], why: str) -> Components:
    """The answer where the two cannot be parted; what one group alone tells stands in it."""
    whole = np.concatenate(logs) if logs else np.zeros(0)
    total = float(np.std(whole, ddof=1)) if len(whole) > 1 else None
    plain = Components(len(logs), len(whole), can_separate=False, why=why, total_sd=total)
    if len(logs) != 1 or not total:
        return plain
    low, high = _within_ends(total**2, len(whole) - 1)
    return Components(1, len(whole), can_separate=False, why=why, total_sd=total, within_sd=total, within_low95=low, within_high95=high, df_within=len(whole) - 1)


def _parted(table: _Table) -> Components:
    f, n0 = table.between / table.within, table.n0
    variance = max((table.between - table.within) / n0, 0.0)
    within_low, within_high = _within_ends(table.within, table.df_within)
    low, high = _between_ends(table)
    icc_low, icc_high = _icc_ends(table)
    return Components(
        n_groups=len(table.sizes),
        n_times=int(table.sizes.sum()),
        can_separate=True,
        why="" if f >= 1.0 else "The groups lie closer together than the scatter within them lets expect; between them 0 is the best figure, with the upper end as limit.",
        total_sd=sqrt(table.within + variance),
        within_sd=sqrt(table.within),
        within_low95=within_low,
        within_high95=within_high,
        between_sd=sqrt(variance),
        between_low95=min(low, sqrt(variance)),
        between_high95=max(high, sqrt(variance)),
        icc=(f - 1.0) / (f + n0 - 1.0),
        icc_low95=icc_low,
        icc_high95=icc_high,
        f=f,
        p=f_upper(f, table.df_between, table.df_within),
        df_between=table.df_between,
        df_within=table.df_within,
        mean_square_between=table.between,
        mean_square_within=table.within,
        n0=n0,
    )


def _within_ends(square: float, df: int) -> tuple[float, float]:
    return sqrt(square * df / chi2_quantile(HIGH, df)), sqrt(square * df / chi2_quantile(LOW, df))


def _between_ends(table: _Table) -> tuple[float, float]:
    """Ends of the standard deviation between groups; see the head. Where even the upper one falls below zero, that of an estimate of just zero stands in."""
    first = table.harmonic * float(np.var(table.means, ddof=1))
    low, high = _large_sample(first, table.within, table.df_between, table.df_within)
    if high <= 0.0:
        high = _large_sample(table.within, table.within, table.df_between, table.df_within)[1]
    return sqrt(max(low, 0.0) / table.harmonic), sqrt(high / table.harmonic)


def _large_sample(first: float, second: float, n1: int, n2: int) -> tuple[float, float]:
    """Modified large-sample ends of the difference of what two mean squares expect, with n1 and n2 degrees of freedom."""
    up, down = f_quantile(HIGH, n1, n2), f_quantile(LOW, n1, n2)
    g1, g2 = 1.0 - n1 / chi2_quantile(HIGH, n1), 1.0 - n2 / chi2_quantile(HIGH, n2)
    h1, h2 = n1 / chi2_quantile(LOW, n1) - 1.0, n2 / chi2_quantile(LOW, n2) - 1.0
    g12 = ((up - 1.0) ** 2 - (g1 * up) ** 2 - h2**2) / up
    h12 = ((1.0 - down) ** 2 - (h1 * down) ** 2 - g2**2) / down
    below = sqrt(max((g1 * first) ** 2 + (h2 * second) ** 2 + g12 * first * second, 0.0))
    above = sqrt(max((h1 * first) ** 2 + (g2 * second) ** 2 + h12 * first * second, 0.0))
    return first - second - below, first - second + above


def _icc_ends(table: _Table) -> tuple[float, float]:
    """Ends of the ICC from those of λ = between/within variance, at which the weighted scatter of the group means is the F of either end."""
    least = -1.0 / table.sizes.max()
    ends = []
    for share in (HIGH, LOW):
        wanted = f_quantile(share, table.df_between, table.df_within)
        ratio = least + exp(crossing(lambda ln, wanted=wanted: log(wanted / max(_weighted(table, least + exp(ln)), LEAST_F)), -25.0, 25.0))
        ends.append(float(ratio / (1.0 + ratio)))
    return ends[0], ends[1]


def _weighted(table: _Table, ratio: float) -> float:
    """Wald's F of the group means at a ratio λ; falls as λ grows."""
    weights = table.sizes / (1.0 + ratio * table.sizes)
    middle = (weights * table.means).sum() / weights.sum()
    return float((weights * (table.means - middle) ** 2).sum() / table.df_between / table.within)
