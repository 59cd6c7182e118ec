"""What the intervals and verdicts hold on invented histories: 2000 of each kind, log-normal, seed fixed. A nominal 95 % must hold 93 to 97.

Where one does not, its range is stated here and beside the function: Welch with two trials of a glass, or three beside many; scatter between groups that is small
beside the scatter within, or of two groups only, whose interval errs to the safe side. The sampling error of a share of 95 % is 0.5 %. The truth is known, so nothing of
ours is measured against itself; the tables stand in the messages (pytest -rP prints them).
"""

import numpy as np
import pytest

from server.physics.compare import ALIKE, UNLIKE, compare, equivalence
from server.physics.components import components
from server.physics.drift import corrected, drift, line, u_of_ratio
from server.physics.matrix import matrix
from server.physics.times import outliers

pytestmark = pytest.mark.slow
HISTORIES = 2000
LEAST, MOST = 0.93, 0.97
ERROR = 3 * np.sqrt(0.05 * 0.95 / HISTORIES)  # three standard errors of a share of 5 %


def rng(*key: int) -> np.random.Generator:
    """A stream of its own for every row of a table."""
    return np.random.default_rng([2026, *key])


def times(stream: np.random.Generator, n: int, mean: float, sd: float, histories: int = HISTORIES) -> np.ndarray:
    """Times in seconds (histories, n)."""
    return np.exp(mean + sd * stream.standard_normal((histories, n)))


def told(rows: dict) -> str:
    """The table for the message."""
    lines = "\n".join(f"{key!s:44} {share:.4f}" for key, share in rows.items())
    print(lines)
    return lines


def outside(rows: dict, least: float = LEAST, most: float = MOST) -> dict:
    return {key: share for key, share in rows.items() if not least <= share <= most}


def welch_share(n_first: int, n_second: int, sd_first: float, sd_second: float) -> float:
    stream = rng(1, n_first, n_second, round(1000 * sd_first), round(1000 * sd_second))
    first, second = times(stream, n_first, 2.8, sd_first), times(stream, n_second, 3.0, sd_second)
    made = [compare(a, b) for a, b in zip(first, second, strict=True)]
    return float(np.mean([m.low95 <= np.exp(-0.2) <= m.high95 for m in made]))


def test_ratio():
    designs = [(3, 3, 0.1, 0.1), (3, 3, 0.05, 0.2), (4, 4, 0.1, 0.1), (5, 5, 0.1, 0.1), (5, 5, 0.05, 0.2), (8, 8, 0.1, 0.1), (3, 5, 0.1, 0.1), (3, 6, 0.2, 0.1)]
    designs += [(4, 10, 0.3, 0.05), (4, 20, 0.2, 0.1), (5, 20, 0.2, 0.1), (12, 6, 0.1, 0.15), (30, 30, 0.1, 0.1)]
    assert not any(compare(np.arange(1, a + 1), np.arange(1, b + 1)).is_thin for a, b, *_sds in designs)
    rows = {design: welch_share(*design) for design in designs}
    assert not outside(rows), told(rows)
    told(rows)


def test_ratio_of_thin_designs():
    """Stated beside compare: 87 to 98 of 100 with two trials of a glass; three beside more than six down to 92.3."""
    rows = {design: welch_share(*design) for design in [(2, 8, 0.2, 0.1), (2, 40, 0.2, 0.1), (2, 2, 0.1, 0.1), (3, 20, 0.15, 0.1)]}
    found = list(rows.values())
    assert all(0.86 < share < 0.91 for share in found[:2]) and 0.97 < found[2] < 0.985 and 0.91 < found[3] < 0.94, told(rows)
    assert all(compare(np.arange(1, a + 1), np.arange(1, b + 1)).is_thin for a, b, *_sds in rows)
    told(rows)


DESIGNS = {"3 × 3": [3] * 3, "6 × 5": [5] * 6, "10 × 2": [2] * 10, "1 2 3 5 8": [1, 2, 3, 5, 8], "2 2 3 3 10 10": [2, 2, 3, 3, 10, 10], "1 1 1 1 6": [1, 1, 1, 1, 6], "2 × 2": [2, 2]}
WITHIN = 0.1


def scatter_shares(sizes: list[int], between: float) -> tuple[float, float, float]:
    """Shares in which the intervals within, between and of the ICC held."""
    stream = rng(2, *sizes, round(1000 * between))
    edges = np.cumsum(sizes)[:-1]
    shifts = np.repeat(between * stream.standard_normal((HISTORIES, len(sizes))), sizes, axis=1)
    logs = 3.0 + shifts + WITHIN * stream.standard_normal((HISTORIES, sum(sizes)))
    made = [components(np.split(row, edges)) for row in np.exp(logs)]
    icc = between**2 / (between**2 + WITHIN**2)
    return (
        float(np.mean([m.within_low95 <= WITHIN <= m.within_high95 for m in made])),
        float(np.mean([m.between_low95 <= between <= m.between_high95 for m in made])),
        float(np.mean([m.icc_low95 <= icc <= m.icc_high95 for m in made])),
    )


@pytest.mark.parametrize("design", DESIGNS)
def test_scatter(design):
    """Within and ICC hold 93 to 97 always. Between holds 93 to 97 from half the scatter within on, with three groups or more; below, or of two groups, up to 98.5."""
    rows, kept, safe = {}, {}, {}
    for between in (0.0, 0.02, 0.05, 0.1, 0.3):
        within, held, icc = scatter_shares(DESIGNS[design], between)
        kept |= {(design, between, "within"): within, (design, between, "icc"): icc}
        (kept if between >= 0.05 and len(DESIGNS[design]) > 2 else safe)[design, between, "between"] = held
    rows = kept | safe
    assert not outside(kept) and not outside(safe, LEAST, 0.985), told(rows)
    told(rows)


@pytest.mark.parametrize("n", [3, 5, 10])
def test_drift(n):
    slope, x, ahead = 0.02, np.arange(n) * 3.0, np.array([1.5 * n])
    made = [drift(x, row) for row in times(rng(3, n), n, 3.0, 0.06) * np.exp(slope * x)]
    ends = [line(m, ahead) for m in made]
    rows = {
        (n, "slope"): float(np.mean([m.low95 <= slope <= m.high95 for m in made])),
        (n, "line"): float(np.mean([e.low95_s[0] <= np.exp(3.0 + slope * ahead[0]) <= e.high95_s[0] for e in ends])),
        (n, "no drift taken for one"): 1 - float(np.mean([drift(x, row).p < 0.05 for row in times(rng(4, n), n, 3.0, 0.06)])),
    }
    assert not outside(rows), told(rows)
    told(rows)


def test_ratio_after_a_correction():
    """Two glasses of six, one run after the other, and eight reference runs that drift: u_of_ratio in quadrature, with Welch's t, holds; without it, it does not."""
    stream, slope = rng(5), 0.02
    x, first, second = np.arange(8) * 2.0, np.arange(6) + 1.0, np.arange(6) + 8.0
    reference, a, b = times(stream, 8, 3.0, 0.06), times(stream, 6, 3.1, 0.06), times(stream, 6, 3.1, 0.06)
    off, told_u, half = [], [], []
    for r, p, q in zip(reference * np.exp(slope * x), a * np.exp(slope * first), b * np.exp(slope * second), strict=True):
        found = drift(x, r)
        made = compare(corrected(found, first, p).time_s, corrected(found, second, q).time_s)
        off.append(abs(made.ln_ratio))
        told_u.append(np.hypot(made.u_ln, u_of_ratio(found, first, second)) / made.u_ln)
        half.append(np.log(made.high95 / made.ratio))
    rows = {"with the added error": float(np.mean(np.array(off) <= np.array(half) * told_u)), "without": float(np.mean(np.array(off) <= half))}
    assert LEAST <= rows["with the added error"] <= MOST and rows["without"] < 0.9, told(rows)
    told(rows)


@pytest.mark.parametrize("design", [(3, 3, 0.1, 0.1, 20), (5, 5, 0.1, 0.1, 20), (5, 5, 0.05, 0.15, 15), (4, 8, 0.2, 0.1, 30), (8, 8, 0.05, 0.05, 10), (20, 20, 0.1, 0.1, 5)], ids=str)
def test_verdicts_at_the_margin(design):
    """A true ratio at the margin is called alike in at most 5 of 100, and not alike in at most 5 of 100."""
    n_first, n_second, sd_first, sd_second, margin = design
    stream = rng(6, n_first, n_second, round(1000 * sd_first), margin)
    first = times(stream, n_first, 3.0 + np.log1p(margin / 100), sd_first)
    made = [equivalence(a, b, margin).verdict for a, b in zip(first, times(stream, n_second, 3.0, sd_second), strict=True)]
    rows = {(*design, verdict): made.count(verdict) / HISTORIES for verdict in (ALIKE, UNLIKE)}
    assert not outside(rows, 0.0, 0.05 + ERROR), told(rows)
    told(rows)


def test_a_margin_small_beside_the_error_is_passed_by_chance_on_both_sides():
    """Stated beside the verdicts: at most 10 of 100."""
    stream = rng(7)
    made = [equivalence(a, b, 1).verdict for a, b in zip(times(stream, 4, 3.0 + np.log(1.01), 0.3), times(stream, 4, 3.0, 0.3), strict=True)]
    share = made.count(UNLIKE) / HISTORIES
    assert 0.05 < share < 0.10 + ERROR, f"{share:.4f}"


def test_many_glasses_at_once():
    """Five glasses, three at one ratio and two at the margin from them, 600 campaigns: not one false statement in 95 of 100, of either kind; without correction there would be more."""
    stream, campaigns, edge = rng(8), 600, np.log(1.2)
    means = {"A": 3.0, "B": 3.0, "C": 3.0, "D": 3.0 + edge, "E": 3.0 + edge}
    drawn = {name: times(stream, 6, mean, 0.08, campaigns) for name, mean in means.items()}
    made = [matrix({name: rows[i] for name, rows in drawn.items()}, 20) for i in range(campaigns)]
    same = [[m for m in pairs if means[m.first] == means[m.second]] for pairs in made]
    apart = [[m for m in pairs if means[m.first] != means[m.second]] for pairs in made]
    rows = {
        "said to differ, are the same": np.mean([any(m.p_difference < 0.05 for m in pairs) for pairs in same]),
        "the same without correction": np.mean([any(m.single.comparison.p < 0.05 for m in pairs) for pairs in same]),
        "said to be alike, are at the margin": np.mean([any(m.verdict == ALIKE for m in pairs) for pairs in apart]),
        "the same, without correction": np.mean([any(m.single.verdict == ALIKE for m in pairs) for pairs in apart]),
    }
    values = list(rows.values())
    error = 3 * np.sqrt(0.05 * 0.95 / campaigns)
    assert max(values[0], values[2]) < 0.05 + error < min(values[1], values[3]), told(rows)
    told(rows)


def test_marks_in_clean_times():
    """Stated beside outliers: sets that hold a marked time though none is amiss."""
    rows = {n: float(np.mean([outliers(row).any() for row in times(rng(9, n), n, 3.0, 0.1)])) for n in (5, 10, 30)}
    stated = {5: 0.21, 10: 0.13, 30: 0.09}
    assert all(abs(rows[n] - stated[n]) < 0.03 for n in rows), told(rows)
    told(rows)
