"""Pure: the data behind each picture of findings, as CSV."""

from server.finding.foreseen import Foreseen
from server.finding.likeness import Likeness
from server.finding.scatter import Control
from server.finding.words import table
from server.physics.agreement import Agreement, Line


def ratio(found: Likeness) -> str:
    """Two groups side by side: the comparison, and the verdict where a margin was said."""
    c, v = found.comparison, found.verdict
    if c is None:
        return ""
    heads = ("first", "second", "lane", "by", "n_first", "n_second", "ratio", "low95", "high95", "median_ratio", "df", "p", "margin_percent", "low90", "high90", "verdict")
    judged = (v.margin_percent, v.low90, v.high90, v.verdict) if v else (None, None, None, None)
    return table(heads, [(found.first.label, found.second.label, found.lane, found.by, c.n_first, c.n_second, c.ratio, c.low95, c.high95, c.median_ratio, float(c.df), c.p, *judged)])


def control(found: Control) -> str:
    """Reference runs over the hours."""
    return table(("hours", "seconds"), list(zip(found.hours, found.times, strict=True)))


def evidence(lines: tuple[Line, ...] | list[Line], together: Agreement | None, unit: str) -> str:
    """Lines of evidence against the reference, and the mean where there is one."""
    rows = [(line.label, line.delta_k, line.u95_k, line.group or "", unit) for line in lines]
    if together is not None and together.delta_k is not None:
        rows.append(("together", together.delta_k, together.u95_k, "", unit))
    return table(("line", "difference", "u95", "group", "unit"), rows)


def foreseen(found: list[Foreseen]) -> str:
    """Every time that was foreseen; an empty end is more than ten minutes."""
    heads = ("session", "glass_or_piece", "trial_id", "stage", "measured_s", "foreseen_s", "low68_s", "high68_s", "low95_s", "high95_s")
    rows = [(one.session, s.label, s.trial, s.stage, s.observed_s, s.foreseen.best_s, s.foreseen.low68_s, s.foreseen.high68_s, s.foreseen.low95_s, s.foreseen.high95_s) for one in found for s in one.seen]
    return table(heads, rows)
