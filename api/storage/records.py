"""What storage takes and gives: frozen records, none of them tied to the database."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any, Generic, TypeAlias, TypeVar

Record = TypeVar("Record")


@dataclass(frozen=True, slots=True)
class Page(Generic[Record]):
    """A page of records, newest first; `cursor` continues after its last one, None at the end."""

    items: tuple[Record, ...]
    cursor: int | None


class Role(StrEnum):
    """What a key lets its bearer do; each role may do all that those before it may."""

    READER = "reader"
    MEMBER = "member"
    PLANNER = "planner"
    OWNER = "owner"

    def covers(self, needed: Role) -> bool:
        """Tell whether this role may do what `needed` may.

        Examples
        --------
        >>> Role.PLANNER.covers(Role.MEMBER), Role.READER.covers(Role.MEMBER)
        (True, False)
        """
        ranks = list(Role)
        return ranks.index(self) >= ranks.index(needed)


@dataclass(frozen=True, slots=True)
class NewKey:
    """A key to be made: of one club, or of the whole service where None; until when, for ever where None."""

    club: str | None
    role: Role
    name: str
    expires: datetime | None = None


@dataclass(frozen=True, slots=True)
class KeyRecord:
    """A kept key. Its secret is not: only `digest`, the SHA-256 of it."""

    number: int
    id: str
    club: str | None
    role: Role
    name: str
    digest: str
    created: datetime
    expires: datetime | None
    revoked: datetime | None


def tag_of(revision: int) -> str:
    """Return the entity tag of a revision.

    Examples
    --------
    >>> tag_of(3)
    '"r3"'
    """
    return f'"r{revision}"'


class Revised:
    """Something that can be changed; each change makes a new revision of it."""

    __slots__ = ()
    revision: int

    @property
    def tag(self) -> str:
        """Its entity tag, as If-Match and If-None-Match quote it."""
        return tag_of(self.revision)


@dataclass(frozen=True, slots=True)
class ClubRecord(Revised):
    """A kept club."""

    number: int
    id: str
    name: str
    revision: int
    created: datetime
    changed: datetime


class Noun(StrEnum):
    """What a club has and its scenarios share."""

    MEMBER = "member"
    SITE = "site"
    TELESCOPE = "telescope"


@dataclass(frozen=True, slots=True)
class NewShared:
    """A member, site or telescope: its name, and the keys of its table in scenario.toml."""

    name: str
    settings: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class SharedRecord(Revised):
    """A kept member, site or telescope of a club."""

    number: int
    id: str
    club: str
    name: str
    settings: Mapping[str, Any]
    revision: int
    created: datetime
    changed: datetime


@dataclass(frozen=True, slots=True)
class ScenarioFiles:
    """A scenario's files, byte for byte as they came; an empty forecast is none."""

    scenario_toml: bytes
    wish_list_csv: bytes
    forecast_csv: bytes = b""


Uses: TypeAlias = Mapping[str, Sequence[str]]
"""What of the club's a scenario takes over: ids of members, sites and telescopes, by noun."""


@dataclass(frozen=True, slots=True)
class NewScenario:
    """A scenario that has been read without a fault, and what lists say about it."""

    name: str
    title: str
    targets: int
    season_start: date
    season_nights: int
    files: ScenarioFiles


@dataclass(frozen=True, slots=True)
class ScenarioRecord(Revised):
    """A kept scenario; `revision` counts its changes from 1, `number` orders all scenarios by age."""

    number: int
    id: str
    club: str
    revision: int
    name: str
    title: str
    targets: int
    season_start: date
    season_nights: int
    uses: Uses
    created: datetime
    changed: datetime


@dataclass(frozen=True, slots=True)
class NewOutcome:
    """How a night went: a line of the log, in the words of outcomes.csv."""

    evening: date
    outcome: str
    usable_min: int | None = None
    seen: Sequence[str] = ()
    seen_poorly: Sequence[str] = ()
    not_seen: Sequence[str] = ()
    notes: str = ""
    sky_brightness: float | None = None


@dataclass(frozen=True, slots=True)
class Sent:
    """How a line was sent, so that it can be sent again when nobody knows whether it arrived.

    Attributes
    ----------
    key : The sender's own, another for each line; whatever comes under it again is not added again.
    over : Which line stood for the evening when this one was written, 0 for none; any where None. A line that
        only counts the night as past gives way all the same.
    """

    key: str | None = None
    over: int | None = None


@dataclass(frozen=True, slots=True)
class OutcomeRecord:
    """A kept line of a scenario's log; lines count from 1 and never change."""

    scenario: str
    line: int
    evening: date
    outcome: str
    usable_min: int | None
    seen: Sequence[str]
    seen_poorly: Sequence[str]
    not_seen: Sequence[str]
    notes: str
    sky_brightness: float | None
    logged: datetime
    key: str | None
