"""Shares and quantiles of t, chi-square and F against scipy.stats, to 1e-8; and the half-widths that all small samples lean on."""

import pytest
from scipy import stats

from server.physics import tails
from server.physics.few import t_half_width

DFS = (1, 1.37, 2, 3, 4.5, 7, 20, 136.875, 1000, 1e5)
SHARES = (1e-4, 0.005, 0.025, 0.05, 0.2, 0.4, 0.5, 0.6, 0.8, 0.95, 0.975, 0.99, 0.9999)


@pytest.mark.parametrize("df", DFS)
def test_quantiles(df):
    for share in SHARES:
        assert tails.t_quantile(share, df) == pytest.approx(stats.t.ppf(share, df), rel=1e-8, abs=1e-12)
        assert tails.chi2_quantile(share, df) == pytest.approx(stats.chi2.ppf(share, df), rel=1e-8)
        for df2 in (1, 2.5, 6, 30, 500):
            assert tails.f_quantile(share, df, df2) == pytest.approx(stats.f.ppf(share, df, df2), rel=1e-8)


@pytest.mark.parametrize("df", DFS)
def test_shares(df):
    for t in (-30, -2, -0.5, 0, 0.01, 0.5, 2, 8, 30):
        assert tails.t_upper(t, df) == pytest.approx(stats.t.sf(t, df), rel=1e-8)
        assert tails.t_two_sided(t, df) == pytest.approx(2 * stats.t.sf(abs(t), df), rel=1e-8)
    for x in (0, 0.01, 0.3, 1, 2.5, 20):
        assert tails.chi2_upper(x * df, df) == pytest.approx(stats.chi2.sf(x * df, df), rel=1e-8)
        assert tails.f_upper(x, df, 6.5) == pytest.approx(stats.f.sf(x, df, 6.5), rel=1e-8)


@pytest.mark.parametrize("df", DFS)
def test_half_widths(df):
    for share in (0.68, 0.9, 0.95):
        assert t_half_width(share, df) == pytest.approx(stats.t.ppf(0.5 + share / 2, df), rel=1e-8)
