"""Pure: a ratio beside its margins, and the reference runs of a session -> coordinates of their pictures, in SVG units."""

from math import exp, log

from server.finding.foreseen import Foreseen
from server.finding.likeness import Likeness
from server.finding.scatter import Control
from server.physics.agreement import Agreement, Line
from server.trial.profile import Scale, scale_of

WIDTH, LEFT, RIGHT = 440, 14, 20
RATIO_TICKS = (0.25, 0.33, 0.5, 0.67, 0.8, 0.9, 1, 1.1, 1.25, 1.5, 2, 3, 4)


def _ratio_ticks(reach: float) -> list[float]:
    """Round ratios on a scale that goes `reach` in ln to either side; decades where it is wide."""
    if reach < log(5):
        return [t for t in RATIO_TICKS if abs(log(t)) <= reach]
    return [10.0**k for k in range(-6, 7) if abs(log(10.0**k)) <= reach]


def _apart(ticks: list[tuple[float, str]]) -> list[tuple[float, str]]:
    """Ticks whose words do not run into one another; that of 1 always stays."""
    kept: list[tuple[float, str]] = []
    for tick in sorted(ticks, key=lambda t: (t[1] != "1", t[0])):
        if all(abs(tick[0] - other[0]) >= 34 for other in kept):
            kept.append(tick)
    return sorted(kept)


def ratio_picture(found: Likeness) -> dict | None:
    """The ratio with both intervals and the margins, logarithmic and even about 1; None without a comparison."""
    c, v = found.comparison, found.verdict
    if c is None:
        return None
    ends = [c.low95, c.high95, *((v.margin_low, v.margin_high) if v else ())]
    reach = 1.15 * max(abs(log(x)) for x in (*ends, 1.1))
    scale = Scale(exp(-reach), exp(reach))
    x = {"one": scale.x(1), "ratio": scale.x(c.ratio), "median": scale.x(c.median_ratio), "low95": scale.x(c.low95), "high95": scale.x(c.high95)}
    if v:
        x |= {"margin_low": scale.x(v.margin_low), "margin_high": scale.x(v.margin_high), "low90": scale.x(v.low90), "high90": scale.x(v.high90)}
    return {"width": WIDTH, "height": 120, "left": LEFT, "right": WIDTH - RIGHT, "x": x, "ticks": _apart([(scale.x(t), f"{t:g}") for t in _ratio_ticks(reach)])}


def control_picture(found: Control) -> dict:
    """Reference times over the hours, with their line and limits."""
    band = [found.limits.low_s, found.limits.high_s] if found.limits else []
    scale, ticks = scale_of([*found.times, *band])
    span = max(found.hours[-1], 1e-6)

    def place(hour: float, time: float) -> tuple[float, float]:
        return round(40 + (WIDTH - 60) * hour / span, 1), round(10 + 150 * (1 - (scale.x(time) - LEFT) / (WIDTH - LEFT - RIGHT)), 1)

    lines = {} if found.line is None else {"fit": [place(span * i / 20, float(t)) for i, t in enumerate(found.line.time_s)]}
    limits = [place(0, time)[1] for time in band]
    return {
        "width": WIDTH, "height": 200, "left": 40, "right": WIDTH - 20, "points": [place(h, t) for h, t in zip(found.hours, found.times, strict=True)],
        "limits": limits, "ticks": [(place(0, t)[1], f"{t:g}") for t in ticks], "hours": f"{found.hours[-1]:.1f}", **lines,
    }  # fmt: skip


def evidence_picture(lines: tuple[Line, ...] | list[Line], together: Agreement | None, unit: str, least: float) -> dict | None:
    """Lines of evidence against the reference, each with its 95 %, and all together; None without any. least: the smallest reach of the axis, in the unit."""
    rows = [(line.label, line.delta_k, line.u95_k) for line in lines]
    if together is not None and together.delta_k is not None:
        rows.append(("Together", together.delta_k, together.u95_k))
    if not rows:
        return None
    reach = 1.1 * max(least, *(abs(d) + u for _label, d, u in rows))
    step = next(s for s in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000) if reach / s <= 4.5)

    def x(value: float) -> float:
        return round(LEFT + (value + reach) / (2 * reach) * (WIDTH - LEFT - RIGHT), 1)

    drawn = [{"label": label, "y": 34 + 46 * i, "x": x(d), "low": x(d - u), "high": x(d + u), "words": f"{d:+.0f} ± {u:.0f} {unit}".replace("-", "−", 1)} for i, (label, d, u) in enumerate(rows)]
    count = int(reach // step)
    ticks = [(x(k * step), f"{k * step:+d}".replace("-", "−") if k else "0") for k in range(-count, count + 1)]
    return {"width": WIDTH, "height": 46 * len(rows) + 60, "bottom": 46 * len(rows) + 20, "left": LEFT, "right": WIDTH - RIGHT, "zero": x(0), "rows": drawn, "ticks": ticks, "unit": unit}


def foreseen_picture(found: list[Foreseen], stage: str) -> dict | None:
    """Foreseen across, observed upwards, both logarithmic, with the 95-in-100 range of each; None where nothing was foreseen."""
    every = [one for session in found for one in session.seen if one.stage == stage]
    seen = [one for one in every if one.foreseen.best_s is not None and one.foreseen.low95_s is not None]
    if not seen:
        return None
    scale, ticks = scale_of([t for one in seen for t in (one.observed_s, one.foreseen.best_s, one.foreseen.low95_s)])

    def x(time: float) -> float:
        return round(scale.x(min(time, scale.high_s)) * 0.9 + 38, 1)

    def y(time: float) -> float:
        return round(300 - (scale.x(time) - LEFT) * 0.7, 1)

    points = [{"x": x(one.foreseen.best_s), "y": y(one.observed_s), "low": x(one.foreseen.low95_s), "high": x(one.foreseen.high95_s or scale.high_s), "is_in": one.foreseen.holds(one.observed_s), "is_open": (one.foreseen.high95_s or scale.high_s + 1) > scale.high_s, "label": one.label} for one in seen]
    ends = (scale.low_s, scale.high_s)
    return {"width": WIDTH, "height": 348, "stalls": len(every) - len(seen), "points": points, "line": [(x(t), y(t)) for t in ends], "left": x(ends[0]), "right": x(ends[1]), "top": y(ends[1]), "bottom": y(ends[0]), "ticks": [(x(t), y(t), f"{t:g}") for t in ticks]}
