"""A blind session of the invented workshop: three glasses, three repeats each, float glass as the reference at the start, in the middle and at the end. The cylinder ran low, so it drifts."""

from datetime import UTC, datetime

from demo.bench import OPERATOR, Bench, Heated, Tablet, setup_of, times_of
from demo.glasses import INVENTED
from server.plan.order import runs_of

DAY = datetime(2026, 3, 20, 9, 0, tzinfo=UTC)
BLIND_SEED, REPEATS, MINUTES = "demo20", 3, 4.0
REFERENCE = Heated(17.6, 158.0, 43.0, key="modern-float", name="Modern float glass")
TRIED = (REFERENCE, Heated(14.2, 92.0, 36.0, own="bead"), Heated(16.4, 134.0, 41.0, own="natron"))
DRIFT = 0.09  # how much longer the last run takes than the first
BETWEEN_RUNS_MS = 480_000
CONDITIONS = {
    "torch": "demo torch", "nozzle": "", "fuel": "propane and air", "cylinder": "a third full", "distance_cm": 5.0, "holder": "steel rod", "room_c": 17.0,
    "light": "dim", "operator": OPERATOR,
}  # fmt: skip


def planned(heated: Heated, keys: dict[str, str]) -> dict:
    """A glass as the plan carries it."""
    setup = setup_of(heated, 2.0, keys)
    return {"key": setup["glass_key"], "name": setup["glass_name"], "piece_id": None, "piece": None, "consent": None}


def dish(tablet: Tablet, session: str, number: int, run: dict, count: int, keys: dict[str, str]) -> list[dict]:
    """One run, from the kiln to its keeping."""
    heated, start_ms = TRIED[run["glass"]], DAY.timestamp() * 1000 + 600_000 + number * BETWEEN_RUNS_MS
    bench = Bench(tablet, start_ms, tablet.new_id(int(start_ms)))
    slower = 1 + DRIFT * number / (count - 1)
    times = {stage: round(at_s * slower, 3) for stage, at_s in times_of(heated, 2.0, tablet.random, 1.0).items()}
    out_of_kiln = {**bench.stamp("kiln_out", -round(tablet.random.uniform(2.0, 3.4), 3))}
    of_session = {"session": session, "run": number, "code": run["code"], "out_of_kiln": out_of_kiln, "checked": ["weighed", "kiln"]}
    bench.start({**setup_of(heated, 2.0, keys), **of_session})
    for stage, at_s in times.items():
        bench.press(stage, at_s)
    bench.add("trial.kept", times["glow_gone"] + 4.0, {})
    return bench.entries


def session_entries(tablet: Tablet, keys: dict[str, str]) -> list[dict]:
    """The plan, its runs in their order, what changed, and the close."""
    start_ms = int(DAY.timestamp() * 1000)
    session, runs = tablet.new_id(start_ms), runs_of(BLIND_SEED, len(TRIED), REPEATS, 0)
    plan = {
        "title": f"Bead and natron glass beside float ({INVENTED})", "test": "flame", "repeats": REPEATS, "mass_g": 2.0, "preheat_c": 500.0, "minutes_each": MINUTES,
        "is_blind": True, "seed": BLIND_SEED, "reference": 0, "glasses": [planned(heated, keys) for heated in TRIED], "runs": runs, "conditions": CONDITIONS,
        "margin_percent": 20.0,
    }  # fmt: skip
    told = [tablet.entry("plan.made", session, 0, start_ms, plan), tablet.entry("plan.unblinded", session, 1, start_ms + 60_000, {"what": "list", "why": "laid out by a second hand"})]
    for number, run in enumerate(runs):
        told += dish(tablet, session, number, run, len(runs), keys)
    changed = {"conditions": {**CONDITIONS, "cylinder": "nearly empty"}, "why": ""}
    end_ms = told[-1]["at_ms"] + 60_000
    return [*told, tablet.entry("plan.conditions", session, 2, end_ms, changed), tablet.entry("plan.closed", session, 3, end_ms + 60_000, {"why": ""})]
