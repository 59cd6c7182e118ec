"""Pure: which backups stay. Close together for the last day, then one a day, a week, a month; the newest always."""

from datetime import UTC, datetime, timedelta

RECENT, DAYS, WEEKS, MONTHS = 12, 14, 8, 12


def kept(moments: list[datetime], now: datetime) -> set[datetime]:
    """Of these backups (aware moments) those that stay. What came last in a day, week or month stands for it."""
    ordered = sorted(moments, reverse=True)
    found = set([*(m for m in ordered if now - m < timedelta(days=1))][:RECENT]) | set(ordered[:1])
    for count, period in ((DAYS, lambda m: m.date()), (WEEKS, lambda m: m.isocalendar()[:2]), (MONTHS, lambda m: (m.year, m.month))):
        last_of: dict = {}
        for moment in ordered:
            last_of.setdefault(period(moment.astimezone(UTC)), moment)
        found |= set(list(last_of.values())[:count])
    return found
