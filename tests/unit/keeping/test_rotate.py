"""Which backups stay: never too many, the newest always, and what once goes would not have been wanted later."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from server.keeping.rotate import DAYS, MONTHS, RECENT, WEEKS, kept

NOW = datetime(2026, 11, 26, 12, tzinfo=UTC)
MOMENTS = st.lists(st.integers(0, 60 * 24 * 800).map(lambda minutes: NOW - timedelta(minutes=minutes)), unique=True, max_size=120)


@given(MOMENTS)
def test_the_newest_stays_and_there_are_never_too_many(moments):
    stay = kept(moments, NOW)
    assert stay <= set(moments) and len(stay) <= RECENT + DAYS + WEEKS + MONTHS
    assert not moments or max(moments) in stay


@given(MOMENTS)
def test_what_stays_stays_when_it_is_asked_again(moments):
    stay = kept(moments, NOW)
    assert kept(sorted(stay), NOW) == stay


def test_two_years_of_backups_every_six_hours():
    """Rotated after each as in use: the last day whole, a fortnight of days, eight weeks, a year of months, counted by the calendar."""
    there: list[datetime] = []
    moment = NOW - timedelta(days=730)
    while moment <= NOW:
        there = sorted(kept([*there, moment], moment))
        moment += timedelta(hours=6)
    ages = [(NOW - one).days for one in there]
    assert [one for one in there if NOW - one < timedelta(days=1)] == [NOW - timedelta(hours=h) for h in (18, 12, 6, 0)]
    assert {(NOW - timedelta(days=day)).date() for day in range(DAYS)} <= {one.date() for one in there}
    assert len({one.isocalendar()[:2] for one in there}) >= WEEKS and len({(one.year, one.month) for one in there}) == MONTHS
    assert max(ages) > 300 and len(there) < 40
