"""Pure: two groups of times set side by side: how many times as long, and whether that counts as alike within a margin that was said."""

from dataclasses import dataclass

from server.errors import Refused
from server.finding.said import TwoGroups, percent_of
from server.finding.selection import Group, Timed
from server.physics.compare import Comparison, Verdict, compare, equivalence, judged
from server.physics.matrix import Pair, holm, matrix
from server.physics.offset import mass_gap_ln
from server.store.latest import disagree

FEWEST = 2  # times of either group that have a scatter


@dataclass(frozen=True)
class Margin:
    """Within how many per cent two groups count as alike, when that was said, and whether any of their times was known by then. `latest`: the entries that a new one comes after; not `is_settled` where these differ."""

    percent: float
    at_ms: float
    is_before: bool
    with_plan: bool
    latest: tuple[str, ...] = ()
    is_settled: bool = True


@dataclass(frozen=True)
class Likeness:
    """Two groups in one lane. `verdict` is None without a margin; `why` says why nothing can be said; mass_gap_ln: of their mean masses, first less second; `by` as in Wanted."""

    first: Group
    second: Group
    lane: str
    comparison: Comparison | None
    verdict: Verdict | None
    margin: Margin | None
    why: str
    by: str
    mass_gap_ln: float


def known_from(rows: tuple[Timed, ...], ended: dict[str, int]) -> float:
    """The first moment, in epoch ms, at which a person could know one of these times: of a blind session the moment when it was first opened, of any other trial its start."""
    return min(max(ended.get(row.session, 0), row.started_ms) for row in rows)


def margin_of(first: Group, second: Group, lane: str, plans: dict[str, dict], said: dict[TwoGroups, list[dict]], ended: dict[str, int]) -> Margin | None:
    """The margin for two groups: what was said of them last, else the one of the plan that all their times come from."""
    known = min(known_from(first.rows, ended), known_from(second.rows, ended))
    own = said.get((frozenset((first.key, second.key)), lane))
    if own:
        numbers = tuple(one["id"] for one in own)
        is_sure = not disagree(own, percent_of)
        return Margin(percent_of(own[-1]), own[-1]["at_ms"], own[-1]["at_ms"] < known, False, numbers, is_sure)
    sessions = {row.session for row in (*first.rows, *second.rows)}
    if len(sessions) != 1 or (made := plans.get(next(iter(sessions)))) is None or not made["body"].get("margin_percent"):
        return None
    return Margin(made["body"]["margin_percent"], made["at_ms"], made["at_ms"] < known, True)


def likeness(first: Group, second: Group, lane: str, margin: Margin | None, by: str) -> Likeness:
    """How the two compare; says why not where one has fewer than two times that count."""
    gap = mass_gap_ln(_masses(second, lane), _masses(first, lane)) if all(lane in group.lanes for group in (first, second)) else 0.0
    times = [group.lanes[lane].times if lane in group.lanes else () for group in (first, second)]
    short = [group.label for group, found in zip((first, second), times, strict=True) if len(found) < FEWEST]
    if short:
        why = f"{' and '.join(short)}: fewer than {FEWEST} times count, so nothing tells how they scatter."
        return Likeness(first, second, lane, None, None, margin, why, by, gap)
    try:
        verdict = equivalence(*times, margin.percent) if margin else None
        return Likeness(first, second, lane, compare(*times), verdict, margin, "", by, gap)
    except Refused as error:
        return Likeness(first, second, lane, None, None, margin, error.message, by, gap)


def all_pairs(groups: list[Group], lane: str, percent: float) -> list[Pair]:
    """Every two of the groups, which are comparable, with the correction for many comparisons (Holm)."""
    found = {group.key: group.lanes[lane].times for group in groups}
    return matrix(found, percent) if len(found) > 1 else []


def comparable(groups: list[Group], lane: str) -> list[Group]:
    """Those that have two times or more that are not all the same: only these have a scatter to judge by."""
    return [group for group in groups if lane in group.lanes and len(set(group.lanes[lane].times)) >= FEWEST]


def corrected_verdicts(found: list[Likeness]) -> list[str]:
    """The verdict of each, as one of so many (Holm); "" where there is none."""
    judgeable = [one.verdict for one in found if one.verdict]
    if not judgeable:
        return ["" for _one in found]
    alike, unlike = holm([v.p_alike for v in judgeable]), holm([v.p_unlike for v in judgeable])
    told = iter([judged(float(a), float(u)) for a, u in zip(alike, unlike, strict=True)])
    return [next(told) if one.verdict else "" for one in found]


def _masses(group: Group, lane: str) -> list[float]:
    return [row.mass_g for row in group.rows if lane in row.seconds and lane not in row.whys]
