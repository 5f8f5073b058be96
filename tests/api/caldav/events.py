"""Events as a feed shows them, and what a person does to them with a calendar program."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from uuid import UUID, uuid5

import icalendar
from ical.calendar_stream import IcsCalendarStream

from api.caldav import Item, Pushed

_NAMES = UUID("4f303f3e-0000-4000-8000-000000000000")
_DUSK = datetime(2026, 9, 12, 20, 0, tzinfo=UTC)


def item_of(night: int, sequence: int = 0, told: str = "M 13, then M 57", *, off: bool = False) -> Item:
    """The event of the n-th planned night."""
    dusk = _DUSK + timedelta(days=night)
    event = icalendar.Event()
    event.add("uid", uid_of(night))
    event.add("summary", f"Observing; night {night}")
    event.add("description", f"{told}\nDress warmly: {'dew ' * 30}\\o/ größer")
    event.add("location", "Larkmoor, the allotment")
    event.add("dtstart", dusk)
    event.add("dtend", dusk + timedelta(hours=4))
    event.add("dtstamp", _DUSK + timedelta(minutes=sequence))
    event.add("last-modified", _DUSK + timedelta(minutes=sequence))
    event.add("sequence", sequence)
    event.add("status", "CANCELLED" if off else "CONFIRMED")
    calendar = icalendar.Calendar()
    calendar.add("version", "2.0")
    calendar.add("prodid", "-//Duskwright//EN")
    calendar.add_component(event)
    return Item(uid_of(night), calendar.to_ical().decode(), dusk.date())


def items_of(nights: Iterable[int]) -> list[Item]:
    return [item_of(night) for night in nights]


def uid_of(night: int) -> str:
    return str(uuid5(_NAMES, f"night {night}"))


def name_of(night: int) -> str:
    return f"{uid_of(night)}.ics"


def evening_of(night: int) -> date:
    return (_DUSK + timedelta(days=night)).date()


def edited(text: bytes, **changes: str) -> str:
    """The event as another program writes it after a person changed something."""
    calendar = icalendar.Calendar.from_ical(text)
    calendar["PRODID"] = "-//Another//Program//EN"
    for name, value in changes.items():
        calendar.walk("VEVENT")[0][name] = icalendar.vText(value)
    return str(calendar.to_ical(sorted=True).decode())


def seen(events: dict[str, bytes]) -> dict[str, tuple[str, int, str]]:
    """What a person sees, by another reader than ours: summary, sequence and status by UID."""
    told = {}
    for text in events.values():
        (event,) = IcsCalendarStream.calendar_from_ics(text.decode()).events
        told[event.uid] = (
            str(event.summary),
            event.sequence or 0,
            event.status.value if event.status else "",
        )
    return told


def expected(items: Iterable[Item]) -> dict[str, tuple[str, int, str]]:
    return seen({item.uid: item.text.encode() for item in items})


@dataclass
class Notes:
    """What is remembered of a collection, in memory."""

    pushed: dict[str, Pushed] = field(default_factory=dict)

    def note(self, uid: str, pushed: Pushed) -> None:
        self.pushed[uid] = pushed

    def forget(self, uid: str) -> None:
        self.pushed.pop(uid, None)
