"""Do several lines of evidence on one piece agree, each an offset in K against the same reference with its 95 % half-width?

Lines of one group share errors (one test, one analysis, one reference curve): only the narrowest of each group enters the mean.
    mean = Σ d/u² ÷ Σ 1/u²,  chi-square = Σ (d − mean)²/u²  with (groups − 1) degrees of freedom
Where chi-square is larger than chance leaves room for, the mean's ± is widened (Birge), or there is no mean. Limits: data/flame.json.
"""

from dataclasses import dataclass
from math import erfc, exp, gamma, inf, sqrt

from server.errors import Refused
from server.physics.chance import Z95
from server.physics.table import table


@dataclass(frozen=True)
class Line:
    """One line of evidence: K against the reference, 95 % half-width, group of those it shares errors with (None: nobody can say, so it is only shown)."""

    label: str
    delta_k: float
    u95_k: float
    group: str | None


@dataclass(frozen=True)
class Shown:
    """A line, whether it entered the mean, and its distance from the mean of the other groups in standard deviations of both (None without others)."""

    line: Line
    is_used: bool
    away_sd: float | None


@dataclass(frozen=True)
class Agreement:
    """lines as given; agrees None where fewer than two groups can be compared; the mean in K with its 95 % half-width, None with `why` in words.

    widened: factor by which the half-width grew, 1 where the lines agree; p: chance of a chi-square as large.
    """

    lines: tuple[Shown, ...]
    agrees: bool | None
    chi2: float | None
    dof: int
    p: float | None
    delta_k: float | None
    u95_k: float | None
    widened: float
    why: str


def chi2_above(chi2: float, dof: int) -> float:
    """Chance that chi-square with a whole number of degrees of freedom, 1 or more, comes out above chi2: Q(dof/2, chi2/2) by recurrence."""
    x, order = chi2 / 2.0, 0.5 if dof % 2 else 1.0
    held = erfc(sqrt(x)) if dof % 2 else exp(-x)
    while order < dof / 2.0:
        held += x**order * exp(-x) / gamma(order + 1.0)
        order += 1.0
    return held


def _mean(lines: list[Line]) -> tuple[float, float]:
    """(weighted mean in K, its standard deviation)."""
    weights = [(Z95 / line.u95_k) ** 2 for line in lines]
    return sum(w * line.delta_k for w, line in zip(weights, lines, strict=True)) / sum(weights), sum(weights) ** -0.5


def _away(line: Line, used: list[Line]) -> float | None:
    """How far a line lies from the mean of the other groups, in standard deviations of the difference."""
    others = [other for other in used if other.group != line.group]
    if line.group is None or not others:
        return None
    mean, sd = _mean(others)
    return (line.delta_k - mean) / sqrt(sd**2 + (line.u95_k / Z95) ** 2)


def agreement(lines: list[Line]) -> Agreement:
    """Whether the lines agree, and what they say together; see the module.

    raises : Refused (code no_interval) for a line whose half-width is not above 0
    """
    if wrong := [line.label for line in lines if not 0.0 < line.u95_k < inf]:
        raise Refused(f"{wrong[0]} has no ± and can be laid beside nothing.", code="no_interval")
    best: dict[str, Line] = {}
    for line in lines:
        if line.group is not None and (line.group not in best or line.u95_k < best[line.group].u95_k):
            best[line.group] = line
    used = list(best.values())
    shown = tuple(Shown(line, any(line is u for u in used), _away(line, used)) for line in lines)
    if len(used) < 2:
        why = "Fewer than two of these lines are independent of each other, so they are shown side by side and not combined."
        return Agreement(shown, None, None, 0, None, None, None, 1.0, why)
    rule, dof = table("flame")["agreement"], len(used) - 1
    mean, sd = _mean(used)
    chi2 = sum((Z95 * (line.delta_k - mean) / line.u95_k) ** 2 for line in used)
    p = chi2_above(chi2, dof)
    if p < rule["contradict_p"]:
        why = "The lines contradict each other beyond anything their ± allows for; at least one is wrong, and no mean of them means anything."
        return Agreement(shown, False, chi2, dof, p, None, None, 1.0, why)
    agrees = p >= rule["consistent_p"]
    widened = 1.0 if agrees else max(1.0, sqrt(chi2 / dof))
    parts = ["Mean of the independent lines, each weighted by 1/u²; of lines that share errors the narrowest."]
    parts += [] if agrees else [f"They scatter more than their ± allows for, so the ± of the mean is {widened:.1f} times as wide."]
    return Agreement(shown, agrees, chi2, dof, p, mean, Z95 * sd * widened, widened, " ".join(parts))
