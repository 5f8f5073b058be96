"""The components a calendar is made of, read one by one and checked; only their times are left in them.

References
----------
B. Desruisseaux, "Internet Calendaring and Scheduling Core Object Specification (iCalendar)", RFC 5545, 2009,
sections 3.6.1 (events), 3.6.4 (busy times), 3.6.5 (time zones), 3.8.2 and 3.8.5 (their times and rules).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, TypeVar

from icalendar import Component, Event, FreeBusy, Timezone, vRecur
from icalendar.timezone.windows_to_olson import WINDOWS_TO_OLSON

from scheduler.domain import Span

from ..calendar_errors import CalendarFault, CalendarFaults
from .rules import checked
from .sieve import Block, refused

_A_TIME = "a date as in 20270710 or a time as in 20270710T200000Z, from the year 1600 to 2300"
EXPECTED = {
    "DTSTART": f"one: {_A_TIME}", "DTEND": f"{_A_TIME}, not before DTSTART and of its sort",
    "DURATION": "a length of time as in PT2H, not below zero", "RRULE": "a rule as in FREQ=WEEKLY;BYDAY=FR",
    "RDATE": f"for each {_A_TIME}", "EXDATE": f"for each {_A_TIME}", "RECURRENCE-ID": _A_TIME,
    "FREEBUSY": "periods as in 20270710T200000Z/PT2H", "SEQUENCE": "a whole number",
}  # fmt: skip
_A_ZONE = "a TZID that a VTIMEZONE of the file explains, or a name of the tz database"
WHOLE = "what RFC 5545 has there"
LONGEST = timedelta(days=300_000)

Made = TypeVar("Made", bound=Component)


@dataclass(frozen=True)
class ReadEvent:
    """An event of the calendar, and its place in it."""

    number: int
    event: Any  # the library's, whose members have no types of use here


def define_zone(block: Block, first: date) -> None:
    """Let times be told in a zone of the file; what the tz database knows better is left to it."""
    ids = [line.partition(":")[2].strip() for line in block.lines if line.upper().startswith("TZID")]
    if len(ids) != 1:
        raise refused(block.number, "TZID", "one")
    if ids[0].strip("/") in WINDOWS_TO_OLSON:
        return
    rules = [line.partition(":")[2] for line in block.lines if line.upper().startswith("RRULE")]
    for rule in rules:
        checked(block.number, vRecur.from_ical(rule), of_zone=True)
    Timezone.from_ical(_begun_later(block, first.year // 4 * 4 - 4).text)


def _begun_later(block: Block, year: int) -> Block:
    """Return a zone whose rules without an end begin in a leap year before the time that is read.

    Looking a time up goes through all changes before it, and some programs write rules from 1601 on.
    """
    begin = 0
    lines = list(block.lines)
    for place, line in enumerate(lines):
        name = line.upper()
        if name.startswith("BEGIN:"):
            begin = place
        elif name.startswith("END:"):
            inner = {one.partition(":")[0].partition(";")[0].upper(): at
                     for at, one in enumerate(lines[begin:place], begin)}  # fmt: skip
            if (start := inner.get("DTSTART")) is None or (rule := inner.get("RRULE")) is None:
                continue
            head, _, moment = lines[start].partition(":")
            lasting = not re.search(r"UNTIL|COUNT|INTERVAL", lines[rule].upper())
            if lasting and re.match(r"\d{8}T", moment) and int(moment[:4]) < year:
                lines[start] = f"{head}:{year:04d}{moment[4:]}"
    return Block(block.number, block.name, lines)


def _parsed(block: Block, kind: type[Made]) -> Made:
    component = kind.from_ical(block.text)
    names = [str(name) if name in EXPECTED else None for name, _ in component.errors]
    if names:
        raise CalendarFaults(
            tuple(CalendarFault(block.number, name, EXPECTED.get(name or "", WHOLE)) for name in names)
        )
    assert isinstance(component, kind)
    return component


def read_event(block: Block) -> ReadEvent:
    """Return an event whose times and rules can be followed, or raise `CalendarFaults`."""
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
        for listed in several(event.get(name)):
            for one in listed.dts:
                start = one.dt[0] if isinstance(one.dt, tuple) else one.dt
                _check_time(block.number, name, start, listed.params)
    _check_length(block.number, event)
    rules = [checked(block.number, rule) for rule in several(event.get("RRULE"))]
    if rules:
        event["RRULE"] = rules if len(rules) > 1 else rules[0]
    return ReadEvent(block.number, event)


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
        if not isinstance(length, timedelta) or not timedelta(0) <= length <= LONGEST:
            raise refused(number, "DURATION", EXPECTED["DURATION"])


def given_periods(block: Block) -> list[Span]:
    """Return the periods of a VFREEBUSY that are not marked as free."""
    given: Any = _parsed(block, FreeBusy)
    found = []
    for one in several(given.get("FREEBUSY")):
        if str(one.params.get("FBTYPE", "BUSY")).upper() == "FREE":
            continue
        for moment in (one.start, one.end):
            if not 1600 <= moment.year <= 2300 or moment.tzinfo is None:
                raise refused(block.number, "FREEBUSY", EXPECTED["FREEBUSY"])
        if one.start < one.end:
            found.append(Span(one.start.astimezone(UTC), one.end.astimezone(UTC)))
    return found


def end_of(event: Any) -> date:
    """Return when an event ends, in the words of its start or of its end."""
    if "DTEND" in event:
        end: date = event["DTEND"].dt
        return end
    start: date = event["DTSTART"].dt
    length = length_of(event)
    if not isinstance(start, datetime) and length % timedelta(days=1):  # hours after a whole day's beginning
        start = datetime.combine(start, time())
    return start + length


def length_of(event: Any) -> timedelta:
    """Return how long an event lasts, by the clock on the wall."""
    start = event["DTSTART"].dt
    if "DTEND" in event:
        length: timedelta = event["DTEND"].dt - start
        return length
    if "DURATION" in event:
        return timedelta(seconds=event["DURATION"].dt.total_seconds())
    return timedelta(0) if isinstance(start, datetime) else timedelta(days=1)


def several(value: Any) -> list[Any]:
    """Return what the library gives for a property: nothing, one, or a list of it."""
    if value is None:
        return []
    return value if isinstance(value, list) else [value]
