"""Pure: groups of times -> coordinates of their picture: a panel for each stage, a line for each glass or piece. Times in s, places in SVG units."""

from dataclasses import dataclass

from server.finding.selection import Group
from server.trial.profile import LANE_FROM, LANE_WORDS, scale_of
from server.trial.results import LANES, seconds

WIDTH, LEFT, RIGHT = 440, 14, 20
TOP, HEAD, ROW, FOOT = 8, 34, 50, 34
WIDEST = 2.5  # how far beyond the times an interval may widen the scale
LONGEST = 36  # letters of a name
MOST_DOTS = 300  # of one glass in one panel; beyond that every so many-th is drawn, and the picture says so
SPREAD = 9  # how far raw points stand apart from their line


@dataclass(frozen=True)
class Row:
    """One line of a panel: raw points as one path each of those that count, those left out and those far from the others; the interval and the median over them."""

    label: str
    y: float
    counts: str
    out: str
    far: str
    low: float | None
    high: float | None
    is_cut: bool
    median: float | None
    words: str


def _path(places: list[tuple[float, float]]) -> str:
    """Dots as strokes of no length with round ends: a thousand of them are one path."""
    return "".join(f"M{x} {y}h0" for x, y in places)


def _short(label: str) -> str:
    """A name with its middle left out where it is long: pieces of one find differ at the end."""
    return label if len(label) <= LONGEST else f"{label[: LONGEST // 2 - 3].rstrip()}…{label[-LONGEST // 2 - 2 :].lstrip()}"


def _row(group: Group, lane: str, y: float, scale) -> Row:
    every = group.points[lane]
    points = every[:: -(-len(every) // MOST_DOTS)] if every else every
    places = [(scale.x(s), round(y + ((i * 7) % 11 / 10 - 0.5) * 2 * SPREAD, 1), why, trial in group.far[lane]) for i, (s, why, trial) in enumerate(points)]
    one = group.lanes.get(lane)
    ends = (None, None) if one is None or one.low95_s is None else (scale.x(one.low95_s), scale.x(min(one.high95_s, scale.high_s)))
    words = f"{seconds(one.median_s)} s, {len(one.times)}" if one else "no time counts"
    words += f" ({len(points)} dots drawn)" if len(points) < len(every) else ""
    return Row(_short(group.label), y, _path([p[:2] for p in places if not p[2]]), _path([p[:2] for p in places if p[2]]), _path([p[:2] for p in places if p[3]]), *ends, bool(one and one.high95_s and (one.high95_s > scale.high_s or one.low95_s < scale.low_s)), scale.x(one.median_s) if one else None, words)


def picture(groups: list[Group]) -> dict | None:
    """Everything that the template draws, a panel for each lane that has a time; None without any time."""
    panels, top = [], TOP
    for lane in LANES:
        times = [s for group in groups for s, _why, _trial in group.points[lane]]
        if not times:
            continue
        ends = [end for group in groups if (one := group.lanes.get(lane)) and one.low95_s for end in (one.low95_s, one.high95_s)]
        low, high = min(times), max(times)
        scale, ticks = scale_of([low, high, *(min(max(end, low / WIDEST), high * WIDEST) for end in ends)])
        shown = [group for group in groups if group.points[lane]]
        rows = [_row(group, lane, top + HEAD + ROW * i + 36, scale) for i, group in enumerate(shown)]
        bottom = top + HEAD + ROW * len(shown) + 8
        panels.append({"word": LANE_WORDS[lane], "since": LANE_FROM[lane], "top": top, "bottom": bottom, "ticks": [(scale.x(t), f"{t:g}") for t in ticks], "rows": rows})
        top = bottom + FOOT
    top += 4
    return {"width": WIDTH, "height": top, "left": LEFT, "right": WIDTH - RIGHT, "panels": panels} if panels else None
