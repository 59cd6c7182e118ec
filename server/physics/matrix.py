"""Several glasses at once: every pair, with values of p corrected for their number.

Source: Holm, Scand. J. Statist. 6 (1979) 65 (from memory): the chance of even one false statement of a kind stays at 5 %, however the pairs
hang together. Each kind is a family of its own: "they differ", "they are alike", "they are not alike". Intervals stay uncorrected.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from server.errors import Refused
from server.physics.compare import Verdict, equivalence, judged


@dataclass(frozen=True)
class Pair:
    """Two glasses of several. single: as if they were the only two. p_difference, p_alike, p_unlike and verdict: after Holm's correction over all pairs."""

    first: str
    second: str
    single: Verdict
    p_difference: float
    p_alike: float
    p_unlike: float
    verdict: str


def holm(p) -> np.ndarray:
    """Values of p (n,) corrected after Holm: the smallest times n, the next times n − 1, …, never less than the one before, at most 1."""
    p = np.asarray(p, dtype=float)
    order = np.argsort(p, kind="stable")
    raised = np.maximum.accumulate(p[order] * np.arange(len(p), 0, -1))
    made = np.empty(len(p))
    made[order] = np.minimum(raised, 1.0)
    return made


def matrix(groups: dict[str, np.ndarray], margin_percent: float) -> list[Pair]:
    """Every pair of two or more glasses, in the order in which they stand. groups: name to times in seconds (n,), n ≥ 2 each.

    Refused: fewer than two glasses (too_few_glasses), one with fewer than two times (too_few_times, `name` says which), a time not above zero.
    """
    if len(groups) < 2:
        raise Refused("At least two glasses are needed.", code="too_few_glasses")
    pairs = list(combinations(groups, 2))
    made = [equivalence(groups[a], groups[b], margin_percent, (a, b)) for a, b in pairs]
    differ = holm([v.comparison.p for v in made])
    alike = holm([v.p_alike for v in made])
    unlike = holm([v.p_unlike for v in made])
    return [
        Pair(first, second, single, float(d), float(a), float(u), judged(a, u))
        for (first, second), single, d, a, u in zip(pairs, made, differ, alike, unlike, strict=True)
    ]
