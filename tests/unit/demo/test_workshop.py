"""The demo's workshop: real entries, all accepted, plainly invented, the same on every run, plausible beside the outside facts."""

import uuid

from sqlalchemy import text

from demo.workshop import batches, fill
from server.find import log as find_log
from server.glass import own
from server.measure import log as measure_log
from server.measure import words
from server.measure.reckon import reckoned
from server.plan import log as plan
from server.session.queue import session_from
from server.sync.push import Batch, push
from server.trial import log, results
from tests.client import Client

UUID7_VARIANT = "specified in RFC 4122"
# What craft pages and heat balances give for about two grams in a simple torch, s. Single pieces scatter about them.
SAG_S, ROUND_S, GLOW_S = (10, 40), (55, 260), (22, 80)


def trials_of(store) -> list:
    with store.read() as session:
        return log.trials(session)


def test_every_entry_is_stored_through_the_door_of_the_tablets(store):
    sent = [entry for _, entries in batches() for entry in entries]
    for received_ms, entries in batches():
        with store.write() as session:
            verdicts = push(session, Batch(entries=entries), received_ms)
        assert [v.verdict for v in verdicts] == ["stored"] * len(entries)
    with store.read() as session:
        rows = session.execute(text("SELECT (SELECT count(*) FROM trial_entry) + (SELECT count(*) FROM own_glass) + (SELECT count(*) FROM bench_entry)")).scalar()
    assert rows == len(sent) > 200


def test_filling_twice_changes_nothing(store):
    def dump() -> list[str]:
        with store.read() as session:
            return list(session.connection().connection.dbapi_connection.iterdump())

    fill(store)
    before = dump()
    fill(store)
    assert dump() == before
    assert any("trial_entry" in line for line in before)


def test_ids_are_of_version_7_and_none_comes_twice():
    entries = [entry for _, entries in batches() for entry in entries]
    ids = [entry["id"] for entry in entries]
    assert len(set(ids)) == len(ids)
    for entry in entries:
        read = uuid.UUID(entry["id"])
        assert (read.version, read.variant, read.int >> 80) == (7, UUID7_VARIANT, entry["at_ms"])


def test_each_trial_has_a_status_and_the_odd_ones_are_there(store):
    fill(store)
    trials = trials_of(store)
    assert 44 <= len(trials) <= 54
    statuses = [trial.status for trial in trials]
    assert set(statuses) == {"kept", "abandoned", "done"}
    assert [trial.reason for trial in trials if trial.reason] == ["cracked"]
    assert [trial.flags for trial in trials if trial.flags] == [("clock_set",)]
    assert sum(bool(trial.taken_back) for trial in trials) == 3
    assert sum(bool(trial.notes) for trial in trials) >= 4


def test_trials_lie_on_four_days_of_march_2026(store):
    fill(store)
    with store.read() as session:
        days = session.execute(text("SELECT DISTINCT date(at_ms / 1000, 'unixepoch') FROM trial_entry ORDER BY 1")).scalars().all()
    assert days == ["2026-03-10", "2026-03-11", "2026-03-13", "2026-03-20"]


def test_what_a_person_sees_says_that_it_is_invented(store):
    fill(store)
    with store.read() as session:
        glasses = own.all_glasses(session)
    assert len(glasses) == 4
    for glass in glasses:
        assert "invented" in glass.name and "Invented" in glass.note and "invented" in glass.region
    catalogued = 0
    for trial in trials_of(store):
        assert trial.setup["operator"].startswith("Demo")
        if trial.setup["glass_key"] == "modern-float":
            catalogued += 1
        else:
            assert "invented" in trial.name
    assert 0 < catalogued < 16


def test_a_find_is_heated_with_consent_only(store):
    fill(store)
    finds = [trial.setup for trial in trials_of(store) if trial.setup["piece"]]
    assert len(finds) == 6
    assert all(setup["consent"] is True and setup["keeper"] for setup in finds)


def test_keys_are_those_that_a_tablet_chooses_from(app):
    fill(app.state.store)
    client = Client(app)
    keys = {trial.setup["glass_key"] for trial in trials_of(app.state.store)} - {None}
    assert len(keys) == 4
    assert keys < {glass["key"] for glass in client.get("/glass/names.json").json()}
    assert {client.get(f"/results/glass/{key}").status_code for key in keys} == {200}


def test_times_are_like_those_of_two_grams_at_a_torch(store):
    fill(store)
    kept = [trial for trial in trials_of(store) if trial.status == "kept"]
    for trial in kept:
        for lane, (low_s, high_s) in {"sag": SAG_S, "round": ROUND_S, "glow": GLOW_S}.items():
            assert low_s < trial.spans[lane].seconds < high_s, (trial.name, lane)


def test_soft_bead_glass_comes_before_float_glass(store):
    fill(store)
    with store.read() as session:
        named = log.glasses(session)
        found = {name: results.lanes_of(log.trials(session, key)) for key, name in named}
    bead = next(lanes for name, lanes in found.items() if "bead" in name)
    floated = next(lanes for name, lanes in found.items() if "float" in name)
    for lane in ("sag", "round"):
        assert bead[lane].median_s < floated[lane].median_s
        assert bead[lane].count >= 7


def test_a_pull_and_a_fuse_test_stand_finished_among_the_results(app):
    fill(app.state.store)
    with app.state.store.read() as session:
        fused, pulled = measure_log.all_measured(session)
        made = [reckoned(session, one) for one in (pulled, fused)]
    assert [(one.test, one.status, one.strays) for one in (pulled, fused)] == [("pull", "kept", 0), ("fuse", "kept", 0)]
    for one in (pulled, fused):
        assert "invented" in words.name_of(one) and one.operator.startswith("Demo") and "Invented" in one.notes[0]
    for told in made:
        assert told.refused is None and told.lanes and told.cautions == ()
        lane = told.lanes[0]
        assert lane.low95 < lane.low68 < lane.value < lane.high68 < lane.high95
    # Both tests hold the same natron glass against float glass, so they must not contradict each other: once as A ÷ B, once as B ÷ A.
    pull_lane, fuse_lane = (told.lanes[0] for told in made)
    assert max(1 / pull_lane.high95, fuse_lane.low95) < min(1 / pull_lane.low95, fuse_lane.high95)
    assert pull_lane.low68 > 1 > fuse_lane.high68  # 16 % of soda make it the softer one: common knowledge, no source
    page = Client(app).get("/results/measures").text
    assert "2 measured tests: 2 kept." in page and "Pulls, threads, fusings and strips measured at the bench" not in page


def test_a_blind_session_stands_closed_with_the_drift_of_its_reference(store):
    fill(store)
    with store.read() as session:
        [number] = {trial.setup["session"] for trial in log.trials(session) if trial.setup.get("session")}
        made = session_from(plan.entries_of(session, number), log.of_session(session, number), {}, {})
    assert made.plan["is_blind"] and not made.is_open and [run.state for run in made.runs] == ["kept"] * 9
    assert "invented" in made.plan["title"] and made.drift.startswith("The reference was round after") and "slower" in made.drift
    assert all(1.5 < run.trial.spans["handling"].seconds < 4 for run in made.runs)
    assert [what for _at, what, _why in made.uncovered] == ["list"] and len(made.changes) == 1


def test_what_the_fuse_test_used_up_stands_in_the_ledger(store):
    fill(store)
    with store.read() as session:
        [fused] = [one for one in measure_log.all_measured(session) if one.test == "fuse"]
        found = find_log.finds(session)
    glass = fused.glasses[1]
    assert words.mass_gaps(fused) == [] and glass["mass_g"] > 0
    [piece] = [piece for piece in found.pieces if piece.id == glass["piece_id"]]
    [use] = [row for row in piece.rows if row.act == "used" and row.trial == fused.id]
    assert (use.mass_g, use.test) == (glass["mass_g"], "fuse") and piece.left_g > 0
    [find] = [find for find in found.finds if find.id == piece.facts["find"]]
    assert find.consent["state"] == "given" and "fuse" in find.consent["tests"]
