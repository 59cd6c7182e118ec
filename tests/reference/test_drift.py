"""Drift, its line and its correction against NIST's certified line and scipy.stats.linregress.

Norris: NIST Statistical Reference Datasets, linear regression, 36 points (data and certified values from memory; they agree to every figure, so
they are remembered rightly). The readings go in as exp(y/10), so that ln t is a tenth of what was certified.
"""

import numpy as np
import pytest
from scipy import stats

from server.physics import drift as drifts

NORRIS_Y = np.array([
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8,
    557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
])  # fmt: skip
NORRIS_X = np.array([
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5, 11.6,
    556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
])  # fmt: skip
RUNS = np.array([1.0, 4.0, 7.0, 11.0, 14.0])
TIMES_S = np.array([20.1, 20.9, 20.6, 21.8, 22.3])  # invented


def test_certified_line():
    found = drifts.drift(NORRIS_X, np.exp(NORRIS_Y / 10))
    assert 10 * found.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert 10 * found.u_slope == pytest.approx(0.429796848199937e-03, rel=1e-9)
    assert 10 * (found.middle_ln - found.slope * found.middle) == pytest.approx(-0.262323073774029, rel=1e-9)
    assert 10 * found.residual_sd == pytest.approx(0.884796396144373, rel=1e-9) and found.df == 34


def test_drift_against_scipy():
    found, want = drifts.drift(RUNS, TIMES_S), stats.linregress(RUNS, np.log(TIMES_S))
    assert (found.slope, found.u_slope, found.p) == pytest.approx((want.slope, want.stderr, want.pvalue), rel=1e-9)
    half = stats.t.ppf(0.975, 3) * want.stderr
    assert (found.low95, found.high95) == pytest.approx((want.slope - half, want.slope + half), rel=1e-8)


def test_line_and_its_ends_against_the_matrix_of_least_squares():
    """Covariance of intercept and slope from (XᵀX)⁻¹ s²."""
    x = np.array([0.0, 7.4, 20.0])
    design, ahead = np.column_stack([np.ones(5), RUNS]), np.column_stack([np.ones(3), x])
    fitted, squares, *_ = np.linalg.lstsq(design, np.log(TIMES_S))
    cover = np.linalg.inv(design.T @ design) * squares[0] / 3
    half = stats.t.ppf(0.975, 3) * np.sqrt(np.einsum("ij,jk,ik->i", ahead, cover, ahead))
    made = drifts.line(drifts.drift(RUNS, TIMES_S), x)
    assert made.time_s == pytest.approx(np.exp(ahead @ fitted), rel=1e-9)
    assert made.low95_s == pytest.approx(np.exp(ahead @ fitted - half), rel=1e-8)
    assert made.high95_s == pytest.approx(np.exp(ahead @ fitted + half), rel=1e-8)


def test_the_added_error_of_a_corrected_ratio():
    """4000 sessions of invented reference runs with a drift: the corrected ratio of two glasses run apart scatters by what u_of_ratio adds, from the true slope."""
    rng, first, second = np.random.default_rng(8), np.array([2.0, 3.0]), np.array([12.0, 13.0])
    logs = 3 + 0.01 * RUNS + 0.05 * rng.standard_normal((4000, 5))
    made = [drifts.drift(RUNS, np.exp(row)) for row in logs]
    ratios = [
        np.log(drifts.corrected(m, first, 20 * np.exp(0.01 * first)).time_s).mean() - np.log(drifts.corrected(m, second, 20 * np.exp(0.01 * second)).time_s).mean()
        for m in made
    ]
    told = np.sqrt(np.mean([drifts.u_of_ratio(m, first, second) ** 2 for m in made]))
    assert np.mean(ratios) == pytest.approx(0, abs=3 * told / np.sqrt(4000))
    assert np.std(ratios) == pytest.approx(told, rel=0.05)


def test_limits_pool_the_scatter_within_sessions():
    sessions = [[20.0, 21.0, 20.4], [18.0, 18.3], [25.0]]
    made = drifts.limits(TIMES_S, sessions)
    logs = [np.log(s) for s in sessions]
    sd = np.sqrt((2 * np.var(logs[0], ddof=1) + np.var(logs[1], ddof=1)) / 3)
    assert made.sd_ln == pytest.approx(sd) and made.df == 3
    middle = stats.gmean(TIMES_S)
    assert (made.middle_s, made.low_s, made.high_s) == pytest.approx((middle, middle * np.exp(-2 * sd), middle * np.exp(2 * sd)))
    assert made.is_out.tolist() == [abs(np.log(t / middle)) > 2 * sd for t in TIMES_S]
