"""Pure: trials -> the times that count, those that are asked for, and their groups: a glass, or one piece of a find."""

from dataclasses import dataclass, field, replace

import numpy as np

from server.physics.few import SHARE95, t_half_width
from server.physics.offset import mass_corrected
from server.physics.times import outliers
from server.trial.results import LANES, why_left_out
from server.trial.timing import Trial


@dataclass(frozen=True)
class Timed:
    """One kept trial: `seconds` by lane as measured, `whys` by lane why a time does not count."""

    trial: str
    group: str
    glass_key: str
    label: str
    is_find: bool
    session: str
    torch: str
    operator: str
    colour: str
    mass_g: float
    preheat_c: float
    started_ms: float
    seconds: dict[str, float]
    whys: dict[str, str]


@dataclass(frozen=True)
class Wanted:
    """What is asked for; "" and None leave a question open. by: measured, corrected to 2 g, or steady: measured, with the torch's drift taken out."""

    by: str = "measured"
    kind: str = ""
    session: str = ""
    torch: str = ""
    operator: str = ""
    colour: str = ""
    least_g: float | None = None
    most_g: float | None = None


@dataclass(frozen=True)
class Summary:
    """One lane of a group, times in s: those that count, their median, geometric mean and the ends that hold 95 of 100 (None below two)."""

    times: tuple[float, ...]
    median_s: float
    mean_s: float
    low95_s: float | None
    high95_s: float | None


@dataclass(frozen=True)
class Group:
    """A glass or a piece with its trials; `points` by lane: (s, why it does not count or "", trial); `far` by lane: trials marked as far from the others, which still count."""

    key: str
    label: str
    is_find: bool
    rows: tuple[Timed, ...]
    points: dict[str, tuple[tuple[float, str, str], ...]]
    lanes: dict[str, Summary] = field(default_factory=dict)
    far: dict[str, frozenset[str]] = field(default_factory=dict)


def timed(trials: list[Trial], colours: dict[str, str]) -> list[Timed]:
    """Every kept trial that has a time. colours: id of a piece -> its colour, as the finds tell."""
    return [_one(trial, colours) for trial in trials if trial.status == "kept" and trial.setup and any(lane in trial.spans for lane in LANES)]


def group_of(setup: dict) -> str:
    """The group of a trial, from the body of its start: a piece of a find by its number where it has one, else by its name; a glass by its key."""
    if setup["piece"]:
        return f"piece:{setup.get('piece_id') or setup['piece']}"
    return f"glass:{setup['glass_key'] or setup['glass_name']}"


def _one(trial: Trial, colours: dict[str, str]) -> Timed:
    setup = trial.setup
    piece = setup["piece"]
    seconds = {lane: trial.spans[lane].seconds for lane in LANES if lane in trial.spans and (trial.spans[lane].seconds or 0) > 0}
    whys = {lane: why for lane in seconds if (why := why_left_out(trial, lane, piece))}
    more = {key: setup.get(key) or "" for key in ("session", "torch", "operator")}
    colour = colours.get(setup.get("piece_id") or "", "")
    return Timed(trial.id, group_of(setup), setup["glass_key"] or "", trial.name, bool(piece), colour=colour, mass_g=setup["mass_g"], preheat_c=setup["preheat_c"], started_ms=trial.started_ms or 0, seconds=seconds, whys=whys, **more)


def chosen(rows: list[Timed], wanted: Wanted) -> list[Timed]:
    """Those that fit what is asked for."""
    asked = {key: value for key in ("session", "torch", "operator", "colour") if (value := getattr(wanted, key))}
    kinds = {"glass": False, "piece": True}
    return [
        row for row in rows
        if all(getattr(row, key) == value for key, value in asked.items())
        and (wanted.kind not in kinds or row.is_find == kinds[wanted.kind])
        and (wanted.least_g is None or row.mass_g >= wanted.least_g)
        and (wanted.most_g is None or row.mass_g <= wanted.most_g)
    ]  # fmt: skip


def scaled(row: Timed, lane: str, by: str) -> float:
    """A time in s, as measured or as 2 g would have taken."""
    return float(mass_corrected(row.seconds[lane], row.mass_g)) if by == "corrected" else row.seconds[lane]


def summary(times: list[float]) -> Summary | None:
    """Median, geometric mean and its t interval on the logarithms; None for no time."""
    if not times:
        return None
    logs = np.log(times)
    mean, count = float(logs.mean()), len(times)
    half = float(logs.std(ddof=1)) / count**0.5 * t_half_width(SHARE95, count - 1) if count > 1 else None
    ends = (None, None) if half is None else (float(np.exp(mean - half)), float(np.exp(mean + half)))
    return Summary(tuple(times), float(np.median(times)), float(np.exp(mean)), *ends)


def groups_of(rows: list[Timed], by: str, factors: dict[tuple[str, str], float] | None = None) -> list[Group]:
    """Groups in the order of their sagging, softest first; those without such a time last. factors: (trial, lane) -> what its time is divided by."""
    gathered: dict[str, list[Timed]] = {}
    for row in rows:
        gathered.setdefault(row.group, []).append(row)
    found = [_group(key, members, by, factors or {}) for key, members in gathered.items()]
    return sorted(found, key=lambda g: (g.lanes["sag"].median_s if "sag" in g.lanes else float("inf"), g.label))


def _group(key: str, rows: list[Timed], by: str, factors: dict[tuple[str, str], float]) -> Group:
    points = {lane: tuple((scaled(row, lane, by) / factors.get((row.trial, lane), 1.0), row.whys.get(lane, ""), row.trial) for row in rows if lane in row.seconds) for lane in LANES}
    lanes = {lane: summary([s for s, why, _trial in found if not why]) for lane, found in points.items()}
    corrected = {lane for row in rows for lane in LANES if (row.trial, lane) in factors}
    lanes = {lane: replace(one, low95_s=None, high95_s=None) if one and lane in corrected else one for lane, one in lanes.items()}  # the correction's own error is not in them
    newest = max(rows, key=lambda row: row.started_ms)
    return Group(key, newest.label, newest.is_find, tuple(rows), points, {lane: one for lane, one in lanes.items() if one}, {lane: _far(found) for lane, found in points.items()})


def _far(points: tuple[tuple[float, str, str], ...]) -> frozenset[str]:
    """Trials whose counting time lies far from the others; a mark, no judgement."""
    own = [(s, trial) for s, why, trial in points if not why]
    marks = outliers([s for s, _trial in own]) if own else ()
    return frozenset(trial for (_s, trial), is_far in zip(own, marks, strict=True) if is_far)


def choices(rows: list[Timed]) -> dict[str, list[str]]:
    """What can be asked for, by question."""
    return {key: sorted({getattr(row, key) for row in rows} - {""}, key=str.casefold) for key in ("session", "torch", "operator", "colour")}
