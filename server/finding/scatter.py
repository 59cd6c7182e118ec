"""Pure: how much pieces differ from each other, against how much one of them differs from itself; and whether the torch drifted in a session."""

from dataclasses import dataclass

import numpy as np

from server.finding.selection import Group, Timed, scaled
from server.physics.components import Components, components
from server.physics.drift import Drift, Limits, Line, corrected, drift, limits, line
from server.physics.table import table
from server.trial.results import LANES

HOUR_MS = 3_600_000


@dataclass(frozen=True)
class Control:
    """Reference runs of one session: hours since the first, times in s, the drift, its line and the limits (None where they cannot be told)."""

    session: str
    hours: tuple[float, ...]
    times: tuple[float, ...]
    drift: Drift
    line: Line | None
    limits: Limits | None


def scatter(groups: list[Group], lane: str) -> Components:
    """Within and between the groups, of the times that count."""
    return components([np.array(group.lanes[lane].times) for group in groups if lane in group.lanes])


def reference_key(plan: dict) -> str:
    """The group of a plan's reference, as in selection.py; "" without one."""
    if plan["reference"] is None:
        return ""
    glass = plan["glasses"][plan["reference"]]
    return f"piece:{glass['piece_id'] or glass['piece']}" if glass["piece"] else f"glass:{glass['key'] or glass['name']}"


def control(session: str, plan: dict, rows: list[Timed], lane: str, by: str) -> Control | None:
    """The reference runs of a session; None where it has no reference, or none of its runs counts."""
    if not (key := reference_key(plan)):
        return None
    own = sorted((row for row in rows if row.session == session and row.group == key and lane in row.seconds and lane not in row.whys), key=lambda row: row.started_ms)
    if not own:
        return None
    hours = [_hours(row, own[0]) for row in own]
    times = [scaled(row, lane, by) for row in own]
    found = drift(hours, times)
    return Control(session, tuple(hours), tuple(times), found, line(found, np.linspace(0, hours[-1], 21)) if found.can_tell else None, limits(times) if len(times) > 1 else None)


def _hours(row: Timed, first: Timed) -> float:
    return (row.started_ms - first.started_ms) / HOUR_MS


def drift_factors(plans: dict[str, dict], rows: dict[str, list[Timed]]) -> dict[tuple[str, str], float]:
    """(trial, lane) -> by how much the torch had drifted at its moment; rows: those of each session. Told for every session whose reference runs tell a drift that chance hardly shows (p below the level of data/compare.json). Times before the first of these runs or after the last stand as measured."""
    factors: dict[tuple[str, str], float] = {}
    for session, plan in plans.items():
        own = rows.get(session, [])
        for lane in LANES:
            found = control(session, plan, own, lane, "measured")
            if found is None or not found.drift.can_tell or found.drift.p >= table("compare")["level"]["value"]:
                continue
            first = min((row for row in own if row.group == reference_key(plan) and lane in row.seconds and lane not in row.whys), key=lambda row: row.started_ms)
            timed = [row for row in own if lane in row.seconds]
            made = corrected(found.drift, [_hours(row, first) for row in timed], [row.seconds[lane] for row in timed])
            told = zip(timed, made.factor, made.is_extrapolated, strict=True)
            factors |= {(row.trial, lane): float(factor) for row, factor, is_beyond in told if not is_beyond}
    return factors
