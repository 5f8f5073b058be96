"""The time of day by a place's clock, and the nights on which that clock is changed."""

from __future__ import annotations

from bisect import bisect_left
from datetime import UTC, date, datetime, time, timedelta, tzinfo


def clock_of(moment: datetime, zone: tzinfo) -> str:
    """Return the time of a moment, with the zone's short name where the clock shows it twice.

    Examples
    --------
    >>> from zoneinfo import ZoneInfo
    >>> london = ZoneInfo("Europe/London")
    >>> [clock_of(datetime(2026, 10, 25, hour, 30, tzinfo=UTC), london) for hour in (0, 1, 2)]
    ['01:30 BST', '01:30 GMT', '02:30']
    """
    at = moment.astimezone(zone)
    twice = at.replace(fold=0).utcoffset() != at.replace(fold=1).utcoffset()
    return f"{at:%H:%M} {_named(at)}" if twice else f"{at:%H:%M}"


def clock_change_words(evening: date, zone: tzinfo) -> str:
    """Return how the clocks change in the night after an evening; nothing where they do not.

    Examples
    --------
    >>> from zoneinfo import ZoneInfo
    >>> clock_change_words(date(2026, 10, 24), ZoneInfo("Europe/London"))
    'the clocks go back from 02:00 BST to 01:00 GMT: all later times are GMT'
    >>> clock_change_words(date(2026, 10, 3), ZoneInfo("Australia/Lord_Howe"))
    'the clocks go forward from 02:00 UTC+1030 to 02:30 UTC+11: all later times are UTC+11'
    >>> clock_change_words(date(2026, 10, 25), ZoneInfo("Europe/London"))
    ''
    """
    noon = datetime.combine(evening, time(12), zone).astimezone(UTC)
    next_noon = datetime.combine(evening + timedelta(days=1), time(12), zone).astimezone(UTC)
    before = noon.astimezone(zone).utcoffset()

    def changed(minute: int) -> bool:
        return (noon + timedelta(minutes=minute)).astimezone(zone).utcoffset() != before

    minutes = range(int((next_noon - noon).total_seconds() / 60.0) + 1)
    minute = bisect_left(minutes, True, key=changed)
    if minute == len(minutes):
        return ""
    last = (noon + timedelta(minutes=minute - 1)).astimezone(zone)
    old, new = last + timedelta(minutes=1), (noon + timedelta(minutes=minute)).astimezone(zone)
    way = "back" if new.replace(tzinfo=None) < old.replace(tzinfo=None) else "forward"
    return (
        f"the clocks go {way} from {old:%H:%M} {_named(last)} to {new:%H:%M} {_named(new)}: "
        f"all later times are {_named(new)}"
    )


def _named(at: datetime) -> str:
    """Return the short name of a moment's zone, or how far from UTC it is where it has none."""
    name = f"{at:%Z}"
    return name if name.isalpha() else f"UTC{name}"
