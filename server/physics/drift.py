"""Does the torch drift? Reference runs of one session, ln t against run order or hours: a line with its test, limits, and a correction shown as such.

Ordinary least squares on ln t (any textbook; held to scipy.stats.linregress). A slope b per unit means that times grow by the factor e^b in each.
A straight line in ln t is an assumption: a torch that steps, say at a change of gas, is seen in the picture, not by this test. One reference for all.
"""

from dataclasses import dataclass
from math import exp, sqrt

import numpy as np

from server.errors import Refused
from server.physics.few import SHARE95, t_half_width
from server.physics.table import table
from server.physics.tails import t_two_sided
from server.physics.times import log_times


@dataclass(frozen=True)
class Drift:
    """The line ln t = middle_ln + slope · (position − middle); positions in the caller's unit (runs or hours), slope per that unit.

    can_tell False: `why` says in words what lacks, and only n stands. residual_sd: of ln t about the line, with df = n − 2.
    """

    n: int
    can_tell: bool
    why: str = ""
    middle: float | None = None
    middle_ln: float | None = None
    first: float | None = None
    last: float | None = None
    slope: float | None = None
    u_slope: float | None = None
    low95: float | None = None
    high95: float | None = None
    df: int | None = None
    t: float | None = None
    p: float | None = None  # two-sided, for no drift
    residual_sd: float | None = None


@dataclass(frozen=True)
class Line:
    """The fitted time in seconds at positions (n,), and the ends that hold 95 % for the line there (not for single times)."""

    time_s: np.ndarray
    low95_s: np.ndarray
    high95_s: np.ndarray


@dataclass(frozen=True)
class Limits:
    """Middle of the reference times (geometric mean) and the limits at two standard deviations of ln t; is_out (n,) marks times beyond them."""

    middle_s: float
    low_s: float
    high_s: float
    sd_ln: float
    df: int
    is_out: np.ndarray


@dataclass(frozen=True)
class Corrected:
    """Times with the drift taken out (n,), the factor each was divided by, the standard error of ln that this adds to each (n,), and which lie outside the reference runs.

    The added errors are one and the same error of the slope, times the distance from the middle: they do not average out. See u_of_ratio.
    """

    time_s: np.ndarray
    factor: np.ndarray
    u_ln: np.ndarray
    is_extrapolated: np.ndarray


def _positions(positions, n: int | None = None) -> np.ndarray:
    x = np.asarray(positions, dtype=float).ravel()
    if not np.all(np.isfinite(x)) or (n is not None and len(x) != n):
        raise Refused("Every time needs its moment: a run number, or hours.", code="positions")
    return x


def drift(positions, times_s) -> Drift:
    """The drift of reference times in seconds (n,) at their positions (n,). Fewer than three, all at one position, or no scatter about the line: can_tell is False.

    Refused: a time not above zero (not_a_time), a position that lacks (positions).
    """
    logs = log_times(times_s)
    x = _positions(positions, len(logs))
    if len(logs) < table("compare")["drift"]["least"]:
        return Drift(len(logs), can_tell=False, why=f"A drift needs at least three reference runs; there {'is' if len(logs) == 1 else 'are'} {len(logs)}.")
    middle, middle_ln = float(x.mean()), float(logs.mean())
    spread = float(((x - middle) ** 2).sum())
    if spread < 1e-24:
        return Drift(len(logs), can_tell=False, why="All reference runs stand at the same moment, so no drift can be seen.")
    slope = float(((x - middle) * (logs - middle_ln)).sum()) / spread
    squares, df = float(((logs - middle_ln - slope * (x - middle)) ** 2).sum()), len(logs) - 2
    if squares < 1e-24:
        return Drift(len(logs), can_tell=False, why="The reference times lie on a line to the last figure, so there is no scatter to judge a drift by.")
    u_slope = sqrt(squares / df / spread)
    half, t = u_slope * t_half_width(SHARE95, df), slope / u_slope
    return Drift(
        len(logs), can_tell=True, middle=middle, middle_ln=middle_ln, first=float(x.min()), last=float(x.max()), slope=slope, u_slope=u_slope,
        low95=slope - half, high95=slope + half, df=df, t=t, p=t_two_sided(t, df), residual_sd=sqrt(squares / df),
    )


def _told(found: Drift) -> None:
    if not found.can_tell:
        raise Refused(found.why, code="no_drift_known")


def line(found: Drift, positions) -> Line:
    """The fitted line for a picture, at positions (n,). Refused (no_drift_known) where the drift cannot be told."""
    _told(found)
    away = _positions(positions) - found.middle
    half = t_half_width(SHARE95, found.df) * np.hypot(found.residual_sd / sqrt(found.n), found.u_slope * away)
    fitted = found.middle_ln + found.slope * away
    return Line(np.exp(fitted), np.exp(fitted - half), np.exp(fitted + half))


def limits(times_s, pooled: list[np.ndarray] = ()) -> Limits:
    """Control limits of reference times in seconds (n,): two standard deviations of ln t about their geometric mean.

    pooled: arrays (n,) of reference times, one per session, whose scatter within sessions is pooled; without it, the scatter of times_s itself, so that
    a drift widens its own limits. Refused: no times, or no group of two or more (too_few_times).
    """
    logs = log_times(times_s)
    groups = [log_times(g) for g in pooled if len(g) > 1] or [logs]
    df = sum(len(g) - 1 for g in groups)
    if df < 1 or not len(logs):
        raise Refused("At least two reference times of one session are needed for limits.", code="too_few_times", n=len(logs), least=2)
    sd = sqrt(sum(float(((g - g.mean()) ** 2).sum()) for g in groups) / df)
    middle, reach = float(logs.mean()), table("compare")["control"]["sds"] * sd
    return Limits(exp(middle), exp(middle - reach), exp(middle + reach), sd, df, np.abs(logs - middle) > reach)


def corrected(found: Drift, positions, times_s) -> Corrected:
    """Times in seconds (n,) at positions (n,) divided by the fitted drift at their moment, as if all had been run at the middle of the reference runs.

    Refused (no_drift_known) where the drift cannot be told. A correction for a drift that is not there only adds error: that is for the caller to show.
    """
    _told(found)
    times = np.exp(log_times(times_s))
    x = _positions(positions, len(times))
    factor = np.exp(found.slope * (x - found.middle))
    return Corrected(times / factor, factor, found.u_slope * np.abs(x - found.middle), (x < found.first) | (x > found.last))


def u_of_ratio(found: Drift, first_positions, second_positions) -> float:
    """Standard error that the correction adds to the ln of a ratio of geometric means of two glasses: u_slope times the distance of their mean moments.

    To be added in quadrature. Glasses that were run interleaved lose next to nothing by it. Not for a glass that is the reference itself, whose scatter the line has used.
    """
    _told(found)
    return found.u_slope * abs(float(_positions(first_positions).mean() - _positions(second_positions).mean()))
