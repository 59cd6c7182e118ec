"""Ratio, equivalence and correction for many against published worked examples and scipy.

The examples are plain measurements, not times: their exponentials are handed in, so that ln t is what was published. Sources:
- sleep of ten patients under two drugs: Student, Biometrika 6 (1908) 1; Welch's t, df, p and interval as R prints them for its data set `sleep` (seen)
- mileage of cars: NIST/SEMATECH e-Handbook, 1.3.5.3; unequal variances as the documentation of Boost.Math prints them (seen)
- power of two one-sided tests: exact values printed by the manual of the R library PowerTOST (seen); Phillips 1990
- Holm's correction: 0.01, 0.04, 0.03, 0.005 gives 0.03, 0.06, 0.06, 0.02 (common example, from memory); and the closed test of Bonferroni tests over
  all subsets, which Holm's is (Marcus, Peritz & Gabriel, Biometrika 63 (1976) 655, from memory)
statsmodels 0.15 (ttost_ind, multipletests) was asked once by hand: the same to 1e-15.
"""

from itertools import combinations

import numpy as np
import pytest
from scipy import stats

from server.physics.compare import ALIKE, UNLIKE, UNSETTLED, compare, equivalence, margin_ln, verdict_of
from server.physics.matrix import holm, matrix
from server.physics.welch import Spread, chance_alike, standard_error, trials_needed

DRUG_1 = np.array([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0])
DRUG_2 = np.array([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4])


def drawn(n: int, mean: float, sd: float) -> np.ndarray:
    """n numbers of exactly this mean and standard deviation."""
    z = np.linspace(-1, 1, n) ** 3
    return mean + sd * (z - z.mean()) / z.std(ddof=1)


def test_welch_on_students_sleep():
    found = compare(np.exp(DRUG_1), np.exp(DRUG_2))
    assert found.ln_ratio / found.u_ln == pytest.approx(-1.8608, abs=5e-5)
    assert found.df == pytest.approx(17.776, abs=5e-4)
    assert found.p == pytest.approx(0.07939, abs=5e-6)
    assert np.log([found.low95, found.high95]) == pytest.approx([-3.3654832, 0.2054832], abs=5e-8)
    assert np.log(found.median_ratio) == pytest.approx(0.35 - 1.75)


def test_welch_on_mileage_of_cars():
    found = compare(np.exp(drawn(249, 20.14458, 6.41470)), np.exp(drawn(79, 30.48101, 6.10771)))
    assert found.ln_ratio / found.u_ln == pytest.approx(-12.94627, abs=5e-6)
    assert found.df == pytest.approx(136.87499, abs=1e-3)
    assert found.p == pytest.approx(1.571e-25, rel=1e-3)


def test_welch_on_the_worked_check_of_the_groundwork():
    """Reference and unknown of the groundwork on flame tests, B01 to B03: 0.8084, 0.745 to 0.877 with pooled df; Welch's df of 7.98 moves no printed figure."""
    found = compare([16.2, 17.9, 15.5, 16.8, 17.1], [20.1, 22.4, 19.2, 21.0, 20.6])
    assert found.ratio == pytest.approx(0.8084, abs=5e-5)
    assert (found.low95, found.high95) == pytest.approx((0.745, 0.877), abs=5e-4)


@pytest.mark.parametrize("margin", [10, 30, 100])
def test_two_one_sided_tests_against_scipy(margin):
    made, edge = equivalence(np.exp(DRUG_1), np.exp(DRUG_2), margin), np.log1p(margin / 100)
    low = stats.ttest_ind(DRUG_1 + edge, DRUG_2, equal_var=False, alternative="greater")
    high = stats.ttest_ind(DRUG_1 - edge, DRUG_2, equal_var=False, alternative="less")
    assert (made.p_low, made.p_high) == pytest.approx((low.pvalue, high.pvalue), rel=1e-9)
    within = stats.ttest_ind(DRUG_1, DRUG_2, equal_var=False).confidence_interval(0.9)
    assert np.log([made.low90, made.high90]) == pytest.approx(within, rel=1e-9)
    assert made.p_alike == max(made.p_low, made.p_high)


@pytest.mark.parametrize(("ln_ratio", "verdict"), [(0.0, ALIKE), (0.05, ALIKE), (0.13, UNSETTLED), (0.25, UNSETTLED), (0.4, UNLIKE), (-0.4, UNLIKE)])
def test_a_verdict_is_where_the_90_percent_interval_lies(ln_ratio, verdict):
    first, second, edge = drawn(8, ln_ratio, 0.1), drawn(6, 0.0, 0.08), np.log(1.2)
    made = equivalence(np.exp(3 + first), np.exp(3 + second), 20)
    low, high = stats.ttest_ind(first, second, equal_var=False).confidence_interval(0.9)
    assert made.verdict == verdict
    assert (verdict == ALIKE) == (-edge < low and high < edge)
    assert (verdict == UNLIKE) == (low > edge or high < -edge)


@pytest.mark.parametrize(
    ("cv", "theta0", "n", "power"),
    [(0.3, 0.95, None, 0.8158453), (0.35, 0.95, (52, 49), 0.8011186), (0.36, 0.93, (75, 70), 0.8256362)],
    ids=["crossover of 40", "parallel of 52 and 49", "parallel of 75 and 70"],
)
def test_power_against_printed_values(cv, theta0, n, power):
    """CV of a log-normal: sd² = ln(1 + CV²). The crossover has 38 degrees of freedom and √(2/40) sd; the two groups pool theirs."""
    sd = np.sqrt(np.log1p(cv**2))
    u, df = (sd * np.sqrt(2 / 40), 38) if n is None else (sd * np.sqrt(1 / n[0] + 1 / n[1]), sum(n) - 2)
    assert chance_alike(np.log(theta0), u, df, np.log(1.25)) == pytest.approx(power, abs=1e-6)


@pytest.mark.parametrize(("ln_ratio", "margin"), [(0.0, 20), (0.05, 20), (0.0, 10), (-0.3, 15), (0.25, 20)])
def test_the_trials_asked_for_settle_it_in_80_of_100(ln_ratio, margin):
    """As many trials as asked for, drawn anew 4000 times, against the verdict by scipy's interval: 80 of 100 to three standard errors; two fewer do not."""
    rng, edge, sds = np.random.default_rng(11), np.log1p(margin / 100), (0.1, 0.14)
    n = trials_needed(Spread(3, sds[0] ** 2), Spread(3, sds[1] ** 2), ln_ratio, edge)

    def settled(n: int) -> float:
        first, second = ln_ratio + sds[0] * rng.standard_normal((4000, n)), sds[1] * rng.standard_normal((4000, n))
        low, high = stats.ttest_ind(first, second, axis=1, equal_var=False).confidence_interval(0.9)
        return np.mean((low > -edge) & (high < edge) if abs(ln_ratio) < edge else (low > edge) | (high < -edge))

    error = 3 * np.sqrt(0.8 * 0.2 / 4000)
    assert settled(n) > 0.8 - error and settled(n - 2) < 0.8 + error, f"{n} trials"


def test_standard_error_with_trials_to_come():
    u, df = standard_error(Spread(3, 0.01).with_at_least(9), Spread(12, 0.04).with_at_least(9))
    want = stats.ttest_ind_from_stats(0, 0.1, 9, 1, 0.2, 12, equal_var=False)
    assert -1 / u == pytest.approx(want.statistic) and 2 * stats.t.sf(1 / u, df) == pytest.approx(want.pvalue)


def test_holm_on_a_common_example():
    assert holm([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02])


def test_holm_is_the_closed_bonferroni_test():
    """Corrected p of one: the largest, over all subsets that hold it, of the subset's size times its smallest p."""
    p = np.random.default_rng(5).random(7) ** 3
    subsets = [s for k in range(1, 8) for s in combinations(range(7), k)]
    closed = [max(min(1.0, len(s) * min(p[list(s)])) for s in subsets if i in s) for i in range(7)]
    assert holm(p) == pytest.approx(closed)


def test_every_pair_against_scipy():
    rng = np.random.default_rng(3)
    groups = {name: np.exp(mean + 0.08 * rng.standard_normal(n)) for name, mean, n in [("A", 3, 6), ("B", 3.02, 5), ("C", 3.4, 7), ("D", 3.1, 4)]}
    made = matrix(groups, 25)
    want = [stats.ttest_ind(np.log(groups[a]), np.log(groups[b]), equal_var=False).pvalue for a, b in combinations("ABCD", 2)]
    assert [(m.first, m.second) for m in made] == list(combinations("ABCD", 2))
    assert [m.single.comparison.p for m in made] == pytest.approx(want, rel=1e-9)
    assert sorted(m.p_difference for m in made)[0] == pytest.approx(6 * min(want), rel=1e-9)


def test_margins_are_a_ratio_and_its_inverse():
    made = verdict_of(compare([10.0, 11.0], [10.0, 12.0]), 25)
    assert (made.margin_low, made.margin_high) == pytest.approx((0.8, 1.25)) and margin_ln(25) == pytest.approx(np.log(1.25))
