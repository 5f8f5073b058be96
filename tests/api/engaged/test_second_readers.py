"""Two other libraries expand the same calendars: `ical`, and dateutil's rrule by the clock on the wall."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.rrule import rrulestr
from ical.calendar_stream import IcsCalendarStream

from api.engaged.busy import merged
from api.engaged.expansion import busy_times_of
from scheduler.domain import Span

from .calendars import calendar, event

ZONES = ("Europe/London", "Australia/Lord_Howe", "America/St_Johns", "Pacific/Apia", "Africa/Nairobi")
FIRST, LAST = date(2027, 1, 1), date(2027, 12, 31)
DAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
SEED = 20270220
END = datetime.fromisoformat("2028-01-02")


def drawn(zone: str, number: int) -> tuple[str, datetime, timedelta, str, list[datetime]]:
    """Return an event of a weekly rule: its text, start, length, rule and exceptions, by the clock."""
    draw = random.Random(f"{SEED} {zone} {number}")
    start = datetime.fromisoformat("2026-09-01") + timedelta(
        days=draw.randrange(300), minutes=15 * draw.randrange(96)
    )
    # a local time that a change of clocks skips or repeats is read differently by everybody
    start = start.replace(hour=start.hour if start.hour > 3 else 19)
    days = sorted({DAYS[start.weekday()], *draw.sample(DAYS, draw.randrange(4))}, key=DAYS.index)
    rule = (
        f"FREQ=WEEKLY;INTERVAL={draw.randint(1, 4)};BYDAY={','.join(days)};WKST={draw.choice(('MO', 'SU'))}"
    )
    rule += draw.choice(("", f";COUNT={draw.randint(2, 60)}"))
    hits = list(rrulestr(rule, dtstart=start).between(start, END))
    off = draw.sample(hits, min(3, len(hits)))
    length = timedelta(minutes=15 * draw.randint(1, 30))
    text = event(
        f"DTSTART;TZID={zone}:{start:%Y%m%dT%H%M%S}", f"DURATION:PT{length.seconds // 60}M", f"RRULE:{rule}",
        *(f"EXDATE;TZID={zone}:{one:%Y%m%dT%H%M%S}" for one in off), uid=f"{number}",
    )  # fmt: skip
    return text, start, length, rule, off


def in_year(spans: list[Span], zone: ZoneInfo) -> tuple[Span, ...]:
    begin, end = (datetime.combine(day, time(), zone).astimezone(UTC) for day in (FIRST, date(2028, 1, 1)))
    cut = (one.meet(Span(begin, end)) for one in spans)
    return merged(one for one in cut if one is not None)


@pytest.mark.parametrize("zone", ZONES)
def test_weekly_rules_are_expanded_as_by_dateutil(zone: str) -> None:
    local, compared = ZoneInfo(zone), 0
    for number in range(40):
        text, start, length, rule, off = drawn(zone, number)
        expected = []
        for hit in rrulestr(rule, dtstart=start).between(start, END, inc=True):
            if hit not in off:
                ends = [(one.replace(tzinfo=local)).astimezone(UTC) for one in (hit, hit + length)]
                expected.append(Span(*ends))
        found = busy_times_of(calendar(text), FIRST, LAST, local).spans
        assert found == in_year(expected, local), text
        compared += len(found)
    assert compared > 800


@pytest.mark.parametrize("zone", ZONES)
def test_weekly_rules_are_expanded_as_by_a_second_reader_of_calendars(zone: str) -> None:
    local = ZoneInfo(zone)
    texts = [drawn(zone, number)[0] for number in range(40)]
    for text in texts:
        content = calendar(text)
        other = IcsCalendarStream.calendar_from_ics(content.decode())
        around = (datetime(2026, 12, 30, tzinfo=UTC), datetime(2028, 1, 2, tzinfo=UTC))
        spans = [Span(one.start_datetime.astimezone(UTC), one.end_datetime.astimezone(UTC))
                 for one in other.timeline.overlapping(*around)]  # fmt: skip
        assert busy_times_of(content, FIRST, LAST, local).spans == in_year(spans, local), text


RULES = (
    "FREQ=DAILY;COUNT=10", "FREQ=DAILY;INTERVAL=2;COUNT=60", "FREQ=WEEKLY;WKST=SU;INTERVAL=2",
    "FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH", "FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
    "FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU", "FREQ=MONTHLY;COUNT=6;BYDAY=-2MO",
    "FREQ=MONTHLY;BYMONTHDAY=-3", "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1", "FREQ=YEARLY;COUNT=10;BYMONTH=6,7",
    "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13", "FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3",
    "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2", "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO",
    "FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5",
)  # fmt: skip
"""Rules from the examples of RFC 5545, section 3.8.5.3."""


@pytest.mark.parametrize("rule", RULES)
def test_the_rules_of_the_standards_examples(rule: str) -> None:
    # a start that the rule does not hit is undefined there
    start = next(iter(rrulestr(rule, dtstart=datetime.fromisoformat("2027-01-05T09:00"))))
    told = (f"DTSTART;TZID=America/New_York:{start:%Y%m%dT%H%M%S}", "DURATION:PT1H", f"RRULE:{rule}")
    content = calendar(event(*told))
    other = IcsCalendarStream.calendar_from_ics(content.decode())
    around = (datetime(2027, 1, 1, 5, tzinfo=UTC), datetime(2028, 1, 1, 5, tzinfo=UTC))
    expected = [one.start_datetime.astimezone(UTC) for one in other.timeline.overlapping(*around)]
    found = busy_times_of(content, FIRST, LAST, ZoneInfo("America/New_York")).spans
    assert [one.start for one in found] == expected
    assert expected


def test_what_the_standard_itself_lists() -> None:
    """RFC 5545, 3.8.5.3, its dates written out: the last but one weekday of the month, from 29 Sept. 1997."""
    told = event("DTSTART;TZID=America/New_York:19970929T090000", "DURATION:PT1H",
                 "RRULE:FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2")  # fmt: skip
    zone = ZoneInfo("America/New_York")
    found = busy_times_of(calendar(told), date(1997, 9, 1), date(1998, 3, 31), zone).spans
    local = [one.start.astimezone(zone) for one in found]
    assert {one.time() for one in local} == {time(9)}
    assert [f"{one:%b %d}" for one in local] == [
        "Sep 29", "Oct 30", "Nov 27", "Dec 30", "Jan 29", "Feb 26", "Mar 30"
    ]  # fmt: skip
