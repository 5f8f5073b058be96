"""A calendar's events, repetitions and exceptions turned into the time they take up.

Libraries know how rules repeat; what counts as busy is decided here: what is neither cancelled, nor marked as
leaving time free. A local time that a zone's clock skips is taken with the offset before, one shown twice as
the first (RFC 5545, 3.3.5). A whole day is the local day of its owner.

References
----------
B. Desruisseaux, "Internet Calendaring and Scheduling Core Object Specification (iCalendar)", RFC 5545, 2009,
sections 3.6.1 (events), 3.6.4 (busy times), 3.8.4.4 and 3.8.5 (repetitions), 3.8.2.7 (what leaves time free).
"""

from __future__ import annotations

import warnings
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from functools import partial
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import recurring_ical_events
from icalendar import Calendar
from icalendar.timezone import tzp

from scheduler.domain import Span

from ..calendar_errors import CalendarFault, CalendarFaults
from .busy import BusyTimes, days_between, merged, midnight
from .events import WHOLE, ReadEvent, define_zone, end_of, given_periods, length_of, read_event, several
from .rules import MOST_OCCURRENCES, Effort
from .sieve import Block, refused, sieved

MOST_FAULTS = 50
_MARGIN = timedelta(days=2)
"""Zones lie less than this apart; what is looked for too early or too late is cut off in the end."""

Told = TypeVar("Told")


def busy_times_of(content: bytes, first: date, last: date, zone: ZoneInfo) -> BusyTimes:
    """Return when a calendar's owner is busy.

    Parameters
    ----------
    content : The calendar.
    first, last : The local days that are read, both included.
    zone : The owner's: of whole days, and of times without a zone.

    Raises
    ------
    CalendarFaults
        With what is wrong with it; none of its words.
    """
    blocks = sieved(content)
    window = days_between(first, last, zone)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # they would tell what stands in the calendar
        tzp.use_default()  # forgets the zones of the calendar before
        faults: list[CalendarFault] = []
        _told(faults, [one for one in blocks if one.name == "VTIMEZONE"], partial(define_zone, first=first))
        events = _told(faults, [one for one in blocks if one.name == "VEVENT"], read_event)
        given = _told(faults, [one for one in blocks if one.name == "VFREEBUSY"], given_periods)
        if faults:
            raise CalendarFaults(tuple(faults))
        found = [*_series_spans(events, window, zone, first, last), *_kept(given, window)]
        return BusyTimes(merged(span for _, spans in found for span in spans), len(found))


def _told(faults: list[CalendarFault], blocks: Iterable[Block], read: Callable[[Block], Told]) -> list[Told]:
    """Read blocks, noting what is wrong with each."""
    found = []
    for block in blocks:
        try:
            found.append(read(block))
        except CalendarFaults as wrong:
            faults += wrong.faults
        except (ValueError, KeyError, TypeError, AttributeError, IndexError, OverflowError):
            faults.append(CalendarFault(block.number, None, WHOLE))
        if len(faults) >= MOST_FAULTS:
            raise CalendarFaults(tuple(faults)) from None
    return found


def _kept(given: Sequence[list[Span]], window: Span) -> Iterator[tuple[int, list[Span]]]:
    for spans in given:
        inside = [one for span in spans if (one := span.meet(window)) is not None]
        if inside:
            yield 0, inside


def _series_spans(
    events: Sequence[ReadEvent], window: Span, zone: ZoneInfo, first: date, last: date
) -> Iterator[tuple[int, list[Span]]]:
    """Yield the busy time of each event with its repetitions and exceptions, where it has any."""
    effort = Effort()
    for one in events:
        for rule in several(one.event.get("RRULE")):
            start = one.event["DTSTART"].dt
            day = start.date() if isinstance(start, datetime) else start
            effort.add(one.number, rule, day, first - _MARGIN, last + _MARGIN, length_of(one.event))
    series: dict[str, list[ReadEvent]] = defaultdict(list)
    for one in events:
        series[str(one.event.get("UID", f"component {one.number}"))].append(one)
    left = MOST_OCCURRENCES
    for group in series.values():
        try:
            spans = [span for span in _spans_of(group, window, zone) if span is not None]
        except (ValueError, KeyError, TypeError, AttributeError, IndexError, OverflowError):
            raise refused(group[0].number, None, WHOLE) from None
        left -= len(spans)
        if left < 0:
            raise refused(
                group[0].number, None, f"at most {MOST_OCCURRENCES} events in the time that is read"
            )
        if spans:
            yield group[0].number, spans


def _spans_of(group: Sequence[ReadEvent], window: Span, zone: ZoneInfo) -> Iterator[Span | None]:
    if len(group) == 1 and not {"RRULE", "RDATE", "RECURRENCE-ID"} & group[0].event.keys():
        event = group[0].event
        yield _span_of(event, event["DTSTART"].dt, end_of(event), window, zone)
        return
    calendar = Calendar()
    for one in group:
        calendar.add_component(one.event)
    found = recurring_ical_events.of(calendar, components=["VEVENT"])
    for event in found.between(window.start - _MARGIN, window.end + _MARGIN):
        yield _span_of(event, event["DTSTART"].dt, event["DTEND"].dt, window, zone)


def _span_of(event: Any, start: date, end: date, window: Span, zone: ZoneInfo) -> Span | None:
    """Return the part of an event's time that is read, None where it leaves that time free."""
    if not _is_busy(event):
        return None
    begin, finish = _moment(start, zone), _moment(end, zone)
    return Span(begin, finish).meet(window) if begin < finish else None


def _is_busy(event: Any) -> bool:
    said = {name: str(event.get(name, "")).strip().upper()
            for name in ("STATUS", "TRANSP", "X-MICROSOFT-CDO-BUSYSTATUS")}  # fmt: skip
    return said["STATUS"] != "CANCELLED" and said["TRANSP"] != "TRANSPARENT" and "FREE" not in said.values()


def _moment(when: date, zone: ZoneInfo) -> datetime:
    if not isinstance(when, datetime):
        return midnight(when, zone)
    return (when if when.tzinfo is not None else when.replace(tzinfo=zone)).astimezone(UTC)
