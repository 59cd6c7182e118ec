"""Pure: two groups of times set side by side: how many times as long, and whether that counts as alike within a margin that was said."""

from dataclasses import dataclass

from server.errors import Refused
from server.finding.selection import Group, Timed
from server.physics.compare import Comparison, Verdict, compare, equivalence
from server.physics.matrix import Pair, matrix

FEWEST = 2  # times of either group that have a scatter


@dataclass(frozen=True)
class Margin:
    """Within how many per cent two groups count as alike, when that was said, and whether any of their times was known by then."""

    percent: float
    at_ms: float
    is_before: bool
    with_plan: bool


@dataclass(frozen=True)
class Likeness:
    """Two groups in one lane. `verdict` is None without a margin; `why` says why nothing can be said."""

    first: Group
    second: Group
    lane: str
    comparison: Comparison | None
    verdict: Verdict | None
    margin: Margin | None
    why: str


def known_from(rows: tuple[Timed, ...], ended: dict[str, int]) -> float:
    """The first moment, in epoch ms, at which a person could know one of these times: of a blind session its end, of any other trial its start."""
    return min(ended.get(row.session, row.started_ms) for row in rows)


def margin_of(first: Group, second: Group, lane: str, plans: dict[str, dict], said: list[dict], ended: dict[str, int]) -> Margin | None:
    """The margin for two groups: what was said of them last, else the one of the plan that all their times come from."""
    known = min(known_from(first.rows, ended), known_from(second.rows, ended))
    own = [m for m in said if {m["first"], m["second"]} == {first.key, second.key} and m["lane"] == lane]
    if own:
        return Margin(own[-1]["percent"], own[-1]["at_ms"], own[-1]["at_ms"] < known, False)
    sessions = {row.session for row in (*first.rows, *second.rows)}
    if len(sessions) != 1 or (made := plans.get(next(iter(sessions)))) is None or not made["body"].get("margin_percent"):
        return None
    return Margin(made["body"]["margin_percent"], made["at_ms"], made["at_ms"] < known, True)


def likeness(first: Group, second: Group, lane: str, margin: Margin | None) -> Likeness:
    """How the two compare; says why not where one has fewer than two times that count."""
    times = [group.lanes[lane].times if lane in group.lanes else () for group in (first, second)]
    short = [group.label for group, found in zip((first, second), times, strict=True) if len(found) < FEWEST]
    if short:
        why = f"{' and '.join(short)}: fewer than {FEWEST} times count, so nothing tells how they scatter."
        return Likeness(first, second, lane, None, None, margin, why)
    try:
        verdict = equivalence(*times, margin.percent) if margin else None
        return Likeness(first, second, lane, compare(*times), verdict, margin, "")
    except Refused as error:
        return Likeness(first, second, lane, None, None, margin, error.message)


def all_pairs(groups: list[Group], lane: str, percent: float) -> list[Pair]:
    """Every two of the groups that have two times or more, with the correction for many comparisons (Holm)."""
    found = {group.key: group.lanes[lane].times for group in groups if lane in group.lanes and len(group.lanes[lane].times) >= FEWEST}
    return matrix(found, percent) if len(found) > 1 else []
