"""Calendars spoilt at random are read, or refused with faults; nothing else happens."""

from __future__ import annotations

import random
from datetime import timedelta
from zoneinfo import ZoneInfo

from api.calendar_errors import CalendarFaults
from api.engaged.expansion import busy_times_of

from .calendars import FIRST, LAST, calendar, event
from .test_expansion import HELSINKI_LIKE

SEED, TRIES = 20270221, 600
WHOLE = calendar(
    HELSINKI_LIKE.format(name="Ours"),
    event("DTSTART;TZID=Ours:20270105T190000", "DTEND;TZID=Ours:20270105T210000",
          "RRULE:FREQ=MONTHLY;BYDAY=2TU,-1FR;BYSETPOS=1;WKST=SU;COUNT=9", "EXDATE;TZID=Ours:20270209T190000"),
    event("RECURRENCE-ID;RANGE=THISANDFUTURE;TZID=Ours:20270309T190000", "DTSTART;TZID=Ours:20270309T200000",
          "DURATION:PT1H30M", "SEQUENCE:2", "STATUS:TENTATIVE"),
    event("DTSTART;VALUE=DATE:20270201", "DTEND;VALUE=DATE:20270203", "TRANSP:OPAQUE",
          "RDATE;VALUE=DATE:20270301", "RRULE:FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=1;UNTIL=20300101", uid="days"),
    event("DTSTART:20270105T190000Z", "DURATION:P1DT2H", "RDATE;VALUE=PERIOD:20270401T190000Z/PT3H",
          uid="rdate"),
    "BEGIN:VFREEBUSY\nFREEBUSY;FBTYPE=BUSY:20270103T080000Z/PT1H,20270104T080000Z/20270104T090000Z\n"
    "END:VFREEBUSY",
).decode()  # fmt: skip
PIECES = ("", "0", "9", "-", ":", ";", ",", "=", "Z", "T", "\r\n", "\r\n ", "é", '"', "^", "/", "\t",
          "BEGIN:VEVENT", "19700101T000000", "FREQ=DAILY;", "TZID=", "P",
          "+9999", "1601", "Europe/London", "BYDAY=MO;")  # fmt: skip


def spoilt(draw: random.Random) -> str:
    text = WHOLE
    for _ in range(draw.randint(1, 4)):
        at = draw.randrange(len(text))
        text = text[:at] + draw.choice(PIECES) + text[at + draw.choice((0, 1, 1, 3, 10)) :]
    return text


def test_calendars_spoilt_at_random() -> None:
    draw, read = random.Random(SEED), 0
    for _ in range(TRIES):
        text = spoilt(draw)
        try:
            busy = busy_times_of(text.encode(), FIRST, LAST, ZoneInfo("Australia/Lord_Howe"))
        except CalendarFaults:
            continue
        read += 1
        for one, after in zip(busy.spans, busy.spans[1:], strict=False):
            assert one.end < after.start, text
        assert sum((one.end - one.start for one in busy.spans), timedelta()) <= timedelta(days=366), text
    assert TRIES / 20 < read < TRIES, "some are read and some are not"
