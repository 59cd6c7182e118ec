"""How the runs of a session stand is told by the tablet and by the desk: the same entries give the same states in a real browser and in Python."""

import random

from server.measure import log as measure_log
from server.plan import log as plan
from server.plan.said import said_of_conditions
from server.session.queue import session_from
from server.session.tested import state_of_tests
from server.settle.differences import of_session
from server.trial import log
from tests.entries import WALL_0, entry, new_id, whole_trial
from tests.measured import start
from tests.unit.session.test_queue import CONDITIONS, SESSION, board, made

WORDS = {"to come": "waiting", "left out": "skipped", "abandoned": "stopped", "ready": "running", "done": "done"}
IN_PAGE = """async (histories) => {
  const base = document.querySelector("script[src$='trial/bench.js']").src.replace("trial/bench.js", "");
  const { sessionFrom } = await import(base + "plan/session.js");
  return histories.map(([entries, tests]) => {
    const { runs, next, isOpen, isCovered, conditions, unsettled } = sessionFrom(entries, tests);
    return { states: runs.map(({ state }) => state), next, isOpen, isCovered, holder: conditions.holder, unsettled };
  });
}"""


def history(seed: int) -> tuple[list[dict], list[dict], list[dict]]:
    """(entries of a session, of its trials, of its measured tests): begun, stopped, kept, left out, reopened, uncovered, closed, conditions changed, in some order, on devices that have heard of each other or not."""
    dice = random.Random(seed)
    told, trials, tests = [made(is_blind=dice.random() < 0.5)], [], []
    for n in range(1, dice.randrange(2, 9)):
        run, at_ms = dice.randrange(3), WALL_0 + 1000 * n
        act = dice.choice(("trial", "stopped", "board", "plan.skipped", "plan.done", "plan.reopened", "plan.unblinded", "plan.closed", "plan.conditions"))
        if act in ("trial", "stopped"):
            whole = whole_trial(new_id(), session=SESSION, run=run, code="AA")
            trials += whole if act == "trial" else [*whole[:-1], entry("trial.abandoned", whole[0]["subject"], 5, {"reason": "cracked"}, at_ms)]
        elif act == "board":
            first = start("fuse", new_id(), **board((run, "AK", "A", "a1")))
            ends = {"kept": {}, "abandoned": {"reason": "it fell"}, "": None}
            end = dice.choice(list(ends))
            tests += [first, entry(f"measure.{end}", first["subject"], 1, ends[end], at_ms)] if end else [first]
        else:
            body = {"plan.unblinded": {"what": dice.choice(("list", "all")), "why": ""}, "plan.closed": {"why": ""}}.get(act) or heard(dice, told, act, run)
            told.append(entry(act, SESSION, n, body, at_ms))
    return told, trials, tests


def heard(dice: random.Random, told: list[dict], act: str, run: int) -> dict:
    """A statement of a run or of the conditions: after all, some or none of those before it, or by an older Isokom that says nothing of it."""
    own = {"conditions": {**CONDITIONS, "holder": dice.choice(("tongs", "wire"))}} if act == "plan.conditions" else {"run": run}
    over = [e["id"] for e in told if e["kind"].split(".")[1] in ("conditions", "skipped", "done", "reopened") and dice.random() < 0.5]
    return {**own, "why": ""} | dice.choice(({}, {"over": over}, {"over": []}))


def at_the_desk(store, told: list[dict], trials: list[dict], tests: list[dict]) -> tuple[list, dict]:
    """([the entries and tests that a tablet is told], what the desk says); nothing of it is kept."""
    with store.write() as session:
        for accept, entries in ((plan.accept, told), (log.accept, trials), (measure_log.accept, tests)):
            for raw in entries:
                accept(session, raw, 1)
        known, entries = state_of_tests(session), plan.entries_of(session, SESSION)
        found = session_from(entries, log.of_session(session, SESSION), measure_log.of_session(session, SESSION), {test["id"]: test["newest"] for test in known})
        session.rollback()
    states = [WORDS.get(run.state, run.state) for run in found.runs]
    waiting = [i for word in ("running", "waiting") for i, state in enumerate(states) if state == word]
    changed = said_of_conditions(entries)
    matters = [one.matter for one in of_session(entries, {i for i, state in enumerate(states) if state == "kept"})]
    unsettled = ["conditions" if matter == "Torch and room" else matter.removeprefix("Dish ") for matter in matters]
    holder = changed[-1]["body"]["conditions"]["holder"] if changed else CONDITIONS["holder"]
    standing = {"isOpen": found.is_open, "isCovered": found.is_covered, "holder": holder, "unsettled": unsettled}
    return [entries, known], {"states": states, "next": waiting[0] if waiting and found.is_open else None, **standing}


def test_page_and_desk_say_the_same_of_every_run(live_server, browser_context, store):
    page = browser_context().new_page()
    page.goto(f"{live_server.url}/bench")
    pairs = [at_the_desk(store, *history(seed)) for seed in range(200)]
    found = page.evaluate(IN_PAGE, [given for given, _said in pairs])
    for seed, (told, (_given, said)) in enumerate(zip(found, pairs, strict=True)):
        assert {**told, "unsettled": sorted(told["unsettled"])} == {**said, "unsettled": sorted(said["unsettled"])}, seed
    seen = {state for _given, said in pairs for state in said["states"]}
    assert seen == {"waiting", "running", "kept", "stopped", "skipped", "done"}
    assert len({matter for _given, said in pairs for matter in said["unsettled"]}) == 4  # each dish, and torch and room
