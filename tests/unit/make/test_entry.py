"""Entries of a firing: a plan, readings, a slip, an end; and what is none."""

import pytest

from server.store import log
from server.sync.push import Batch, push
from tests.entries import WALL_0, entry, new_id

SEGMENT = {"kind": "slow", "from_c": 560.0, "to_c": 460.0, "rate_k_h": 100.0, "hold_min": 0.0, "stress_pa": 5e5, "is_by_kiln": False}
PLAN = {"glasses": [{"key": "demo", "name": "Demo rod"}], "shape": "bead", "size_mm": 12.0, "soak_c": 560.0, "open_c": 160.0, "segments": [SEGMENT]}


def test_a_firing_is_kept_once_in_its_order(store):
    number = new_id()
    read = entry("firing.read", number, 1, {"t_c": 540.5}, WALL_0 + 5)
    told = [
        entry("firing.started", number, 0, PLAN, WALL_0), entry("firing.begun", number, 4, {"ago_min": 45}, WALL_0 + 1), read, entry("firing.read", number, 5, {"t_c": 300, "ago_min": 90}, WALL_0 + 6), entry("firing.taken_back", number, 2, {"entry": read["id"]}, WALL_0 + 6),
        entry("firing.ended", number, 3, {"outcome": "cracked", "note": "invented"}, WALL_0 + 7),
    ]
    with store.write() as session:
        assert [one.verdict for one in push(session, Batch(entries=told), 1)] == ["stored"] * 6
        assert [one.verdict for one in push(session, Batch(entries=told), 2)] == ["same"] * 6
        kept = log.entries(session, "firing", subject=number)
        assert sorted(e["kind"] for e in kept) == ["firing.begun", "firing.ended", "firing.read", "firing.read", "firing.started", "firing.taken_back"]
        assert [e["body"] for e in kept if e["kind"] == "firing.read"] == [{"t_c": 540.5}, {"t_c": 300, "ago_min": 90}]


@pytest.mark.parametrize(("kind", "body"), [
    ("firing.started", {**PLAN, "glasses": []}), ("firing.started", {**PLAN, "segments": []}), ("firing.started", {**PLAN, "shape": "vase"}), ("firing.started", {**PLAN, "segments": [{**SEGMENT, "rate_k_h": 0.0}]}),
    ("firing.started", {**PLAN, "size_mm": 0.1}), ("firing.read", {"t_c": 9000.0}), ("firing.read", {"t_c": None}), ("firing.taken_back", {"entry": "that one"}), ("firing.ended", {"outcome": "lost", "note": ""}), ("firing.begun", PLAN), ("firing.begun", {"ago_min": 0}), ("firing.read", {"t_c": 20.0, "ago_min": -5}), ("firing.kindled", PLAN),
])
def test_what_is_no_entry_of_a_firing_is_refused(store, kind, body):
    with store.write() as session:
        [told] = push(session, Batch(entries=[entry(kind, new_id(), 0, body, WALL_0)]), 1)
    assert told.verdict == "refused"
