"""What members are told: entries of calendars, the publications they come from, and feeds that show them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from typing import Any, TypeAlias

from .records import Revised

EntryVersion: TypeAlias = tuple[str, int, datetime]
"""A night's uid, its sequence, and when it changed last."""


class EntryState(StrEnum):
    """Whether a night is still planned."""

    PLANNED = "planned"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True)
class EntryRecord:
    """A night as members' calendars have it.

    Attributes
    ----------
    uid : Its name for ever, random, also when it is withdrawn and planned again.
    told : The night's notice as it was last told: start, end, title, place, observers, categories, lines,
        care, clear_odds.
    sequence : Counts its changes from 0.
    changed : When it last changed, by the second.
    announced : Since when members can count on it; None while it is provisional.
    carried : Whether the scenario has been told that it is announced.
    amends : What changed since it was announced, oldest first: `on` and `words`.
    outcome : How the night went, by the log; None before.
    """

    number: int
    calendar: str
    uid: str
    evening: date
    told: Mapping[str, Any]
    state: EntryState
    sequence: int
    created: datetime
    changed: datetime
    announced: datetime | None
    carried: bool
    amends: Sequence[Mapping[str, Any]]
    outcome: str | None

    @property
    def version(self) -> EntryVersion:
        """What tells one state of it from another, also where an older state was brought back with a club."""
        return self.uid, self.sequence, self.changed


@dataclass(frozen=True, slots=True)
class Publication:
    """A plan as its scenario's calendar is to show it.

    Attributes
    ----------
    plan : Its id.
    previous : The id of the plan it was held against; None where the calendar showed none.
    nights : The notice of each night, by evening as in "2027-01-13".
    open_from : Earlier evenings stay as they were told.
    amends : What became of evenings, in lines, by evening.
    announced : Evenings the scenario itself has announced.
    today : The date at the site.
    """

    plan: str
    previous: str | None
    nights: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    open_from: date = date.min
    amends: Mapping[str, Sequence[str]] = field(default_factory=dict)
    announced: Collection[date] = ()
    today: date = date.min


class Shows(StrEnum):
    """What a feed shows: all nights of a club, those of one observer or one scenario; or the sky's dates."""

    CLUB = "club"
    OBSERVER = "observer"
    SCENARIO = "scenario"
    SKY = "sky"


@dataclass(frozen=True, slots=True)
class NewFeed:
    """A feed to be made: of a scenario, or of an observer by name, where it shows one."""

    shows: Shows
    scenario: str | None = None
    observer: str | None = None


@dataclass(frozen=True, slots=True)
class FeedRecord(Revised):
    """A kept feed; whoever has its `secret` may read it."""

    number: int
    id: str
    club: str
    scenario: str | None
    shows: Shows
    observer: str | None
    secret: str
    revision: int
    created: datetime
    changed: datetime
