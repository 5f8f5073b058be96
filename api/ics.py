"""Nights as iCalendar: the text of a feed, of one event, and of a single night for a calendar server.

A text follows from what is kept alone, so that it is the same to the byte as long as nothing has changed.

References
----------
B. Desruisseaux (ed.), "Internet Calendaring and Scheduling Core Object Specification (iCalendar)", RFC 5545,
2009. C. Daboo, "New Properties for iCalendar", RFC 7986, 2016 (NAME, REFRESH-INTERVAL). No METHOD: a feed is
no invitation (C. Daboo, RFC 5546, 2009). X-WR-CALNAME and X-PUBLISHED-TTL: common practice, no source.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import groupby
from threading import Lock

from icalendar import Alarm, Calendar, Event, vDuration, vText

from scheduler.figures import percent

from .storage import EntryRecord, EntryState

PRODUCT = "-//Duskwright//Duskwright//EN"
REFRESH = timedelta(hours=1)
FORM = 1
"""Counts the ways in which entries have been written; entity tags hold it."""
MOST_KEPT = 20_000
_BARE = {one: None for one in [*range(32), *range(127, 160), 0x2028, 0x2029, 0xFEFF] if one not in (9, 10)}


def clean(text: str) -> str:
    r"""Return a text without control characters but tabulators and ends of lines, and byte order marks.

    Examples
    --------
    >>> clean("M 31\x07\r\n\u2028größer \N{HORSE}")
    'M 31\ngrößer 🐎'
    """
    return text.translate(_BARE)


class _Text(vText):
    r"""A text as RFC 5545 escapes it (section 3.3.11); the library takes a backslash before N for a new line.

    Examples
    --------
    >>> print(_Text("C:\\NGC 7331, and\nmore").to_ical().decode())
    C:\\NGC 7331\, and\nmore
    """

    def to_ical(self) -> bytes:
        """Return the text escaped."""
        escaped = str(self).translate({ord(one): f"\\{one}" for one in "\\;,"})
        return escaped.replace("\n", r"\n").encode()


def text_of(words: str) -> vText:
    """Return words as a property takes them."""
    return _Text(clean(words))


def event_of(entry: EntryRecord, link: str | None = None, alarm_min: int | None = None) -> Event:
    """Return a night as an event.

    Parameters
    ----------
    link : The night's page.
    alarm_min : How long before the meeting to be reminded; never of a night withdrawn. [min]
    """
    told, planned = entry.told, entry.state is EntryState.PLANNED
    event = Event()
    event.add("uid", entry.uid)
    event.add("sequence", entry.sequence)
    event.add("created", entry.created)
    event.add("dtstamp", entry.changed)
    event.add("last-modified", entry.changed)
    event.add("dtstart", datetime.fromisoformat(told["start"]).astimezone(UTC))
    event.add("dtend", datetime.fromisoformat(told["end"]).astimezone(UTC))
    event.add("summary", text_of(title_of(entry)))
    event.add("description", text_of("\n".join(lines_of(entry))))
    event.add("location", text_of(told["place"]))
    event.add("categories", [clean(one) for one in told["categories"]])
    event.add("status", status_of(entry))
    if not planned:
        event.add("transp", "TRANSPARENT")
    if link is not None:
        event.add("url", link)
    if alarm_min is not None and planned and entry.outcome is None:
        event.add_component(alarm_of(entry.told["title"], alarm_min))
    return event


def status_of(entry: EntryRecord) -> str:
    """Return how sure a night is: provisional until it is announced or over."""
    if entry.state is EntryState.WITHDRAWN:
        return "CANCELLED"
    return "CONFIRMED" if entry.announced is not None or entry.outcome is not None else "TENTATIVE"


def title_of(entry: EntryRecord) -> str:
    """Return what a night is called, with its outcome once there is one."""
    title: str = entry.told["title"]
    return f"{title} ({entry.outcome})" if entry.outcome else title


def lines_of(entry: EntryRecord) -> list[str]:
    """Return all that is told of a night, a paragraph a line."""
    amends = [f"Changed on {amend['on']}: {'; '.join(amend['words'])}." for amend in entry.amends]
    if entry.state is EntryState.WITHDRAWN:
        return ["This night is no longer planned.", *amends]
    if entry.outcome is not None:
        return [f"How it went: {entry.outcome}.", *amends, *entry.told["lines"]]
    provisional = ["Provisional: it may still move until it is announced."] if entry.announced is None else []
    odds = f"Clear odds {percent(entry.told['clear_odds'])}."
    return [*provisional, *amends, odds, *entry.told["lines"]]


def care_of(entry: EntryRecord) -> list[str]:
    """Return what is told of a coming night beyond its event, so that feeds stay small."""
    coming = entry.state is EntryState.PLANNED and entry.outcome is None
    return ["", *entry.told["care"]] if coming else []


@dataclass(frozen=True, slots=True)
class NightTold:
    """A night as a page tells of it: what its event says, in parts of some lines, and what to beware of."""

    title: str
    place: str
    parts: tuple[tuple[str, ...], ...]
    care: tuple[str, ...]


def night_told(entry: EntryRecord) -> NightTold:
    """Return what an event tells of a night, and no more, for a page."""
    lines = clean("\n".join(lines_of(entry))).split("\n")
    parts = (tuple(group) for filled, group in groupby(lines, bool) if filled)
    care = clean("\n".join(care_of(entry))).split("\n")
    return NightTold(
        clean(title_of(entry)), clean(entry.told["place"]), tuple(parts), tuple(filter(None, care))
    )


def alarm_of(title: str, alarm_min: int) -> Alarm:
    """Return a reminder of an event, so long before its start. [min]"""
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", text_of(title))
    alarm.add("trigger", timedelta(minutes=-alarm_min))
    return alarm


def _calendar(name: str | None = None, uid: str | None = None) -> Calendar:
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    if name is not None:
        calendar.add("name", text_of(name))
        calendar.add("x-wr-calname", text_of(name))
        calendar.add("uid", uid)
        calendar.add("refresh-interval", vDuration(REFRESH), parameters={"VALUE": "DURATION"})
        calendar.add("x-published-ttl", vDuration(REFRESH))
    return calendar


def single(entry: EntryRecord, link: str | None = None) -> str:
    """Return one night as a calendar of its own, as a calendar server keeps it (RFC 4791, section 4.1)."""
    calendar = _calendar()
    calendar.add_component(event_of(entry, link))
    text: str = calendar.to_ical().decode()
    return text


def whole(name: str, uid: str, events: Iterable[str]) -> str:
    """Return the text of a feed of events that are written already.

    Parameters
    ----------
    name : What calendars call it.
    uid : Its own, for ever.
    """
    head, end, rest = _calendar(name, uid).to_ical().decode().rpartition("END:VCALENDAR")
    return f"{head}{''.join(events)}{end}{rest}"


class Pages:
    """Writes nights as events; those written before are kept, for one takes most of a millisecond."""

    def __init__(self) -> None:
        self._kept: OrderedDict[tuple[object, ...], str] = OrderedDict()
        self._lock = Lock()

    def events(
        self, entries: Iterable[EntryRecord], link_of: Callable[[date], str], alarm_min: int | None = None
    ) -> Iterator[str]:
        """Yield each night as an event, as it stands in a feed.

        Parameters
        ----------
        link_of : The page of an evening.
        alarm_min : As in `event_of`.
        """
        for entry in entries:
            yield self._event(entry, link_of(entry.evening), alarm_min)

    def _event(self, entry: EntryRecord, link: str, alarm_min: int | None) -> str:
        key = entry.version, link, alarm_min
        with self._lock:
            known = self._kept.get(key)
            if known is not None:
                self._kept.move_to_end(key)
                return known
        written: str = event_of(entry, link, alarm_min).to_ical().decode()
        with self._lock:
            self._kept[key] = written
            if len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
        return written
