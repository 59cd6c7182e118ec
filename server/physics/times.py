"""Times on the log scale: what counts as a time, and which of them lie apart from the rest."""

import numpy as np

from server.errors import Refused
from server.physics.table import table


def log_times(times_s, least: int = 0, name: str = "") -> np.ndarray:
    """ln of times in seconds, (n,). Refused: fewer than `least` (code too_few_times), or a time that is not above zero (code not_a_time).

    name: whose times these are, for the sentence.
    """
    times = np.asarray(times_s, dtype=float).ravel()
    whose = f" of {name}" if name else ""
    if not np.all(np.isfinite(times) & (times > 0.0)):
        raise Refused(f"Every time{whose} must be a number of seconds above zero.", code="not_a_time", name=name)
    if len(times) < least:
        raise Refused(f"At least {least} times{whose} are needed; there {'is' if len(times) == 1 else 'are'} {len(times)}.", code="too_few_times", name=name, n=len(times), least=least)
    return np.log(times)


def outliers(times_s) -> np.ndarray:
    """Bool array (n,): times whose ln lies more than 3.5 robust standard deviations from the median. Marks only; nothing is left out.

    source: Iglewicz & Hoaglin 1993 (data/compare.json): |ln t − median| > 3.5 · 1.4826 · MAD; where half the times or more are the same, so
    that the MAD is 0, 1.2533 times the mean deviation stands in. Fewer than five times: none is marked. A rule for large n, it marks freely
    in few: of clean log-normal times some 21 of 100 sets of 5 hold a marked one, 13 of 100 sets of 10, 9 of 100 sets of 30
    (tests/reference/test_coverage.py). A mark is a question to the person, never evidence.
    """
    rule, logs = table("compare")["outlier"], log_times(times_s)
    if len(logs) < rule["least"]:
        return np.zeros(len(logs), dtype=bool)
    away = np.abs(logs - np.median(logs))
    spread = rule["mad"] * float(np.median(away)) or rule["mean_deviation"] * float(np.mean(away))
    return away > rule["score"] * max(spread, 1e-12)
