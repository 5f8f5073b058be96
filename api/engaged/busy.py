"""Busy times: stretches of time and how many events they come from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from scheduler.domain import Span


@dataclass(frozen=True, slots=True)
class BusyTimes:
    """What a calendar tells: when its owner is busy, and no word more.

    Attributes
    ----------
    spans : In order; none touches the next.
    events : How many events of the calendar they come from, repetitions not counted.
    """

    spans: tuple[Span, ...]
    events: int


def merged(spans: Iterable[Span]) -> tuple[Span, ...]:
    """Return the same time in as few stretches as it takes, in order.

    Examples
    --------
    >>> at = [datetime(2027, 2, 20, hour, tzinfo=UTC) for hour in (18, 19, 20, 21)]
    >>> found = merged([Span(at[1], at[2]), Span(at[0], at[1]), Span(at[0], at[1])])
    >>> [(one.start.hour, one.end.hour) for one in found]
    [(18, 20)]
    """
    found: list[Span] = []
    for one in sorted(spans, key=lambda span: span.start):
        if found and one.start <= found[-1].end:
            found[-1] = Span(found[-1].start, max(found[-1].end, one.end))
        else:
            found.append(one)
    return tuple(found)


def days_between(first: date, last: date, zone: ZoneInfo) -> Span:
    """Return the time from the beginning of a local day to the end of another."""
    return Span(midnight(first, zone), midnight(last + timedelta(days=1), zone))


def midnight(day: date, zone: ZoneInfo) -> datetime:
    """Return when a local day begins. Where the clock skips it, the day begins when it is put forward.

    Examples
    --------
    >>> midnight(date(2027, 7, 1), ZoneInfo("Europe/London")).isoformat()
    '2027-06-30T23:00:00+00:00'
    """
    return datetime.combine(day, time(), tzinfo=zone).astimezone(UTC)
