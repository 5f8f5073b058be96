"""Three readers of iCalendar, each by another hand, and what each finds in a feed. Not shipped.

`icalendar` writes the feeds; `ical` and `vobject` share no code with it. The raw lines are read here as RFC
5545 says (section 3.1), by nobody's library.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import icalendar
import vobject
from ical.calendar_stream import IcsCalendarStream


@dataclass(frozen=True)
class Seen:
    """An event as a calendar program would show it."""

    uid: str
    sequence: int
    stamp: datetime
    modified: datetime
    start: datetime
    end: datetime
    title: str
    text: str
    place: str
    status: str
    alarms: int


def by_icalendar(feed: str) -> list[Seen]:
    def seen(one: Any) -> Seen:
        return Seen(
            str(one["uid"]), one["sequence"], one.decoded("dtstamp"), one.decoded("last-modified"),
            one.decoded("dtstart"), one.decoded("dtend"), str(one["summary"]), str(one["description"]),
            str(one["location"]), str(one["status"]), len(one.walk("VALARM")),
        )  # fmt: skip

    return [seen(one) for one in icalendar.Calendar.from_ical(feed).walk("VEVENT")]


def by_ical(feed: str) -> list[Seen]:
    def seen(one: Any) -> Seen:
        return Seen(
            one.uid, one.sequence, one.dtstamp, one.last_modified, one.dtstart, one.dtend, one.summary,
            one.description, one.location, one.status.value, len(one.alarm),
        )  # fmt: skip

    return [seen(one) for one in IcsCalendarStream.calendar_from_ics(feed).events]


def by_vobject(feed: str) -> list[Seen]:
    def seen(one: Any) -> Seen:
        def value(name: str) -> Any:
            return one.contents[name][0].value

        return Seen(
            value("uid"), int(value("sequence")), value("dtstamp"), value("last-modified"), value("dtstart"),
            value("dtend"), value("summary"), value("description"), value("location"), value("status"),
            len(one.contents.get("valarm", ())),
        )  # fmt: skip

    return [seen(one) for one in vobject.readOne(feed).contents.get("vevent", ())]


READERS: Mapping[str, Callable[[str], list[Seen]]] = {
    "icalendar": by_icalendar, "ical": by_ical, "vobject": by_vobject,
}  # fmt: skip


def content_lines(feed: bytes) -> list[str]:
    """Return the unfolded lines of a feed; every raw one is short, ends with CRLF, and is whole UTF-8."""
    assert feed.endswith(b"\r\n")
    raw = feed[:-2].split(b"\r\n")
    assert not any(re.search(rb"[\x00-\x08\x0a-\x1f\x7f]", line) for line in raw)
    assert max(map(len, raw)) <= 75, "RFC 5545, section 3.1: 75 octets without the break"
    for line in raw:
        line.decode()  # no character is cut in two
    return re.sub(rb"\r\n[ \t]", b"", feed[:-2]).decode().split("\r\n")
