"""Fill a bench book with an invented workshop: own glasses, two finds on loan, three bench days of torch trials and two measured tests.

Everything goes through the door that tablets use, and every run makes the very same entries.
Times follow the order of what two grams do in a simple fuel-air torch: soft bead glass first, float glass later.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from math import exp
from random import Random

from demo.finds import FOOT, PANE, find_entries
from demo.glasses import GLASSES, KEEPER, OwnAnalysis
from demo.measures import measure_entries
from server.errors import Refused
from server.store.engine import Store
from server.sync.push import Batch, push

SEED = 1041
TORCH = "demo torch, propane and air, 5 cm from the inner cone"
OPERATOR = "Demo hand"
DAYS = (datetime(2026, 3, 10, 9, 0, tzinfo=UTC), datetime(2026, 3, 11, 9, 0, tzinfo=UTC), datetime(2026, 3, 13, 9, 0, tzinfo=UTC))
BETWEEN_TRIALS_S = (420.0, 780.0)
SCATTER = 0.09
SCATTER_OF_FINDS = 0.15
MASS_EXPONENT = 0.4
CLOCK_STEP_MS = 37_000.0


@dataclass(frozen=True)
class Heated:
    """What is heated, and its usual times in s for 2 g. `own` names an own analysis; `piece` a find."""

    sag_s: float
    round_s: float
    glow_s: float
    own: str = ""
    key: str = ""
    name: str = ""
    piece: str | None = None
    times_a_day: int = 3


HEATED = (
    Heated(14.2, 92.0, 36.0, own="bead"),
    Heated(16.4, 134.0, 41.0, own="natron"),
    Heated(18.6, 176.0, 48.0, own="wood-ash", times_a_day=2),
    Heated(17.6, 158.0, 43.0, key="modern-float", name="Modern float glass"),
    Heated(16.0, 128.0, 44.0, own="natron", piece=FOOT, times_a_day=1),
    Heated(24.5, 188.0, 55.0, piece=PANE, times_a_day=1),
)
NOTES = {
    2: "Bubbles came out while it went round.",
    9: "Took longer to see the edge move; the light was low.",
    17: "Fine white crust, wiped off before heating.",
    28: "Turned a shade greener in the reducing part of the flame.",
}
CRACKED, CLOCK_WAS_SET, NOT_KEPT = 12, 23, 38
TOO_EARLY = {5: "sagged", 20: "round", 31: "sagged"}


class Tablet:
    """Makes entries as a tablet does. Ids are of version 7, their random part comes from the seed."""

    def __init__(self, seed: int):
        self.random = Random(seed)
        self.device = self.new_id(int(DAYS[0].timestamp() * 1000))

    def new_id(self, at_ms: int) -> str:
        """A UUIDv7 of this moment."""
        head, low = f"{at_ms:012x}", f"{0x8000 | self.random.getrandbits(14):04x}"
        return f"{head[:8]}-{head[8:]}-7{self.random.getrandbits(12):03x}-{low}-{self.random.getrandbits(48):012x}"

    def entry(self, kind: str, subject: str, n: int, at_ms: float, body: dict) -> dict:
        """One entry as on the wire."""
        return {"id": self.new_id(int(at_ms)), "kind": kind, "subject": subject, "n": n, "device": self.device, "at_ms": int(at_ms), "body": body}


class Bench:
    """One trial on a tablet: entries in the order in which they were made. Times in s after the first press."""

    def __init__(self, tablet: Tablet, start_ms: float, page: str):
        self.tablet, self.start_ms, self.page = tablet, start_ms, page
        self.subject = tablet.new_id(int(start_ms))
        self.entries: list[dict] = []
        self.clock_step_ms = 0.0

    def add(self, kind: str, at_s: float, body: dict) -> dict:
        """The next entry of this trial."""
        at_ms = self.start_ms + at_s * 1000 + self.clock_step_ms
        self.entries.append(self.tablet.entry(kind, self.subject, len(self.entries), at_ms, body))
        return self.entries[-1]

    def stamp(self, stage: str, at_s: float) -> dict:
        """A press by both clocks; the page was loaded four seconds before the flame."""
        wall_ms = self.start_ms + at_s * 1000 + self.clock_step_ms
        return {"stage": stage, "wall_ms": wall_ms, "mono_ms": 4000.0 + at_s * 1000, "page": self.page, "was_hidden": False}

    def start(self, setup: dict) -> None:
        """Into the flame."""
        self.add("trial.started", 0.0, {**setup, "press": self.stamp("flame_in", 0.0)})

    def press(self, stage: str, at_s: float) -> dict:
        """A stage is reached."""
        return self.add("trial.pressed", at_s, self.stamp(stage, at_s))

    def press_too_early(self, stage: str, at_s: float) -> None:
        """A press that is taken back two seconds later."""
        wrong = self.press(stage, at_s)
        self.add("trial.taken_back", at_s + 2.0, {"entry": wrong["id"]})


def setup_of(heated: Heated, mass_g: float, keys: dict[str, str]) -> dict:
    """The body of the start without its press."""
    analysis = GLASSES.get(heated.own)
    is_find = heated.piece is not None
    return {
        "glass_key": keys[heated.own] if analysis else heated.key or None,
        "glass_name": analysis.name if analysis else heated.name,
        "piece": heated.piece,
        "consent": True if is_find else None,
        "keeper": KEEPER if is_find else None,
        "mass_g": mass_g,
        "preheat_c": 500.0,
        "torch": TORCH,
        "operator": OPERATOR,
    }


def times_of(heated: Heated, mass_g: float, random: Random, piece_factor: float) -> dict[str, float]:
    """Seconds after the first press at which each stage is reached; scatter is log-normal."""
    scale = piece_factor * (mass_g / 2.0) ** MASS_EXPONENT
    sag, round_, glow = (usual * scale * exp(random.gauss(0.0, SCATTER)) for usual in (heated.sag_s, heated.round_s, heated.glow_s))
    out = round_ + random.uniform(2.5, 8.0)
    return {"sagged": sag, "round": round_, "flame_out": out, "glow_gone": out + glow}


def trial(bench: Bench, heated: Heated, number: int, keys: dict[str, str]) -> list[dict]:
    """All entries of trial `number` (counted from 0)."""
    random = bench.tablet.random
    mass_g = round(random.uniform(1.8, 2.3), 2)
    piece_factor = exp(random.gauss(0.0, SCATTER_OF_FINDS)) if heated.piece else 1.0
    times = {stage: round(at_s, 3) for stage, at_s in times_of(heated, mass_g, random, piece_factor).items()}
    bench.start(setup_of(heated, mass_g, keys))
    if number == CRACKED:
        bench.add("trial.abandoned", 6.5, {"reason": "cracked"})
        bench.add("trial.noted", 21.0, {"text": "Went off with a click as it touched the flame. Warm the next one longer."})
        return bench.entries
    for stage, at_s in times.items():
        if TOO_EARLY.get(number) == stage:
            bench.press_too_early(stage, round(at_s * 0.7, 3))
        bench.press(stage, at_s)
        if number == CLOCK_WAS_SET and stage == "sagged":
            bench.clock_step_ms = CLOCK_STEP_MS
    if number in NOTES:
        bench.add("trial.noted", times["glow_gone"] + 9.0, {"text": NOTES[number]})
    if number != NOT_KEPT:
        bench.add("trial.kept", times["glow_gone"] + 14.0, {})
    return bench.entries


def glass_entry(tablet: Tablet, analysis: OwnAnalysis, at_ms: int) -> dict:
    """An own analysis as the tablet sends it."""
    return tablet.entry("glass.added", tablet.new_id(at_ms), 0, at_ms, analysis.body())


def bench_days(tablet: Tablet, keys: dict[str, str]) -> Iterator[tuple[int, list[dict]]]:
    """(end of the day in epoch ms, the day's entries), day by day."""
    number = 0
    for day in DAYS:
        now_ms = day.timestamp() * 1000
        page = tablet.new_id(int(now_ms))
        turns = [heated for heated in HEATED for _ in range(heated.times_a_day)]
        tablet.random.shuffle(turns)
        entries: list[dict] = []
        for heated in turns:
            entries += trial(Bench(tablet, now_ms, page), heated, number, keys)
            number += 1
            now_ms += round(tablet.random.uniform(*BETWEEN_TRIALS_S) * 1000)
        yield int(now_ms), entries


def batches() -> Iterator[tuple[int, list[dict]]]:
    """(received at, epoch ms; entries) as they reach the desk: the glasses first, then each bench day."""
    tablet = Tablet(SEED)
    eve_ms = int(DAYS[0].timestamp() * 1000) - 15 * 3_600_000
    glasses = {name: glass_entry(tablet, analysis, eve_ms + 60_000 * i) for i, (name, analysis) in enumerate(GLASSES.items())}
    keys = {name: entry["subject"] for name, entry in glasses.items()}
    yield eve_ms + 3_600_000, list(glasses.values())
    days = list(bench_days(tablet, keys))
    yield from days
    heated = [entry for _, entries in days for entry in entries if entry["kind"] == "trial.started"]
    finds = find_entries(Tablet(SEED + 1), keys["natron"], heated)
    yield days[-1][0] + 600_000, finds
    measured = measure_entries(Tablet(SEED + 2), keys["natron"], finds)
    yield measured[-1]["at_ms"] + 3_600_000, measured


def fill(store: Store) -> None:
    """Put the whole workshop into a bench book; what is there already stays as it is. Raises Refused."""
    for received_ms, entries in batches():
        with store.write() as session:
            verdicts = push(session, Batch(entries=entries), received_ms)
            for verdict in verdicts:
                if verdict.verdict == "refused":
                    raise Refused(f"The invented workshop was refused: {verdict.message}", code=verdict.code)
