"""Entries of a session, its reading at the desk, and the cover of a blind one."""

import pytest

from server.errors import Missing, Refused
from server.measure import log as measure_log
from server.plan import log as plan
from server.plan.order import runs_of
from server.session.queue import session_from
from server.session.tested import state_of_tests
from server.trial import log
from tests.entries import entry, whole_trial
from tests.measured import start, whole

SESSION = "018f0000-0000-7000-8000-0000000000f1"
CONDITIONS = {"torch": "invented hand torch", "nozzle": "", "fuel": "propane", "cylinder": "half full", "distance_cm": 3.0, "holder": "", "room_c": 18.0, "light": "dim", "operator": ""}
GLASS = {"key": "demo-rubin", "name": "Demo Rubin rod", "piece_id": None, "piece": None, "consent": None}


def made(**change) -> dict:
    glasses = change.pop("glasses", [GLASS, {**GLASS, "key": None, "name": "Demo Opal rod"}])
    body = {
        "title": "Demo session (invented)", "test": "flame", "repeats": 1, "mass_g": 2.0, "preheat_c": 500.0, "minutes_each": 4.0, "is_blind": True, "seed": "thrush", "reference": 0,
        "glasses": glasses, "runs": runs_of("thrush", len(glasses), 1, 0), "conditions": CONDITIONS, **change,
    }
    return entry("plan.made", SESSION, 0, body)


def newest_of(session) -> dict[str, str]:
    return {test["id"]: test["newest"] for test in state_of_tests(session)}


def trial_of(run: int, round_s: float, code: str = "AA", **more) -> list[dict]:
    return whole_trial(at_s=(0, round_s / 2, round_s, round_s + 5, round_s + 12), session=SESSION, run=run, code=code, **more)


@pytest.mark.parametrize(("change", "why"), [
    ({"seed": "other"}, "not the one that the seed gives"), ({"reference": 2}, "none of the glasses"), ({"repeats": 0}, "repeats"), ({"glasses": [{**GLASS, "piece": "MF 3", "consent": None}]}, "keeper has agreed"),
    ({"glasses": [{**GLASS, "name": " "}]}, "no name"), ({"conditions": {**CONDITIONS, "more": 1}}, "more"), ({"repeats": 30, "glasses": [GLASS] * 20}, "more than 300"),
])
def test_a_plan_that_cannot_be_is_refused(store, change, why):
    raw = made()
    raw["body"].update(change)
    with store.write() as session, pytest.raises(Refused, match=why):
        plan.accept(session, raw, 1)


def test_a_session_tells_its_runs_and_the_drift_of_its_reference(store):
    told = [made(is_blind=False), entry("plan.skipped", SESSION, 1, {"run": 1, "why": "broken"})]
    trials = [*trial_of(0, 20.0), *trial_of(2, 22.0)]
    with store.write() as session:
        for raw in told:
            plan.accept(session, raw, 1)
        for raw in trials:
            log.accept(session, raw, 1)
        found = session_from(plan.entries_of(session, SESSION), log.of_session(session, SESSION), measure_log.of_session(session, SESSION), newest_of(session))
    assert [run.state for run in found.runs] == ["kept", "left out", "kept"] and found.runs[1].why == "broken"
    assert found.drift == "The reference was round after 20.0, then 22.0 s: 10 % slower at the end."
    assert found.runs[0].name == "Demo Rubin rod"


def test_a_blind_session_is_covered_until_it_is_closed_or_uncovered(store):
    with store.write() as session:
        plan.accept(session, made(), 1)
        for raw in trial_of(0, 20.0, code="KR"):
            log.accept(session, raw, 1)
        assert [(t.name, t.spans, t.status) for t in log.trials(session)] == [("Dish KR", {}, "covered")]
        assert log.trials(session, glass_key="demo-rubin") == []
        seen = session_from(plan.entries_of(session, SESSION), log.of_session(session, SESSION), measure_log.of_session(session, SESSION), newest_of(session))
        assert seen.is_covered and {run.name for run in seen.runs} == {None} and all(run.trial is None for run in seen.runs)
        plan.accept(session, entry("plan.unblinded", SESSION, 1, {"what": "list", "why": ""}), 1)
        assert log.trials(session)[0].status == "covered"
        plan.accept(session, entry("plan.closed", SESSION, 2, {"why": ""}), 1)
        assert [(t.name, t.spans["round"].seconds) for t in log.trials(session, glass_key="demo-rubin")] == [("Demo Rubin rod", 20.0)]


def test_a_session_that_never_arrived_is_missing(store):
    with store.read() as session, pytest.raises(Missing):
        plan.entries_of(session, SESSION)


def board(*dishes: tuple[int, str, str, str]) -> dict:
    return {"session": SESSION, "dishes": [dict(zip(("run", "code", "letter", "place"), dish, strict=True)) for dish in dishes]}


def test_measured_tests_are_runs_of_their_session_and_covered_with_it(store):
    """Two runs lie on one board, the third was begun and stopped; while it is blind nothing of them is told anywhere."""
    fused, stopped = whole("fuse", **board((0, "AK", "A", "a1"), (1, "CD", "B", "c1"))), start("fuse", **board((2, "EF", "A", "a1")))
    with store.write() as session:
        plan.accept(session, made(test="fuse"), 1)
        for raw in (*fused, stopped, entry("measure.abandoned", stopped["subject"], 1, {"reason": "it fell"})):
            measure_log.accept(session, raw, 1)
        told = measure_log.all_measured(session)
        assert {t.status for t in told} == {"covered"} and {g["name"] for t in told for g in t.glasses} == {"2 dishes", "dish EF"}
        assert all((t.title, t.setup, t.readings, t.history, t.notes, t.photos, t.reason) == ("", {}, {}, {}, (), (), None) for t in told)
        seen = session_from(plan.entries_of(session, SESSION), {}, measure_log.of_session(session, SESSION), newest_of(session))
        assert [(run.state, run.name, run.measured) for run in seen.runs] == [("kept", None, None), ("kept", None, None), ("stopped", None, None)]
        plan.accept(session, entry("plan.closed", SESSION, 1, {"why": ""}), 1)
        assert {t.status for t in measure_log.all_measured(session)} == {"kept", "stopped"}
        seen = session_from(plan.entries_of(session, SESSION), {}, measure_log.of_session(session, SESSION), newest_of(session))
        assert [run.measured.id for run in seen.runs[:2]] == [fused[0]["subject"]] * 2 and seen.runs[2].measured.reason == "it fell"


def test_a_measured_test_whose_session_has_not_arrived_is_covered(store):
    first = start("pull", **board((0, "AK", "B", "")))
    with store.write() as session:
        measure_log.accept(session, first, 1)
        assert [t.status for t in measure_log.all_measured(session)] == ["covered"]
        plan.accept(session, made(test="pull", is_blind=False), 1)
        assert [(t.status, t.code_at("2")) for t in measure_log.all_measured(session)] == [("running", "AK")]


def test_the_board_of_a_session_holds_what_its_dishes_say():
    laid = measure_log.measured_from([start("fuse", **board((0, "AK", "A", "a1"), (1, "CD", "B", "c1")))])
    assert laid.readings == {("a1", "glass"): "A", ("c1", "glass"): "B"} and (laid.letter_at("c1"), laid.code_at("c1"), laid.code_at("b2")) == ("B", "CD", "")


def test_what_was_said_of_a_run_later_than_its_test_goes_before_it(store):
    """Stopped, to be done after all, done elsewhere; and a test that is kept stays kept whatever is said."""
    stopped, kept = start("pull", **board((0, "AK", "B", ""))), whole("pull", **board((1, "CD", "B", "")))
    with store.write() as session:
        plan.accept(session, made(test="pull"), 1)
        for raw in (stopped, entry("measure.abandoned", stopped["subject"], 1, {"reason": "it fell"}), *kept):
            measure_log.accept(session, raw, 1)

        def states() -> list[str]:
            return [run.state for run in session_from(plan.entries_of(session, SESSION), {}, measure_log.of_session(session, SESSION), newest_of(session)).runs]

        assert states() == ["stopped", "kept", "to come"]
        for n, (kind, run) in enumerate((("plan.reopened", 0), ("plan.done", 0), ("plan.skipped", 1)), 1):
            plan.accept(session, entry(kind, SESSION, n, {"run": run, "why": ""}), 1)
        assert states() == ["done", "kept", "to come"]
        told = {test["id"]: test for test in state_of_tests(session)}
        assert (told[stopped["subject"]]["status"], told[kept[0]["subject"]]["status"], told[kept[0]["subject"]]["runs"]) == ("stopped", "kept", [1])
        assert set(told[stopped["subject"]]["body"]) == {"session", "test", "glasses"}  # nothing that was read, and no name
