"""Times of a trial against examples worked by hand."""

import random
import uuid

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.store.once import digest
from server.trial.log import read_entry
from server.trial.results import corrections, why_left_out
from server.trial.timing import Press, elapsed, trial_from
from tests.entries import OTHER_PAGE, PAGE, STAGES, entry, new_id, pressed, stamp, started, whole_trial

# wall ms and mono ms between two presses, same page?, hidden? -> seconds, flags. Worked by hand from the clock rule.
BY_HAND = [
    (14_200, 14_200, True, False, 14.2, ()),
    (14_200, 14_000, True, False, 14.0, ()),
    (14_201, 14_000, True, False, 14.0, ("clock_set",)),
    (14_201, 14_000, True, True, 14.201, ("screen_slept",)),
    (14_000, 14_201, True, True, 14.201, ("clock_set",)),
    (60_000, 14_000, True, True, 60.0, ("screen_slept",)),
    (-3_586_000, 14_000, True, False, 14.0, ("clock_set",)),
    (14_200, -90_000, False, False, 14.2, ("across_reload",)),
    (-1, 14_000, False, True, None, ("across_reload", "clock_set_back")),
    (0, 0, False, False, 0.0, ("across_reload",)),
]


@pytest.mark.parametrize(("wall", "mono", "same", "hidden", "want_s", "want_flags"), BY_HAND)
def test_time_between_two_presses(wall, mono, same, hidden, want_s, want_flags):
    first = Press("a", 0, "flame_in", 1_000_000.0, 100_000.0, PAGE, False)
    second = Press("b", 1, "sagged", 1_000_000.0 + wall, 100_000.0 + mono, PAGE if same else OTHER_PAGE, hidden)
    span = elapsed(first, second, hidden)
    assert (span.seconds, span.flags) == (want_s, want_flags)


def test_a_whole_trial_has_the_times_read_off_its_presses():
    trial = trial_from(whole_trial(at_s=(0, 14.25, 31.0, 45.5, 55.75)))
    assert trial.status == "kept"
    assert {name: span.seconds for name, span in trial.spans.items()} == {"sag": 14.25, "round": 31.0, "out": 45.5, "glow": 10.25}
    assert trial.flags == ()


def test_a_press_taken_back_gives_way_to_the_next_one():
    subject = str(uuid.uuid4())
    slip = pressed(subject, 1, stamp("sagged", 2))
    entries = [started(subject), slip, entry("trial.taken_back", subject, 2, {"entry": slip["id"]}), pressed(subject, 3, stamp("sagged", 15))]
    trial = trial_from(entries)
    assert trial.spans["sag"].seconds == 15.0
    assert (trial.status, trial.flags, trial.taken_back) == ("running", (), frozenset({slip["id"]}))


def test_sleep_told_by_a_press_taken_back_is_not_forgotten():
    subject = str(uuid.uuid4())
    slip = pressed(subject, 1, stamp("sagged", 40, 10, was_hidden=True))
    entries = [started(subject), slip, entry("trial.taken_back", subject, 2, {"entry": slip["id"]}), pressed(subject, 3, stamp("sagged", 45, 15))]
    assert trial_from(entries).spans["sag"] == elapsed(*(trial_from(entries).presses[s] for s in ("flame_in", "sagged")), True)
    assert trial_from(entries).spans["sag"].seconds == 45.0


def test_taking_back_the_start_makes_the_trial_ready_again_and_a_new_start_counts():
    subject = str(uuid.uuid4())
    first = started(subject)
    entries = [first, entry("trial.taken_back", subject, 1, {"entry": first["id"]})]
    assert trial_from(entries).status == "ready"
    entries += [started(subject, 2, stamp("flame_in", 100), mass_g=3.0), pressed(subject, 3, stamp("sagged", 112))]
    trial = trial_from(entries)
    assert (trial.status, trial.spans["sag"].seconds, trial.setup["mass_g"]) == ("running", 12.0, 3.0)


@pytest.mark.parametrize("order", [("sagged", "round", "round"), ("round", "sagged"), ("round",), ("sagged", "flame_out")])
def test_presses_out_of_order_are_flagged_and_kept(order):
    subject = str(uuid.uuid4())
    entries = [started(subject), *(pressed(subject, n + 1, stamp(stage, 10 * (n + 1))) for n, stage in enumerate(order))]
    trial = trial_from(entries)
    assert trial.flags == ("out_of_order",)
    assert set(trial.presses) == {"flame_in", *order}
    assert trial.status == "incomplete"


def test_a_press_before_its_start_waits_for_it():
    subject = str(uuid.uuid4())
    press = pressed(subject, 1, stamp("sagged", 14))
    assert trial_from([press]).status == "incomplete"
    assert trial_from([press, started(subject)]).status == "running"


def test_kept_with_presses_missing_is_incomplete_until_they_arrive():
    entries = whole_trial()
    without_glow = [e for e in entries if e["body"].get("stage") != "glow_gone"]
    assert trial_from(without_glow).status == "incomplete"
    assert trial_from(entries).status == "kept"


def test_stopped_trials_say_why_and_keep_their_times():
    subject = str(uuid.uuid4())
    entries = [started(subject), pressed(subject, 1, stamp("sagged", 14)), entry("trial.abandoned", subject, 2, {"reason": "cracked"})]
    trial = trial_from(entries)
    assert (trial.status, trial.reason, trial.spans["sag"].seconds) == ("abandoned", "cracked", 14.0)


def made_history(seed: int) -> list[dict]:
    """Some history that a tablet may have made: presses, slips taken back, notes, reloads, sleep."""
    dice, subject, entries, stage, now = random.Random(seed), str(uuid.uuid4()), [], 0, 0.0
    while len(entries) < 12 and stage < len(STAGES):
        now += dice.uniform(1, 20)
        press = stamp(STAGES[stage], now, now + dice.choice((0, 0, 5, -5)), dice.choice((PAGE, OTHER_PAGE)), dice.random() < 0.3)
        kiln = {"out_of_kiln": stamp("kiln_out", now - 3, now - 3)} if dice.random() < 0.5 else {}
        entries.append(started(subject, len(entries), press, **kiln) if stage == 0 else pressed(subject, len(entries), press))
        stage += 1
        if dice.random() < 0.25:
            entries.append(entry("trial.taken_back", subject, len(entries), {"entry": entries[-1]["id"]}))
            stage -= 1
        if dice.random() < 0.15:
            moved = dice.choice(entries)
            at_the_kiln = {"stage": "kiln_out"} if moved["kind"] == "trial.started" and dice.random() < 0.5 else {}
            entries.append(entry("trial.corrected", subject, len(entries), {"entry": moved["id"], "shift_ms": dice.choice((-1500.0, 500.0, 0.0)), "reason": "late", **at_the_kiln}))
        if dice.random() < 0.1:
            entries.append(entry("trial.noted", subject, len(entries), {"text": f"remark {len(entries)}"}))
    return entries


@settings(max_examples=150, deadline=None)
@given(seed=st.integers(0, 10_000), data=st.data())
def test_order_and_repetition_of_arrival_do_not_matter(seed, data):
    entries = made_history(seed)
    arrived = data.draw(st.permutations(entries + data.draw(st.lists(st.sampled_from(entries), max_size=6))))
    assert trial_from(arrived) == trial_from(entries)


@settings(max_examples=60, deadline=None)
@given(gaps=st.lists(st.integers(600, 120_000), min_size=4, max_size=4))
def test_undisturbed_times_are_the_sums_of_the_gaps(gaps):
    at_ms = [0, gaps[0], sum(gaps[:2]), sum(gaps[:3]), sum(gaps)]
    trial = trial_from(whole_trial(at_s=[ms / 1000 for ms in at_ms]))
    found = {name: round(span.seconds * 1000) for name, span in trial.spans.items()}
    assert found == {"sag": gaps[0], "round": gaps[0] + gaps[1], "out": sum(gaps[:3]), "glow": gaps[3]}


def test_a_correction_moves_a_press_and_says_so():
    entries = whole_trial(at_s=(0, 10, 21.5, 30, 40))
    late = next(e for e in entries if e["body"].get("stage") == "round")
    told = entry("trial.corrected", entries[0]["subject"], 6, {"entry": late["id"], "shift_ms": -1500.0, "reason": "late"})
    trial = trial_from([*entries, told])
    assert (trial.spans["round"].seconds, trial.spans["round"].flags, trial.spans["sag"].flags, trial.flags) == (20.0, ("corrected",), (), ("corrected",))
    again = entry("trial.corrected", entries[0]["subject"], 7, {"entry": late["id"], "shift_ms": 0.0, "reason": "slip"})
    assert trial_from([*entries, told, again]).spans["round"].seconds == 21.5
    assert read_entry(told).body.text == ""


def test_the_way_from_kiln_to_flame_is_timed():
    kiln = {**stamp("flame_in", -4.25), "stage": "kiln_out"}
    trial = trial_from(whole_trial(out_of_kiln=kiln, session=str(uuid.uuid4()), run=3, code="KR", checked=["kiln"]))
    assert read_entry(started(str(uuid.uuid4()), out_of_kiln=kiln, checked=["weighed", "kiln"])).body.checked == ["weighed", "kiln"]
    assert trial.spans["handling"].seconds == 4.25 and trial.status == "kept"


def test_the_press_at_the_kiln_is_corrected_apart_from_that_into_the_flame():
    entries = whole_trial(at_s=(0, 10, 20, 30, 40), out_of_kiln=stamp("kiln_out", -4.25))
    start, subject = entries[0]["id"], entries[0]["subject"]
    at_kiln = entry("trial.corrected", subject, 6, {"entry": start, "shift_ms": -750.0, "reason": "late", "stage": "kiln_out"})
    at_flame = entry("trial.corrected", subject, 7, {"entry": start, "shift_ms": 500.0, "reason": "early"})
    trial = trial_from([*entries, at_kiln])
    assert (trial.spans["handling"].seconds, trial.spans["handling"].flags, trial.spans["sag"].seconds, trial.spans["sag"].flags) == (5.0, ("corrected",), 10.0, ())
    assert corrections(trial) == ["Out of the kiln 0.8 s sooner: pressed late"]
    trial = trial_from([*entries, at_kiln, at_flame])
    assert (trial.spans["handling"].seconds, trial.spans["sag"].seconds, trial.corrections) == (5.5, 9.5, (("kiln_out", -750.0, "late"), ("flame_in", 500.0, "early")))
    assert "stage" not in read_entry(at_flame).body.model_dump() and read_entry(at_kiln).body.stage == "kiln_out"


def test_an_older_start_keeps_its_seal():
    """What was added later is left out of the seal where it says nothing: 64 signs worked out before the addition."""
    old = {**started("018f0000-0000-7000-8000-0000000000e1"), "id": "01990000-0001-7000-8000-000000000001"}
    assert digest(read_entry(old)) == "701406bbecb2f67e2e9ec34e0be9bffab6823d938e90f3bfec15ddb2fd5cc055"
    assert digest(read_entry({**old, "body": {**old["body"], "session": str(uuid.uuid4()), "run": 0, "code": "KR"}})) != digest(read_entry(old))


def test_ids_made_for_these_tests_are_distinct():
    assert len({new_id() for _ in range(1000)}) == 1000


def test_a_time_is_left_out_with_a_reason_and_taken_in_again_by_whoever_says_so_last():
    entries = whole_trial()
    subject, at_ms = entries[0]["subject"], entries[0]["at_ms"]
    said = [
        entry("trial.left_out", subject, 0, {"lane": "all", "why": "a draught"}, at_ms + 90_000, device=OTHER_PAGE),
        entry("trial.taken_in", subject, 0, {"lane": "sag"}, at_ms + 95_000),
        entry("trial.left_out", subject, 1, {"lane": "round", "why": "looked away"}, at_ms + 99_000, device=OTHER_PAGE),
    ]
    trial = trial_from([*said[::-1], *entries])
    assert trial.left_out == (("glow", "a draught"), ("round", "looked away")) and trial.status == "kept" and trial.device == entries[0]["device"]
    assert [why_left_out(trial, lane) for lane in ("sag", "round", "glow")] == [None, "left out by hand: looked away", "left out by hand: a draught"]
    assert read_entry(said[0]).body.why == "a draught"
