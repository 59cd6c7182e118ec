"""Pure: trials of one glass -> coordinates of its profile picture. Times in s, places in SVG units."""

from dataclasses import dataclass
from math import ceil, floor, log, log10
from statistics import median

from server.trial.results import LANES, Lane, lanes_of, seconds, why_left_out
from server.trial.timing import Trial

WIDTH, LEFT, RIGHT, TOP, LANE_HEIGHT = 440, 14, 20, 30, 124
LANE_WORDS = {"sag": "Sagged", "round": "Round", "glow": "Glow gone"}
LANE_FROM = {"sag": "from into the flame", "round": "from into the flame", "glow": "from out of the flame"}
SHORTEST_S = 0.5
MOST_DRAWN = 200


@dataclass(frozen=True)
class Scale:
    """Logarithmic scale from seconds to SVG x: ten per cent of scatter looks alike at any time."""

    low_s: float
    high_s: float

    def x(self, value_s: float) -> float:
        """Place of a time; what is shorter than the scale stands at its edge."""
        share = log(max(value_s, self.low_s) / self.low_s) / log(self.high_s / self.low_s)
        return round(LEFT + share * (WIDTH - LEFT - RIGHT), 1)


@dataclass(frozen=True)
class Point:
    """One time of one trial. `why` says why it is left out of the median; `is_find` marks a piece of a find."""

    x: float
    y: float
    lane: str
    value: str
    why: str | None
    is_find: bool
    title: str


@dataclass(frozen=True)
class Line:
    """The line of one piece through its stages; `label` names a piece of a find."""

    places: list[tuple[float, float]]
    is_find: bool
    is_out: bool
    label: str


def scale_of(times: list[float]) -> tuple[Scale, list[float]]:
    """A scale that holds all times with some room, and its ticks in s: 1, 2, 5, 10 … where there is place."""
    low = max(min(times), SHORTEST_S) * 0.7
    high = max(max(times), SHORTEST_S) * 1.4
    decades = range(floor(log10(low)), ceil(log10(high)) + 1)
    steps = (1, 2, 5) if high / low < 200 else (1,)
    ticks = [step * 10.0**d for d in decades for step in steps if low <= step * 10.0**d <= high]
    if len(ticks) < 2:  # narrow data between two round numbers
        ticks = [step * 10.0**d for d in decades for step in (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8) if low <= step * 10.0**d <= high]
    return Scale(low, high), ticks


def lane_y(key: str) -> float:
    """Height of a lane's rod; its words stand above it, so that the picture also reads on a narrow screen."""
    return TOP + LANE_HEIGHT * (list(LANES).index(key) + 0.6)


def shift_of(order: int, count: int) -> float:
    """Trials stand a little apart from each other on a lane, so that none hides another."""
    return 0 if count < 2 else (order / (count - 1) - 0.5) * LANE_HEIGHT * 0.42


def points_of(trial: Trial, shift: float, scale: Scale, own_piece: str | None) -> list[Point]:
    """The trial's times."""
    points = []
    for key in LANES:
        span = trial.spans.get(key)
        if span is None or span.seconds is None:
            continue
        why = why_left_out(trial, key, own_piece)
        title = f"{trial.name}: {LANE_WORDS[key].lower()} {seconds(span.seconds)} s{f' ({why})' if why else ''}"
        is_find = bool(trial.setup and trial.setup["piece"])
        points.append(Point(scale.x(span.seconds), round(lane_y(key) + shift, 1), key, seconds(span.seconds), why, is_find, title))
    return points


def _median_mark(lane: Lane, scale: Scale) -> dict:
    """Place and label of a median; near the right edge the label stands on the other side."""
    x = scale.x(lane.median_s)
    is_right = x > WIDTH - 90
    return {"x": x, "y": lane_y(lane.key), "text": f"{seconds(lane.median_s)} s", "anchor": "end" if is_right else "start", "label_x": x - 8 if is_right else x + 8}


def lines_of(trials: list[Trial], scale: Scale, own_piece: str | None) -> list[Line]:
    """One line a piece through its stages: medians where a piece of a find was tried more than once.

    A chip of a known glass is a piece of its own.
    """
    pieces: dict[str, list[tuple[float, Trial]]] = {}
    for order, trial in enumerate(trials):
        name = trial.setup["piece"] if trial.setup else None
        pieces.setdefault(name or trial.id, []).append((shift_of(order, len(trials)), trial))
    lines = [_line(name, members, scale, own_piece) for name, members in pieces.items()]
    return [line for line in lines if line.places]


def _line(name: str, members: list[tuple[float, Trial]], scale: Scale, own_piece: str | None) -> Line:
    is_find = bool(members[0][1].setup and members[0][1].setup["piece"])
    counting = [m for m in members if why_left_out(m[1], "sag", name) is None] or members
    shift = sum(shift for shift, _trial in counting) / len(counting)
    places = []
    for key in LANES:
        times = [t.spans[key].seconds for _shift, t in counting if key in t.spans and t.spans[key].seconds is not None]
        if times:
            places.append((scale.x(median(times)), round(lane_y(key) + shift, 1)))
    is_out = not is_find and why_left_out(members[0][1], "sag") is not None
    return Line(places, is_find, is_out, name if is_find and not own_piece else "")


def picture(every: list[Trial], own_piece: str | None = None) -> dict | None:
    """Everything the template draws; None when no trial has a time. Of very many trials the newest are drawn, the medians are of all."""
    trials = every[-MOST_DRAWN:]
    times = [s.seconds for t in trials for key, s in t.spans.items() if key in LANES and s.seconds is not None]
    if not times:
        return None
    scale, ticks = scale_of(times)
    drawn = [points_of(trial, shift_of(i, len(trials)), scale, own_piece) for i, trial in enumerate(trials)]
    return {
        "width": WIDTH,
        "height": TOP + LANE_HEIGHT * len(LANES) + 44,
        "left": LEFT,
        "right": WIDTH - RIGHT,
        "bottom": TOP + LANE_HEIGHT * len(LANES),
        "ticks": [(scale.x(tick), f"{tick:g}") for tick in ticks],
        "lanes": [(key, LANE_WORDS[key], LANE_FROM[key], lane_y(key)) for key in LANES],
        "points": [point for points in drawn for point in points],
        "lines": lines_of(trials, scale, own_piece),
        "drawn": len(trials) if len(trials) < len(every) else None,
        "medians": [_median_mark(lane, scale) for lane in lanes_of(every, own_piece).values() if lane],
    }
