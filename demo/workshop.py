"""Fill a bench book with an invented workshop: own glasses, two finds on loan, three bench days of torch trials, two measured tests and a blind session.

Everything goes through the door that tablets use, and every run makes the very same entries.
Times follow the order of what two grams do in a simple fuel-air torch: soft bead glass first, float glass later.
"""

from collections.abc import Iterator
from datetime import UTC, datetime
from math import exp

from demo.bench import FIRST_DAY, Bench, Heated, Tablet, setup_of, times_of
from demo.finds import FOOT, PANE, find_entries
from demo.glasses import GLASSES, OwnAnalysis
from demo.measures import measure_entries
from demo.sessions import session_entries
from server.errors import Refused
from server.store.engine import Store
from server.sync.push import Batch, push

SEED = 1041
DAYS = (FIRST_DAY, datetime(2026, 3, 11, 9, 0, tzinfo=UTC), datetime(2026, 3, 13, 9, 0, tzinfo=UTC))
BETWEEN_TRIALS_S = (420.0, 780.0)
SCATTER_OF_FINDS = 0.15
CLOCK_STEP_MS = 37_000.0


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
    blind = session_entries(Tablet(SEED + 7), keys)
    yield blind[-1]["at_ms"] + 3_600_000, blind


def fill(store: Store) -> None:
    """Put the whole workshop into a bench book; what is there already stays as it is. Raises Refused."""
    for received_ms, entries in batches():
        with store.write() as session:
            verdicts = push(session, Batch(entries=entries), received_ms)
            for verdict in verdicts:
                if verdict.verdict == "refused":
                    raise Refused(f"The invented workshop was refused: {verdict.message}", code=verdict.code)
