"""Pure: trials -> the times that count, those that are asked for, and their groups: a glass, or one piece of a find."""

from dataclasses import dataclass, field, replace
from operator import is_
from sys import intern

import numpy as np

from server.physics.few import SHARE95, t_half_width
from server.physics.offset import mass_corrected
from server.physics.times import outliers
from server.trial.results import LANES, why_left_out
from server.trial.timing import Trial

NO_WHYS: dict[str, str] = {}  # shared by all whose every time counts; never changed


@dataclass(frozen=True, slots=True)
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
    return [one for trial in trials if (one := timed_one(trial, colours))]


def group_of(setup: dict) -> str:
    """The group of a trial, from the body of its start: a piece of a find by its number where it has one, else by its name; a glass by its key."""
    if setup["piece"]:
        return f"piece:{setup.get('piece_id') or setup['piece']}"
    return f"glass:{setup['glass_key'] or setup['glass_name']}"


def timed_one(trial: Trial, colours: dict[str, str]) -> Timed | None:
    """A kept trial that has a time; None for any other. Texts that many share are one object: a book may hold hundreds of thousands."""
    if trial.status != "kept" or not trial.setup or not any(lane in trial.spans for lane in LANES):
        return None
    setup = trial.setup
    piece = setup["piece"]
    seconds = {lane: trial.spans[lane].seconds for lane in LANES if lane in trial.spans and (trial.spans[lane].seconds or 0) > 0}
    whys = {lane: why for lane in seconds if (why := why_left_out(trial, lane, piece))} or NO_WHYS
    more = {key: intern(setup.get(key) or "") for key in ("session", "torch", "operator")}
    colour = intern(colours.get(setup.get("piece_id") or "", ""))
    label, group, key = intern(trial.name), intern(group_of(setup)), intern(setup["glass_key"] or "")
    return Timed(trial.id, group, key, label, bool(piece), colour=colour, mass_g=setup["mass_g"], preheat_c=setup["preheat_c"], started_ms=trial.started_ms or 0, seconds=seconds, whys=whys, **more)


def by_time(row: Timed) -> tuple[float, str]:
    """What rows are ordered by, the newest first."""
    return row.started_ms, row.trial


def chosen(rows: list[Timed], wanted: Wanted) -> list[Timed]:
    """Those that fit what is asked for."""
    asked = {key: value for key in ("session", "torch", "operator", "colour") if (value := getattr(wanted, key))}
    kinds = {"glass": False, "piece": True}
    if not asked and wanted.kind not in kinds and wanted.least_g is None and wanted.most_g is None:
        return rows
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


def groups_of(rows: list[Timed], by: str, factors: dict[tuple[str, str], float] | None = None, before: dict[str, Group] | None = None) -> list[Group]:
    """Groups in the order of their sagging, softest first; those without such a time last. factors: (trial, lane) -> what its time is divided by. before: groups reckoned earlier in the same way, which stand where their rows are the same."""
    gathered: dict[str, list[Timed]] = {}
    for row in rows:
        gathered.setdefault(row.group, []).append(row)
    found = [_known(before, key, members) or _group(key, members, by, factors or {}) for key, members in gathered.items()]
    return sorted(found, key=lambda g: (g.lanes["sag"].median_s if "sag" in g.lanes else float("inf"), g.label))


def _known(before: dict[str, Group] | None, key: str, rows: list[Timed]) -> Group | None:
    """The group of before, where it has these very rows."""
    found = before.get(key) if before else None
    return found if found and len(found.rows) == len(rows) and all(map(is_, found.rows, rows)) else None


def _point(row: Timed, lane: str, by: str, factors: dict[tuple[str, str], float]) -> tuple[float, str, str]:
    value = scaled(row, lane, by)
    return value / factors[row.trial, lane] if (row.trial, lane) in factors else value, row.whys.get(lane, ""), row.trial


def _group(key: str, rows: list[Timed], by: str, factors: dict[tuple[str, str], float]) -> Group:
    points = {lane: tuple(_point(row, lane, by, factors) for row in rows if lane in row.seconds) for lane in LANES}
    lanes = {lane: summary([s for s, why, _trial in found if not why]) for lane, found in points.items()}
    corrected = {lane for row in rows for lane in LANES if (row.trial, lane) in factors} if factors else set()
    lanes = {lane: replace(one, low95_s=None, high95_s=None) if one and lane in corrected else one for lane, one in lanes.items()}  # the correction's own error is not in them
    newest = max(rows, key=lambda row: row.started_ms)
    return Group(key, newest.label, newest.is_find, tuple(rows), points, {lane: one for lane, one in lanes.items() if one}, {lane: _far(found) for lane, found in points.items()})


def by_session(rows: list[Timed]) -> dict[str, list[Timed]]:
    """The rows of each session, in their order."""
    found: dict[str, list[Timed]] = {}
    for row in rows:
        found.setdefault(row.session, []).append(row)
    return found


def _far(points: tuple[tuple[float, str, str], ...]) -> frozenset[str]:
    """Trials whose counting time lies far from the others; a mark, no judgement."""
    own = [(s, trial) for s, why, trial in points if not why]
    marks = outliers([s for s, _trial in own]) if own else ()
    return frozenset(trial for (_s, trial), is_far in zip(own, marks, strict=True) if is_far)


def choices(rows: list[Timed]) -> dict[str, list[str]]:
    """What can be asked for, by question."""
    return {key: sorted({getattr(row, key) for row in rows} - {""}, key=str.casefold) for key in ("session", "torch", "operator", "colour")}
