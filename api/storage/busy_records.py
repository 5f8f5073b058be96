"""What storage takes and gives of members' own calendars."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from scheduler.domain import Span

from .records import Revised


@dataclass(frozen=True, slots=True)
class NewEngagement:
    """A member's own calendar to be kept.

    Attributes
    ----------
    name : What its owner calls it.
    first, last : The days it was read for, both included.
    told : What is told of it: its zone, the host of its address, when it was read and what came of that.
    address : Where it is fetched from, sealed; None where it is uploaded.
    busy : When its owner is busy.
    """

    name: str
    first: date
    last: date
    told: Mapping[str, Any]
    address: bytes | None = field(default=None, repr=False)
    busy: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class EngagementRecord(Revised):
    """A member's own calendar as it is kept, of the times nothing but `first` and `last`."""

    number: int
    id: str
    member: str
    name: str
    address: bytes | None = field(repr=False)
    first: date
    last: date
    told: Mapping[str, Any]
    revision: int
    created: datetime
    changed: datetime


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a member's time: busy in `spans`, by calendars read for the days of each of `read`."""

    spans: tuple[Span, ...] = ()
    read: tuple[tuple[date, date], ...] = ()

    def covers(self, day: date) -> bool:
        """Tell whether a calendar of theirs was read for a day."""
        return any(first <= day <= last for first, last in self.read)
