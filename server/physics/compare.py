"""Do two glasses take the same time? Ratio of geometric means with an interval, and whether they are alike within a margin set beforehand.

Times of one glass are log-normal, so everything is done on ln t (groundwork on flame tests, B.2 and B.3: t on logs holds its 95 % from three
trials on, a bootstrap does not). Difference: Welch's t. Its 95 % hold 93 to 97 from four trials of each glass on, and from three
beside at most six; with two of a glass they hold between 87 and 98 (tests/reference/test_coverage.py): is_thin says so. Equivalence: two one-sided Welch tests at 5 % against 1/(1 + m) and 1 + m, which
is the same as the 90 % interval lying inside (Schuirmann 1987). The verdicts:

    alike                   both one-sided tests reject; the 90 % interval lies inside the margins
    not alike               the 90 % interval lies wholly beyond one margin; for a true ratio at the margin this errs in 5 of 100 (at most in
                            10 of 100, where the margin is small beside the standard error)
    not enough trials yet   neither

A margin is only worth something if it was set before the times were seen; that is for the caller to hold.
"""

from dataclasses import dataclass
from math import exp, log1p

import numpy as np

from server.errors import Refused
from server.physics.few import SHARE95, t_half_width
from server.physics.table import table
from server.physics.tails import t_two_sided, t_upper
from server.physics.times import log_times
from server.physics.welch import Spread, standard_error, trials_needed

ALIKE, UNLIKE, UNSETTLED = "alike", "not alike", "not enough trials yet"
NAMES = ("the first glass", "the second glass")


@dataclass(frozen=True)
class Comparison:
    """Times of a first glass over those of a second. Ratios are plain numbers; ln_ratio, its standard error u_ln and the sds are of ln t."""

    n_first: int
    n_second: int
    ratio: float  # of geometric means
    low95: float
    high95: float
    ln_ratio: float
    u_ln: float
    df: float
    median_ratio: float  # of the medians of ln t
    p: float  # two-sided, for a true ratio of 1
    sd_first: float
    sd_second: float

    def interval(self, share: float) -> tuple[float, float]:
        """The ends that hold `share` (0 to 1) for the ratio."""
        half = self.u_ln * t_half_width(share, self.df)
        return exp(self.ln_ratio - half), exp(self.ln_ratio + half)

    @property
    def is_thin(self) -> bool:
        """Whether a glass has so few trials that the interval need not hold its 95 %; the verdict leans on the same."""
        rule, few, many = table("compare")["holds"], min(self.n_first, self.n_second), max(self.n_first, self.n_second)
        return few < rule["least"] or (few < rule["from"] and many > rule["beside_at_most"])

    @property
    def spreads(self) -> tuple[Spread, Spread]:
        """Trials and variance of ln t, first and second."""
        return Spread(self.n_first, self.sd_first**2), Spread(self.n_second, self.sd_second**2)


@dataclass(frozen=True)
class Verdict:
    """Whether two glasses are alike within a margin. p_low: one-sided, against a true ratio at or below 1/(1 + m); p_high: at or above 1 + m;
    p_alike the larger of both; p_unlike against a true ratio within the margins. more: trials of each glass in all that would settle it."""

    verdict: str
    margin_percent: float
    margin_low: float
    margin_high: float
    p_low: float
    p_high: float
    p_alike: float
    p_unlike: float
    low90: float
    high90: float
    more: int | None
    comparison: Comparison


def compare(first_s, second_s, names: tuple[str, str] = NAMES) -> Comparison:
    """Ratio of the geometric means of two arrays (n,) of times in seconds, with its 95 % interval. names: for the sentences of refusals.

    Refused: fewer than two times in either (too_few_times), a time not above zero (not_a_time), or no scatter at all (no_scatter).
    """
    first, second = log_times(first_s, 2, names[0]), log_times(second_s, 2, names[1])
    spreads = [Spread(len(logs), float(np.var(logs, ddof=1))) for logs in (first, second)]
    if max(s.variance for s in spreads) < 1e-24:
        raise Refused("All times of each glass are the same to the last figure, so there is no scatter to judge by.", code="no_scatter")
    u_ln, df = standard_error(*spreads)
    ln_ratio = float(np.mean(first) - np.mean(second))
    half = u_ln * t_half_width(SHARE95, df)
    return Comparison(
        n_first=len(first),
        n_second=len(second),
        ratio=exp(ln_ratio),
        low95=exp(ln_ratio - half),
        high95=exp(ln_ratio + half),
        ln_ratio=ln_ratio,
        u_ln=u_ln,
        df=df,
        median_ratio=exp(float(np.median(first) - np.median(second))),
        p=t_two_sided(ln_ratio / u_ln, df),
        sd_first=spreads[0].variance ** 0.5,
        sd_second=spreads[1].variance ** 0.5,
    )


def margin_ln(margin_percent: float) -> float:
    """ln of the ratio at the margin: ln(1 + m). Refused (code margin) outside 1 to 100 %."""
    rule = table("compare")["margin_percent"]
    if not rule["least"] <= margin_percent <= rule["most"]:
        raise Refused(f"The margin must lie between {rule['least']} and {rule['most']} %.", code="margin", margin_percent=margin_percent)
    return log1p(margin_percent / 100.0)


def judged(p_alike: float, p_unlike: float) -> str:
    """The verdict of two values of p, corrected for many comparisons or not."""
    level = table("compare")["level"]["value"]
    return ALIKE if p_alike <= level else UNLIKE if p_unlike <= level else UNSETTLED


def equivalence(first_s, second_s, margin_percent: float, names: tuple[str, str] = NAMES) -> Verdict:
    """Whether two arrays (n,) of times in seconds are alike within ± margin_percent (as ratios 1/(1 + m) to 1 + m). Refuses as compare does, and a margin outside 1 to 100 %."""
    return verdict_of(compare(first_s, second_s, names), margin_percent)


def verdict_of(found: Comparison, margin_percent: float) -> Verdict:
    """The same for a comparison already made."""
    edge = margin_ln(margin_percent)
    p_low = t_upper((found.ln_ratio + edge) / found.u_ln, found.df)
    p_high = t_upper((edge - found.ln_ratio) / found.u_ln, found.df)
    p_unlike = t_upper((abs(found.ln_ratio) - edge) / found.u_ln, found.df)
    verdict = judged(max(p_low, p_high), p_unlike)
    low90, high90 = found.interval(1.0 - 2.0 * table("compare")["level"]["value"])
    return Verdict(
        verdict=verdict,
        margin_percent=float(margin_percent),
        margin_low=exp(-edge),
        margin_high=exp(edge),
        p_low=p_low,
        p_high=p_high,
        p_alike=max(p_low, p_high),
        p_unlike=p_unlike,
        low90=low90,
        high90=high90,
        more=trials_needed(*found.spreads, found.ln_ratio, edge) if verdict == UNSETTLED else None,
        comparison=found,
    )
