"""Clocks that are wrong: the times of a trial come from the page's own clock, which nobody sets, so a day's error, a year's, a step of summer time or a clock that is set back in the middle changes no second of them.

Moments travel as milliseconds since 1970 in UTC (ECMA-262, Time Values), which summer time does not touch; here the machine's zone is changed under the reader all the same.
"""

import os
import time

import pytest

from server.sync.push import Batch, push
from server.trial import log
from server.trial.timing import trial_from
from tests.entries import WALL_0, entry, pressed, stamp, started
from tests.finds import OTHER_DEVICE, consent, opened, subject

DAY_S = 86_400.0
AT_S = (0.0, 14.2, 31.0, 45.5, 55.25)
SECONDS = {"sag": 14.2, "round": 31.0, "out": 45.5, "glow": 9.75}
STAGES = ("flame_in", "sagged", "round", "flame_out", "glow_gone")


def trial(wall_s) -> list[dict]:
    """A whole trial; wall_s(place) is how wrong the wall clock is at each press, s."""
    of = subject()
    stamps = [stamp(stage, at_s + wall_s(place), at_s) for place, (stage, at_s) in enumerate(zip(STAGES, AT_S, strict=True))]
    made = [started(of, 0, stamps[0]), *(pressed(of, n, one) for n, one in enumerate(stamps[1:], 1)), entry("trial.kept", of, 5, {})]
    return [{**one, "at_ms": max(0, WALL_0 + round(1000 * wall_s(min(place, 4))))} for place, one in enumerate(made)]


WRONG = {
    "a day ahead": lambda _place: DAY_S,
    "a day behind": lambda _place: -DAY_S,
    "a year ahead": lambda _place: 365 * DAY_S,
    "in 1970": lambda _place: -WALL_0 / 1000,
    "set back an hour in the middle": lambda place: -3600.0 if place >= 2 else 0.0,
    "set ahead an hour in the middle": lambda place: 3600.0 if place >= 2 else 0.0,
    "running backwards": lambda place: -2.0 * AT_S[place],
    "set by a day in the middle": lambda place: DAY_S if place >= 3 else 0.0,
}


@pytest.mark.parametrize("name", WRONG)
def test_no_second_of_a_trial_depends_on_the_clock_of_the_day(store, name):
    entries = trial(WRONG[name])
    with store.write() as session:
        assert {one.verdict for one in push(session, Batch(entries=entries), WALL_0)} == {"stored"}
    with store.read() as session:
        (found,) = log.trials(session)
    assert found.status == "kept"
    assert {lane: round(span.seconds, 6) for lane, span in found.spans.items()} == SECONDS
    is_set = "middle" in name or "backwards" in name
    assert ("clock_set" in found.flags) is is_set


@pytest.mark.parametrize("zone", ["UTC0", "CET-1CEST,M3.5.0,M10.5.0/3", "NZST-12NZDT,M9.5.0,M4.1.0/3"])
def test_summer_time_and_zones_change_nothing(zone):
    """Presses on both sides of the hour that central Europe lived twice, 25 October 2026, 01:00 UTC; POSIX.1 notation of zones."""
    turn_ms = 1_792_890_000_000
    before = os.environ.get("TZ")
    os.environ["TZ"] = zone
    time.tzset()
    try:
        entries = trial(lambda _place: (turn_ms - WALL_0) / 1000 - 20.0)
        found = trial_from(entries)
    finally:
        os.environ.pop("TZ") if before is None else os.environ.update(TZ=before)
        time.tzset()
    assert {lane: round(span.seconds, 6) for lane, span in found.spans.items()} == SECONDS and not found.flags
    assert found.presses["flame_in"].wall_ms == turn_ms - 20_000


def test_what_knew_of_the_other_counts_also_when_its_clock_is_a_year_behind(store):
    from server.find.log import finds

    find = subject()
    given = consent(find, WALL_0 + round(365 * DAY_S * 1000), over=[], state="given")
    refused = consent(find, WALL_0, over=[given["id"]], state="refused") | {"device": OTHER_DEVICE}
    with store.write() as session:
        push(session, Batch(entries=[refused, given, opened(find)]), 1)
    with store.read() as session:
        (found,) = finds(session).finds
    assert found.consent["state"] == "refused" and found.unsettled == []
