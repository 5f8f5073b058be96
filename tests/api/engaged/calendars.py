"""Calendars written by hand, and what is read of them."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from api.engaged.expansion import busy_times_of

FIRST, LAST = date(2027, 1, 1), date(2027, 12, 31)
LONDON = "Europe/London"


def calendar(*components: str) -> bytes:
    """Return a calendar of components, each written with blanks for the ends of its lines."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Hendra//Diary//EN"]
    for one in components:
        lines += one.split("\n")
    return "\r\n".join([*lines, "END:VCALENDAR", ""]).encode()


def event(*lines: str, uid: str = "one") -> str:
    """Return an event."""
    return "\n".join(["BEGIN:VEVENT", f"UID:{uid}", "DTSTAMP:20260101T000000Z", *lines, "END:VEVENT"])


def busy(
    *components: str, zone: str = LONDON, first: date = FIRST, last: date = LAST
) -> list[tuple[str, str]]:
    """Return the busy times of a calendar as texts, in UTC, without the year."""
    found = busy_times_of(calendar(*components), first, last, ZoneInfo(zone))
    return [(_shown(span.start), _shown(span.end)) for span in found.spans]


def _shown(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%m-%d %H:%M}"
