"""Scatter within and between groups against published examples and scipy.

- dyestuff, six batches of five: Davies & Goldsmith, Statistical Methods in Research and Production (4th ed. 1972); variances 1764.05 and 2451.25 as every
  REML program prints them (seen), F 4.598 (from memory)
- four judges, six targets: Shrout & Fleiss, Psychol. Bull. 86 (1979) 420, Table 2; ICC(1,1) 0.17, F 1.8, p 0.16477, −0.133 to 0.72 as the R library psych prints them (seen)
Where the published numbers are no times, their exponentials are handed in (yields as hundredths), so that ln t is what was published.
"""

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import brentq

from server.physics.components import components

DYESTUFF = np.array([
    [1545, 1440, 1440, 1520, 1580], [1540, 1555, 1490, 1560, 1495], [1595, 1550, 1605, 1510, 1560],
    [1445, 1440, 1595, 1465, 1545], [1595, 1630, 1515, 1635, 1625], [1520, 1455, 1450, 1480, 1445],
])  # fmt: skip
JUDGES = np.array([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]])
UNEQUAL = [np.array(g) for g in ([3.01, 3.10, 2.96], [3.22, 3.35], [2.80], [3.05, 3.20, 3.11, 3.15, 3.02], [2.95, 2.85, 2.70, 2.91])]  # invented


def test_dyestuff():
    found = components(list(np.exp(DYESTUFF / 100)))
    assert found.between_sd**2 * 1e4 == pytest.approx(1764.05, abs=5e-3)
    assert found.within_sd**2 * 1e4 == pytest.approx(2451.25, abs=5e-3)
    assert found.f == pytest.approx(4.598, abs=5e-4) and found.n0 == 5 and (found.df_between, found.df_within) == (5, 24)
    assert found.total_sd**2 * 1e4 == pytest.approx(1764.05 + 2451.25, abs=1e-2)


def test_judges():
    found = components(list(np.exp(JUDGES.astype(float))))
    assert found.icc == pytest.approx(0.17, abs=5e-3) and found.f == pytest.approx(1.8, abs=0.05)
    assert found.p == pytest.approx(0.16477, abs=5e-6)
    assert found.icc_low95 == pytest.approx(-0.133, abs=5e-4) and found.icc_high95 == pytest.approx(0.72, abs=5e-3)


def test_within_by_chi_square():
    found = components(list(np.exp(DYESTUFF / 100)))
    ends = np.sqrt(2451.25 * 24 / stats.chi2.ppf([0.975, 0.025], 24)) / 100
    assert (found.within_low95, found.within_high95) == pytest.approx(tuple(ends), rel=1e-8)


@pytest.mark.parametrize("groups", [list(DYESTUFF / 100), UNEQUAL], ids=["equal", "unequal"])
def test_table_against_scipy(groups):
    found, want = components([np.exp(g) for g in groups]), stats.f_oneway(*groups)
    assert (found.f, found.p) == pytest.approx((want.statistic, want.pvalue), rel=1e-9)


def test_unequal_moments_are_what_the_mean_squares_expect():
    """E(mean square between) by its definition, summed over the covariance of the data: trace of (projection × covariance), for 1 and for 1 + between."""
    sizes = [len(g) for g in UNEQUAL]
    group = np.repeat(np.arange(len(sizes)), sizes)
    same = (group[:, None] == group[None, :]).astype(float)
    project = same / np.array(sizes)[group][:, None] - 1.0 / len(group)
    found = components([np.exp(g) for g in UNEQUAL])
    covariance = found.within_sd**2 * np.eye(len(group)) + found.between_sd**2 * same
    assert found.mean_square_between == pytest.approx(np.trace(project @ covariance) / (len(sizes) - 1), rel=1e-9)


def test_between_ends_where_the_scatter_within_is_small():
    """Then the group means are known, and their standard deviation has the chi-square interval."""
    tiny = [np.exp(mean + 1e-6 * np.array([-1, 0, 1])) for mean in (2.9, 3.0, 3.3, 3.1)]
    found = components(tiny)
    ends = np.std([2.9, 3.0, 3.3, 3.1], ddof=1) * np.sqrt(3 / stats.chi2.ppf([0.975, 0.025], 3))
    assert (found.between_low95, found.between_high95) == pytest.approx(tuple(ends), rel=1e-4)


def at_ratio(sizes: list[int], wanted: float):
    """Groups whose unweighted means, times the harmonic mean size, scatter `wanted` times as much as what lies within them, which is 1."""
    means = np.array([-1.0, 0.3, 0.9, -0.2])
    scale = np.sqrt(wanted * np.mean(1.0 / np.array(sizes)) / means.var(ddof=1))
    return components([np.exp(scale * m + drawn(n)) for m, n in zip(means, sizes, strict=True)])


def drawn(n: int) -> np.ndarray:
    """n numbers of mean 0 and standard deviation 1."""
    return stats.zscore(np.arange(float(n)), ddof=1)


@pytest.mark.parametrize("sizes", [[3, 3, 3, 3], [2, 3, 9, 4]], ids=str)
def test_ends_leave_zero_where_the_ratio_passes_a_quantile_of_f(sizes):
    """The modified large-sample ends are 0 just there, by construction (Ting et al. 1990); below the lower quantile the upper end of an estimate of 0 stands in."""
    high, low = stats.f.ppf([0.975, 0.025], 3, sum(sizes) - 4)
    assert at_ratio(sizes, 0.999 * high).between_low95 == 0 < at_ratio(sizes, 1.001 * high).between_low95
    assert at_ratio(sizes, low * (1 + 1e-6)).between_high95 < 0.01
    assert at_ratio(sizes, low * (1 - 1e-6)).between_high95 == pytest.approx(at_ratio(sizes, 1.0).between_high95)


def test_ends_of_the_icc_for_unequal_groups():
    """Wald's F by generalised least squares, with the covariance matrix written out, is at its quantiles there."""
    found = components([np.exp(g) for g in UNEQUAL])
    means, sizes = np.array([g.mean() for g in UNEQUAL]), np.array([len(g) for g in UNEQUAL])

    def wald(ratio):
        inverse = np.linalg.inv(np.diag(ratio + 1.0 / sizes))
        middle = inverse.sum(axis=0) @ means / inverse.sum()
        return (means - middle) @ inverse @ (means - middle) / 4 / found.within_sd**2

    def beyond(ratio, share):
        return wald(ratio) - stats.f.ppf(share, 4, 10)

    for share, end in [(0.975, found.icc_low95), (0.025, found.icc_high95)]:
        ratio = brentq(beyond, -0.19, 1e4, args=(share,), xtol=1e-13)
        assert end == pytest.approx(ratio / (1 + ratio), abs=1e-7)
