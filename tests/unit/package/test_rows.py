"""Rows of the tables of tests and sessions: every press as it was made, times as the bench tells them, readings whole."""

import pytest

from server.package import rows
from server.package.gather import gather
from server.package.tables import columns
from tests.entries import WALL_0, entry, pressed, stamp, started
from tests.packages import CHILD, OWN, SESSION, STRANGER, corrected_trial, odd_entries, put


@pytest.fixture
def book(store):
    put(store, odd_entries())
    with store.read() as session:
        return gather(session)


@pytest.mark.parametrize("name", ["trials", "presses", "sessions", "runs", "setups", "tested", "measured"])
def test_rows_have_the_columns_of_their_table(book, name):
    found = list(getattr(rows, name)(book))
    assert found and all(row.keys() == set(columns(name)) for row in found)


def test_a_trial_with_its_corrections(store):
    put(store, corrected_trial())
    with store.read() as session:
        (row,) = rows.trials(gather(session))
    assert (row["sag_s"], row["round_s"], row["out_s"], row["glow_s"], row["handling_s"]) == (14.0, 31.0, 45.0, 10.0, 2.9)
    assert (row["torch"], row["operator"], row["status"], row["flags"]) == ("=1+1", "-2", "kept", "corrected")
    assert row["corrections"] == "Out of the kiln 0.1 s later: pressed early; Sagged 0.2 s sooner: pressed late"
    assert row["left_out"] == "glow: =door open"
    assert (row["started_ms"], row["started_utc"], row["run"], row["session_id"]) == (WALL_0, "2026-09-21T14:13:20Z", None, None)


def test_every_press_as_it_was_made(store):
    put(store, corrected_trial())
    with store.read() as session:
        found = list(rows.presses(gather(session)))
    assert [(r["stage"], r["taken_back"], r["counts"], r["shift_ms"], r["shift_reason"]) for r in found] == [
        ("kiln_out", False, True, 100.0, "early"), ("flame_in", False, True, None, None), ("sagged", True, False, None, None), ("sagged", False, True, -250.0, "late"),
        ("round", False, True, None, None), ("flame_out", False, True, None, None), ("glow_gone", False, True, None, None),
    ]
    assert (found[3]["wall_ms"], found[3]["mono_ms"], found[3]["shift_text"]) == (WALL_0 + 14250, 19250, "=looked away")


def test_a_trial_whose_start_has_not_arrived_has_a_row(store):
    subject = started("018f0000-0000-7000-8000-0000000000c1")["subject"]
    put(store, [pressed(subject, 1, stamp("sagged", 5))])
    with store.read() as session:
        book = gather(session)
    (row,), (press,) = rows.trials(book), rows.presses(book)
    assert (row["status"], row["glass_name"], row["started_utc"]) == ("incomplete", None, None)
    assert (press["stage"], press["counts"]) == ("sagged", True)


def test_a_session_and_its_runs(book):
    (session,), runs = rows.sessions(book), list(rows.runs(book))
    assert (session["session_id"], session["reference"], session["room_c"], session["operator"], session["closed_ms"], session["margin_percent"]) == (SESSION, "Demo cullet", None, "=Demo hand", None, 15.0)
    assert [(r["run"], r["block"], r["is_reference"], r["glass_key"], r["piece_id"], r["state"], r["why"]) for r in runs] == [
        (1, None, True, OWN, None, "kept", ""), (2, 1, False, None, CHILD, "left out", "broken"), (3, None, True, OWN, None, "kept", ""),
    ]
    tried = {t["run"]: t["trial_id"] for t in rows.trials(book) if t["session_id"] == SESSION}
    assert {r["run"]: r["test_id"] for r in runs if r["test_id"]} == tried


def test_readings_are_whole_and_one_that_was_taken_back_says_nothing(book):
    first, second = rows.measured(book)
    assert (first["value"], first["unit"], first["readings_made"], first["letter"], first["glass_key"]) == (1.0 / 3 + 5, "mm", 1, "A", "modern-float")
    assert (second["value"], second["word"], second["readings_made"], second["letter"], second["piece_id"]) == (None, None, 2, "B", STRANGER)


def test_the_glasses_of_a_test_by_letter(book):
    assert [(row["letter"], row["glass_key"], row["piece_id"], row["mass_g"]) for row in rows.tested(book)] == [("A", "modern-float", None, None), ("B", None, STRANGER, 1.5)]


def test_the_press_at_the_kiln_stands_where_the_start_is_taken_back(store):
    told = corrected_trial()[:1]
    put(store, [*told, entry("trial.taken_back", told[0]["subject"], 1, {"entry": told[0]["id"]})])
    with store.read() as session:
        found = list(rows.presses(gather(session)))
    assert [(r["stage"], r["taken_back"], r["counts"]) for r in found] == [("kiln_out", False, True), ("flame_in", True, False)]


def test_a_setup_has_a_row_an_answer(book):
    found = {row["name"]: (row["value"], row["word"], row["unit"]) for row in rows.setups(book)}
    assert found["pull_c"] == (850.0, None, "°C") and found["pattern"] == (None, "ABA", None)
