"""Members' own calendars fetched, uploaded and read again: times are kept, what stood beside them is not."""

from __future__ import annotations

from collections.abc import Set
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from scheduler.errors import InvalidValue

from .calendar_errors import AddressRefused, CalendarFaults, CalendarTooHard, NoAddress, NotFetched
from .deps import Services
from .engaged import BusyTimes
from .fetching import checked_address
from .kinds import kind_of
from .settings import allowed_zone
from .storage import EngagementRecord, NewEngagement

READ_AHEAD_DAYS = 731
MOST_OF_A_MEMBER = 10


def engaged(services: Services, member: str, name: str, zone: str, address: str | None) -> EngagementRecord:
    """Keep a member's calendar. One with an address is fetched at once, so that a wrong one is told at once.

    Raises
    ------
    InvalidValue
        The time zone is none this service allows.
    NoSealKey
        The address cannot be sealed.
    AddressRefused, NotFetched, CalendarFaults, CalendarTooHard
        No calendar came from there, or none that can be read; nothing has been kept.
    """
    if not allowed_zone(zone, services.settings):
        raise InvalidValue("zone", zone, "a time zone this service allows")
    first, last = _days(services, zone)
    told: dict[str, Any] = {"zone": zone, "host": None, "read": None, "events": 0, "problem": None}
    if address is None:
        new = NewEngagement(name, first, last, told)
        return services.storage.engagements.add(member, new, MOST_OF_A_MEMBER)
    told["host"] = checked_address(address).host
    sealed = services.seal().sealed(address)
    busy = services.reading.read(services.fetch(address), first, last, zone)
    new = NewEngagement(name, first, last, _told(services, told, busy), sealed, busy.spans)
    return services.storage.engagements.add(member, new, MOST_OF_A_MEMBER)


def uploaded(
    services: Services, engagement: str, content: bytes, expected: Set[int] | None
) -> EngagementRecord:
    """Let a calendar that was sent take the place of what was known; an unreadable one changes nothing."""
    return _read_again(services, services.storage.engagements.get(engagement), content, expected)


def fetched_again(services: Services, engagement: str) -> EngagementRecord:
    """Fetch a calendar again from its address.

    Raises
    ------
    NoAddress
        It has none.
    SealBroken, NoSealKey
        Its address cannot be opened.
    AddressRefused, NotFetched, CalendarFaults, CalendarTooHard
        As `engaged`; this is told of it from now on, and what was known of its times stays.
    """
    record = services.storage.engagements.get(engagement)
    if record.address is None:
        raise NoAddress
    address = services.seal().opened(record.address)
    try:
        return _read_again(services, record, services.fetch(address), None)
    except (AddressRefused, NotFetched, CalendarFaults, CalendarTooHard) as problem:
        told = {"type": kind_of(problem).type, "detail": str(problem).partition("\n")[0].rstrip(":"),
                "at": services.storage.now().isoformat()}  # fmt: skip
        services.storage.engagements.tell(engagement, {**record.told, "problem": told})
        raise


def _read_again(
    services: Services, record: EngagementRecord, content: bytes, expected: Set[int] | None
) -> EngagementRecord:
    zone = record.told["zone"]
    first, last = _days(services, zone)
    busy = services.reading.read(content, first, last, zone)
    told = _told(services, record.told, busy)
    new = NewEngagement(record.name, first, last, told, busy=busy.spans)
    return services.storage.engagements.read_again(record.id, new, expected)


def _told(services: Services, before: Any, busy: BusyTimes) -> dict[str, Any]:
    now: datetime = services.storage.now()
    return {**before, "read": now.isoformat(), "events": busy.events, "problem": None}


def _days(services: Services, zone: str) -> tuple[date, date]:
    """Return the days a calendar is read for: from yesterday, where its owner is, to two years from now."""
    today = services.storage.now().astimezone(ZoneInfo(zone)).date()
    return today - timedelta(days=1), today + timedelta(days=READ_AHEAD_DAYS)
