"""Pure: an unknown piece against a reference in the same flame: its flame-softening offset, what speaks against it, and the other lines of evidence beside it."""

from dataclasses import dataclass
from math import log

import numpy as np

from server.errors import Refused
from server.finding.selection import Group, Timed
from server.physics.agreement import Agreement, Line, agreement
from server.physics.chance import Z95
from server.physics.few import SHARE95, t_half_width
from server.physics.flame_protocol import Flag, FlameTrial, Refusal, flags, refusals
from server.physics.offset import Between, Offset, between_two, mass_corrected, mass_gap_ln, softening_offset
from server.physics.shift import common_curve, shift_with_u


LIKE_MASSES_LN = 0.2  # how far mean masses may lie apart where the exponent's own error is not carried: judgement


@dataclass(frozen=True)
class Told:
    """What can be said of one piece. offset is None where `refused` says why; between where two references were given and hold."""

    offset: Offset | None
    refused: tuple[str, ...]
    flags: tuple[Flag, ...]
    between: Between | None
    between_refused: str
    lines: tuple[Line, ...]
    together: Agreement | None


def counting(rows: list[Timed], lane: str) -> list[Timed]:
    """Those whose time of a lane counts."""
    return [row for row in rows if lane in row.seconds and lane not in row.whys]


def _times(rows: list[Timed], lane: str) -> np.ndarray:
    own = counting(rows, lane)
    return mass_corrected([row.seconds[lane] for row in own], [row.mass_g for row in own]) if own else np.zeros(0)


def _protocol(rows: list[Timed], holders: dict[str, str]) -> list[FlameTrial]:
    return [FlameTrial(row.session or None, row.torch, holders.get(row.trial, ""), row.mass_g, row.preheat_c, row.colour) for row in counting(rows, "sag")]


def _mean_ratio(unknown: list[Timed], reference: list[Timed], lane: str) -> tuple[float | None, float]:
    """(ratio of geometric means unknown ÷ reference, 95 % half-width of its ln); None where a side has fewer than two."""
    first, second = (np.log(_times(rows, lane)) for rows in (unknown, reference))
    if len(first) < 2 or len(second) < 2:
        return None, 0.0
    half = t_half_width(SHARE95, len(first) + len(second) - 2) * float(np.sqrt(first.var(ddof=1) / len(first) + second.var(ddof=1) / len(second)))
    return float(np.exp(first.mean() - second.mean())), half


def told(unknown: Group, reference: Group, second: tuple[Group, dict] | None, softening: dict | None, holders: dict[str, str], evidence: list[Line]) -> Told:
    """All of it. softening: {c, u95_k} of the reference's curve, or None; second: another reference with its own; holders: trial -> way of holding."""
    rows, known = list(unknown.rows), list(reference.rows)
    against: list[Refusal] = refusals(_protocol(known, holders), _protocol(rows, holders))
    if against:
        return Told(None, tuple(one.words for one in against), (), None, "", tuple(evidence), _together(evidence))
    try:
        masses = [[row.mass_g for row in counting(group, "sag")] for group in (known, rows)]
        offset = softening_offset(_times(known, "sag"), _times(rows, "sag"), True, mass_gap_ln(*masses))
    except Refused as error:
        return Told(None, (error.message,), (), None, "", tuple(evidence), _together(evidence))
    (rounded, half), (glow, _half) = _mean_ratio(rows, known, "round"), _mean_ratio(rows, known, "glow")
    found = flags(offset, rounded, glow, half, colours=(known[0].colour, rows[0].colour))
    lines = (Line("Flame", offset.delta_k, offset.u95_k, "flame"), *evidence)
    between, why = _between(rows, known, second, softening, holders)
    return Told(offset, (), tuple(found), between, why, lines, _together(lines))


def _between(rows: list[Timed], known: list[Timed], second: tuple[Group, dict] | None, softening: dict | None, holders: dict[str, str]) -> tuple[Between | None, str]:
    if second is None:
        return None, ""
    group, other = second
    if not softening or not other:
        return None, "One of the two references has no estimated softening point, so nothing can be laid between them."
    against = refusals(_protocol(known, holders) + _protocol(list(group.rows), holders), _protocol(rows, holders))
    gaps = [abs(mass_gap_ln([row.mass_g for row in counting(ends, "sag")], [row.mass_g for row in counting(rows, "sag")])) for ends in (known, list(group.rows)) if counting(ends, "sag")]
    if against:
        return None, "Nothing is laid between the two references: " + " ".join(one.words for one in against)
    if max(gaps) > LIKE_MASSES_LN:
        return None, "Nothing is laid between the two references: the masses are too unlike for it."
    try:
        return between_two(_times(known, "sag"), softening["c"], _times(list(group.rows), "sag"), other["c"], _times(rows, "sag"), softening["u95_k"], other["u95_k"]), ""
    except Refused as error:
        return None, error.message


def _together(lines: list[Line] | tuple[Line, ...]) -> Agreement | None:
    return agreement(list(lines)) if lines else None


def analysis_line(own: dict | None, reference: dict | None, label: str) -> Line | None:
    """The difference of two estimated softening points; both {c, u95_k}. Their errors are taken as independent."""
    if not own or not reference:
        return None
    return Line(label, own["c"] - reference["c"], float(np.hypot(own["u95_k"], reference["u95_k"])), "analysis")


def ratio_line(label: str, group: str, ratio: float, low95: float, high95: float, heat_c: float, heat_u_k: float, curve: dict | None) -> Line | None:
    """A ratio of viscosities, piece ÷ reference, with its 95 % ends, as kelvins at the heat of the test; None where an end is not known."""
    if not (low95 > 0 and np.isfinite(high95)):
        return None
    shift, half = shift_with_u(log(ratio), (log(high95) - log(low95)) / 2, heat_c, Z95 * heat_u_k, curve or common_curve())
    return Line(label, shift, half, group) if np.isfinite(shift) and half > 0 else None
