"""Pure: the lanes of a result -> coordinates of their picture, in SVG units."""

import csv
import io
from dataclasses import dataclass
from math import ceil, floor, isfinite, log10
from textwrap import wrap

from server.measure.shape import Lane, Result
from server.measure.words import harmless

WIDTH, LEFT, RIGHT, TOP, LANE_HEIGHT = 440, 20, 20, 8, 62
ROOM = 0.08  # of the span, free on either side
MOST_TICKS = 6
LINE_CHARACTERS, LINE_HEIGHT = 44, 18  # of a lane's words, in the narrowest figure


@dataclass(frozen=True)
class Scale:
    """Value -> x, linear or by decades."""

    low: float
    high: float
    is_log: bool

    def x(self, value: float) -> float:
        """Place of a value; what lies beyond stands at the edge."""
        low, high, value = (log10(v) if self.is_log else v for v in (self.low, self.high, max(value, self.low)))
        share = min(1.0, (value - low) / (high - low))
        return round(LEFT + share * (WIDTH - LEFT - RIGHT), 1)


def _numbers(lanes: tuple[Lane, ...], is_log: bool) -> list[float]:
    found = [v for lane in lanes for v in (lane.value, lane.low68, lane.high68, lane.low95, lane.high95) if v is not None and isfinite(v)]
    return [v for v in found if v > 0] if is_log else found


def scale_of(lanes: tuple[Lane, ...], is_log: bool) -> Scale:
    """A scale that holds every known end, with some room."""
    numbers = _numbers(lanes, is_log)
    low, high = (log10(f(numbers)) if is_log else f(numbers) for f in (min, max))
    span = (high - low) or (0.4 if is_log else abs(high) * 0.2 or 1.0)
    low, high = low - ROOM * span, high + ROOM * span
    return Scale(10**low, 10**high, True) if is_log else Scale(low, high, False)


def ticks_of(scale: Scale) -> list[float]:
    """Round numbers on the scale: steps of 1, 2 or 5, by decades where it is logarithmic and long."""
    if scale.is_log and scale.high / scale.low > 3:
        decades = range(floor(log10(scale.low)), ceil(log10(scale.high)) + 1)
        for steps in ((1, 2, 5), (1, 3), (1,)):
            found = [s * 10.0**d for d in decades for s in steps if scale.low <= s * 10.0**d <= scale.high]
            if len(found) <= MOST_TICKS:
                break
        every = -(-len(found) // MOST_TICKS)
        return found[::every]
    raw = (scale.high - scale.low) / MOST_TICKS
    base = 10.0 ** floor(log10(raw))
    step = next(s * base for s in (1, 2, 5, 10) if s * base >= raw)
    return [round(i * step, 12) for i in range(ceil(scale.low / step), floor(scale.high / step) + 1)]


def plain(value: float) -> str:
    """A number of a picture: true minus sign; powers of ten beyond what is read at a glance."""
    text = f"{value:.4g}" if 1e-3 <= abs(value) < 1e5 or value == 0 else f"{value:.2g}"
    return text.replace("-", "−")


def _ends(lane: Lane, scale: Scale, low: float | None, high: float | None) -> dict:
    """Both ends of an interval; an end that nobody knows runs to the picture's edge and is open."""
    known = [end is not None and isfinite(end) for end in (low, high)]
    return {
        "x1": scale.x(low) if known[0] else LEFT,
        "x2": scale.x(high) if known[1] else WIDTH - RIGHT,
        "open1": not known[0],
        "open2": not known[1],
    }


def interval(low: float | None, high: float | None) -> str:
    """'2 to 5', 'at most 5', 'at least 2', or 'not known'."""
    low_known, high_known = (end is not None and isfinite(end) for end in (low, high))
    if low_known and high_known:
        return f"{plain(low)} to {plain(high)}"
    return f"at least {plain(low)}" if low_known else f"at most {plain(high)}" if high_known else "not known"


def as_csv(made: Result) -> str:
    """The data behind the picture: one row a lane, comma-separated, with a header; an end that nobody knows is empty."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(["what", "unit", "best", "low68", "high68", "low95", "high95"])
    for lane in made.lanes:
        numbers = (lane.value, lane.low68, lane.high68, lane.low95, lane.high95)
        writer.writerow([harmless(lane.label), made.unit, *("" if v is None or not isfinite(v) else f"{v:.6g}" for v in numbers)])
    return out.getvalue()


def picture(made: Result) -> dict | None:
    """Everything that the template draws; None where the result has no lanes."""
    if not _numbers(made.lanes, made.is_log):
        return None
    scale = scale_of(made.lanes, made.is_log)
    lanes, top = [], TOP
    for lane in made.lanes:
        lines = wrap(lane.label, LINE_CHARACTERS) or [""]
        words = [(top + 24 + LINE_HEIGHT * i, line) for i, line in enumerate(lines)]
        top += LANE_HEIGHT + LINE_HEIGHT * (len(lines) - 1)
        lanes.append({
            "label": lane.label, "words": words, "value": plain(lane.value), "x": scale.x(lane.value), "y": top - 20,
            "within68": interval(lane.low68, lane.high68), "within95": interval(lane.low95, lane.high95),
            "band68": _ends(lane, scale, lane.low68, lane.high68), "band95": _ends(lane, scale, lane.low95, lane.high95),
        })  # fmt: skip
    bottom = top + 8
    ticks = [(scale.x(value), plain(value)) for value in ticks_of(scale)]
    return {"width": WIDTH, "height": bottom + 48, "bottom": bottom, "left": LEFT, "right": WIDTH - RIGHT, "lanes": lanes, "ticks": ticks, "axis": made.axis, "unit": made.unit, "is_log": made.is_log}
