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
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import recurring_ical_events
from icalendar import Calendar, Component, Event, FreeBusy, Timezone, vRecur
from icalendar.timezone import tzp
from icalendar.timezone.windows_to_olson import WINDOWS_TO_OLSON

from scheduler.domain import Span

from ..errors import CalendarFault, CalendarFaults
from .busy import BusyTimes, days_between, merged, midnight
from .rules import MOST_OCCURRENCES, Effort, checked
from .sieve import Block, refused, sieved

MOST_FAULTS = 50
_A_TIME = "a date as in 20270710 or a time as in 20270710T200000Z, from the year 1600 to 2300"
EXPECTED = {
    "DTSTART": f"one: {_A_TIME}", "DTEND": f"{_A_TIME}, not before DTSTART and of its sort",
    "DURATION": "a length of time as in PT2H, not below zero", "RRULE": "a rule as in FREQ=WEEKLY;BYDAY=FR",
    "RDATE": f"for each {_A_TIME}", "EXDATE": f"for each {_A_TIME}", "RECURRENCE-ID": _A_TIME,
    "FREEBUSY": "periods as in 20270710T200000Z/PT2H", "SEQUENCE": "a whole number",
}  # fmt: skip
_A_ZONE = "a TZID that a VTIMEZONE of the file explains, or a name of the tz database"
_WHOLE = "what RFC 5545 has there"
_MARGIN = timedelta(days=2)
"""Zones lie less than this apart; what is looked for too early or too late is cut off in the end."""

Made = TypeVar("Made", bound=Component)


@dataclass(frozen=True)
class _Read:
    """An event of the calendar, and its place in it."""

    number: int
    event: Any  # the library's, whose members have no types of use here


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
        _told(faults, [one for one in blocks if one.name == "VTIMEZONE"], _define_zone)
        events = _told(faults, [one for one in blocks if one.name == "VEVENT"], _read_event)
        given = _told(faults, [one for one in blocks if one.name == "VFREEBUSY"], _given_periods)
        if faults:
            raise CalendarFaults(tuple(faults))
        found = [*_series_spans(events, window, zone, first, last), *_kept(given, window)]
        return BusyTimes(merged(span for _, spans in found for span in spans), len(found))


Told = TypeVar("Told")


def _told(
    faults: list[CalendarFault], blocks: Iterable[Block], read: Callable[[Block], Told]
) -> list[Told]:
    """Read blocks, noting what is wrong with each."""
    found = []
    for block in blocks:
        try:
            found.append(read(block))
        except CalendarFaults as wrong:
            faults += wrong.faults
        except (ValueError, KeyError, TypeError, AttributeError, IndexError, OverflowError):
            faults.append(CalendarFault(block.number, None, _WHOLE))
        if len(faults) >= MOST_FAULTS:
            raise CalendarFaults(tuple(faults)) from None
    return found


def _define_zone(block: Block) -> None:
    """Let times be told in a zone of the file; what the tz database knows better is left to it."""
    ids = [line.partition(":")[2].strip() for line in block.lines if line.upper().startswith("TZID")]
    if len(ids) != 1:
        raise refused(block.number, "TZID", "one")
    if ids[0].strip("/") in WINDOWS_TO_OLSON:
        return
    rules = [line.partition(":")[2] for line in block.lines if line.upper().startswith("RRULE")]
    for rule in rules:
        checked(block.number, vRecur.from_ical(rule), of_zone=True)
    Timezone.from_ical(block.text)


def _parsed(block: Block, kind: type[Made]) -> Made:
    component = kind.from_ical(block.text)
    names = [str(name) if name in EXPECTED else None for name, _ in component.errors]
    if names:
        raise CalendarFaults(
            tuple(CalendarFault(block.number, name, EXPECTED.get(name or "", _WHOLE)) for name in names)
        )
    assert isinstance(component, kind)
    return component


def _read_event(block: Block) -> _Read:
    event: Any = _parsed(block, Event)
    for name in ("DTSTART", "DTEND", "DURATION", "RECURRENCE-ID", "SEQUENCE", "UID"):
        if isinstance(event.get(name), list):
            raise refused(block.number, name, EXPECTED.get(name, "one"))
    if "DTSTART" not in event:
        raise refused(block.number, "DTSTART", EXPECTED["DTSTART"])
    for name in ("DTSTART", "DTEND", "RECURRENCE-ID"):
        if name in event:
            _check_time(block.number, name, event[name].dt, event[name].params)
    for name in ("RDATE", "EXDATE"):
        for listed in _several(event.get(name)):
            for one in listed.dts:
                start = one.dt[0] if isinstance(one.dt, tuple) else one.dt
                _check_time(block.number, name, start, listed.params)
    _check_length(block.number, event)
    rules = [checked(block.number, rule) for rule in _several(event.get("RRULE"))]
    if rules:
        event["RRULE"] = rules if len(rules) > 1 else rules[0]
    return _Read(block.number, event)


def _check_time(number: int, name: str, moment: Any, params: Any) -> None:
    if not isinstance(moment, date) or not 1600 <= moment.year <= 2300:
        raise refused(number, name, EXPECTED[name])
    if isinstance(moment, datetime) and moment.tzinfo is None and "TZID" in params:
        raise refused(number, name, _A_ZONE)


def _check_length(number: int, event: Any) -> None:
    start = event["DTSTART"].dt
    if "DTEND" in event:
        end = event["DTEND"].dt
        alike = isinstance(start, datetime) == isinstance(end, datetime)
        zoned = alike and isinstance(start, datetime) and (start.tzinfo is None) != (end.tzinfo is None)
        if not alike or zoned or end < start:
            raise refused(number, "DTEND", EXPECTED["DTEND"])
    if "DURATION" in event:
        length = event["DURATION"].dt
        if not isinstance(length, timedelta) or not timedelta(0) <= length <= timedelta(days=300_000):
            raise refused(number, "DURATION", EXPECTED["DURATION"])


def _given_periods(block: Block) -> list[Span]:
    """Return the periods of a VFREEBUSY that are not marked as free."""
    given: Any = _parsed(block, FreeBusy)
    found = []
    for one in _several(given.get("FREEBUSY")):
        if str(one.params.get("FBTYPE", "BUSY")).upper() == "FREE":
            continue
        for moment in (one.start, one.end):
            if not 1600 <= moment.year <= 2300 or moment.tzinfo is None:
                raise refused(block.number, "FREEBUSY", EXPECTED["FREEBUSY"])
        if one.start < one.end:
            found.append(Span(one.start.astimezone(UTC), one.end.astimezone(UTC)))
    return found


def _kept(given: Sequence[list[Span]], window: Span) -> Iterator[tuple[int, list[Span]]]:
    for spans in given:
        inside = [one for span in spans if (one := span.meet(window)) is not None]
        if inside:
            yield 0, inside


def _series_spans(
    events: Sequence[_Read], window: Span, zone: ZoneInfo, first: date, last: date
) -> Iterator[tuple[int, list[Span]]]:
    """Yield the busy time of each event with its repetitions and exceptions, where it has any."""
    effort = Effort()
    for one in events:
        for rule in _several(one.event.get("RRULE")):
            start = one.event["DTSTART"].dt
            day = start.date() if isinstance(start, datetime) else start
            effort.add(one.number, rule, day, first - _MARGIN, last + _MARGIN, _length_of(one.event))
    series: dict[str, list[_Read]] = defaultdict(list)
    for one in events:
        series[str(one.event.get("UID", f"component {one.number}"))].append(one)
    left = MOST_OCCURRENCES
    for group in series.values():
        try:
            spans = [span for span in _spans_of(group, window, zone) if span is not None]
        except (ValueError, KeyError, TypeError, AttributeError, IndexError, OverflowError):
            raise refused(group[0].number, None, _WHOLE) from None
        left -= len(spans)
        if left < 0:
            raise refused(group[0].number, None, f"at most {MOST_OCCURRENCES} events in the time that is read")
        if spans:
            yield group[0].number, spans


def _spans_of(group: Sequence[_Read], window: Span, zone: ZoneInfo) -> Iterator[Span | None]:
    if len(group) == 1 and not {"RRULE", "RDATE", "RECURRENCE-ID"} & group[0].event.keys():
        yield _span_of(group[0].event, group[0].event["DTSTART"].dt, None, window, zone)
        return
    calendar = Calendar()
    for one in group:
        calendar.add_component(one.event)
    found = recurring_ical_events.of(calendar, components=["VEVENT"])
    for event in found.between(window.start - _MARGIN, window.end + _MARGIN):
        yield _span_of(event, event["DTSTART"].dt, event["DTEND"].dt, window, zone)


def _span_of(event: Any, start: date, end: date | None, window: Span, zone: ZoneInfo) -> Span | None:
    """Return the part of an event's time that is read, None where it leaves that time free."""
    if not _is_busy(event):
        return None
    begin = _moment(start, zone)
    finish = _moment(start + _length_of(event) if end is None else end, zone)
    return Span(begin, finish).meet(window) if begin < finish else None


def _is_busy(event: Any) -> bool:
    said = {name: str(event.get(name, "")).strip().upper()
            for name in ("STATUS", "TRANSP", "X-MICROSOFT-CDO-BUSYSTATUS")}  # fmt: skip
    return said["STATUS"] != "CANCELLED" and said["TRANSP"] != "TRANSPARENT" and "FREE" not in said.values()


def _length_of(event: Any) -> timedelta:
    start = event["DTSTART"].dt
    if "DTEND" in event:
        length: timedelta = event["DTEND"].dt - start
        return length
    if "DURATION" in event:
        length = event["DURATION"].dt
        return length
    return timedelta(0) if isinstance(start, datetime) else timedelta(days=1)


def _moment(when: date, zone: ZoneInfo) -> datetime:
    if not isinstance(when, datetime):
        return midnight(when, zone)
    return (when if when.tzinfo is not None else when.replace(tzinfo=zone)).astimezone(UTC)


def _several(value: Any) -> list[Any]:
    if value is None:
        return []
    return value if isinstance(value, list) else [value]
