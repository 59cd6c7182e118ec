"""Entries of a package go through the door of the tablets, many at a time, and one bad entry never stops its neighbours."""

from server.package.bring import SHOWN, Brought, bring
from server.package.reading import Row
from tests.entries import whole_trial
from tests.packages import odd_entries, packed, put, told_in


def as_rows(told: list) -> list[Row]:
    return [Row(line, one if isinstance(one, dict) else None, "" if isinstance(one, dict) else one) for line, one in enumerate(told, 1)]


def test_stored_then_here_already(store):
    told = odd_entries()
    assert bring(store, as_rows(told), 5) == Brought(len(told), 0, [], [], 0)
    assert bring(store, as_rows(told), 6) == Brought(0, len(told), [], [], 0)


def test_one_bad_entry_stops_none(store):
    good = whole_trial()
    put(store, good[:1])
    differs = {**good[0], "body": {**good[0]["body"], "mass_g": 3.0}}
    unknown = {**good[1], "kind": "star.gazed"}
    found = bring(store, as_rows([differs, "Row 2 is no entry.", unknown, *good, {**good[1], "n": -1}]), 5)
    assert (found.stored, found.same, found.refused_count) == (5, 1, 4)
    assert [(line, kind) for line, kind, _why in found.refused] == [(1, "trial.started"), (2, ""), (3, "star.gazed"), (10, "trial.pressed")]
    assert sum(count for _message, count in found.why) == 4


def test_more_than_one_batch_and_more_refused_than_are_shown(store):
    told = [one for _ in range(100) for one in whole_trial()]
    found = bring(store, as_rows([*told, *["No entry."] * 60]), 5)
    assert (found.stored, found.refused_count, len(found.refused), found.why) == (600, 60, SHOWN, [("No entry.", 60)])
    assert len(told_in(packed(store))) == 600
