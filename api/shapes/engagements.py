"""Members' own calendars over the wire. What comes back are times, never words; addresses only come in."""

from __future__ import annotations

from datetime import date, datetime

from pydantic import ConfigDict, Field

from ..free_nights import EveningAsked
from ..storage import EngagementRecord
from .base import Name, Shape, shared_with


class EngagementWish(Shape):
    """A member's own calendar."""

    model_config = ConfigDict(json_schema_extra={"examples": [{
        "name": "work", "zone": "Europe/London",
        "address": "https://calendars.example.org/private-7c1fe2/basic.ics",
    }]})  # fmt: skip
    name: Name = Field(examples=["work"])
    zone: str = Field(
        description="Time zone of its whole days, and of times that name none.", max_length=100,
        examples=["Europe/London"],
    )  # fmt: skip
    address: str | None = Field(
        None, description="Where it is fetched from, https only; kept sealed and never shown again. "
        "It is uploaded where null.", max_length=2000, pattern="^https://[!-~]+$",
        examples=["https://calendars.example.org/private-7c1fe2/basic.ics"],
    )  # fmt: skip


class FetchProblemShape(Shape):
    """Why a calendar could not be fetched again."""

    type: str = Field(examples=["/problems/not-fetched"])
    detail: str = Field(examples=["no calendar came from 'calendars.example.org': it cannot be reached"])
    at: datetime


class EngagementShape(Shape):
    """What is known of a member's own calendar."""

    id: str = Field(examples=["6a1b2c3d4e5f60718293"])
    member: str = Field(examples=["aa11bb22cc33dd44ee55"])
    name: str = Field(examples=["work"])
    zone: str = Field(examples=["Europe/London"])
    host: str | None = Field(description="Where it is fetched from; null where it is uploaded.",
                             examples=["calendars.example.org"])  # fmt: skip
    read: datetime | None = Field(description="When it was read last; null before the first time.")
    first: date = Field(description="The days it was read for begin here.")
    last: date = Field(description="They end here.")
    events: int = Field(description="Events that take up time then, repetitions not counted.", examples=[12])
    problem: FetchProblemShape | None = Field(description="Why it could not be fetched since.")
    revision: int = Field(description="Counts the changes from 1.", examples=[1])
    created: datetime
    changed: datetime
    links: dict[str, str]

    @classmethod
    def of(cls, record: EngagementRecord) -> EngagementShape:
        """Return `record` as it is shown."""
        here, told = f"/engagements/{record.id}", record.told
        links = {"self": here, "member": f"/members/{record.member}", "busy": f"{here}/busy",
                 "calendar": f"{here}/calendar.ics"}  # fmt: skip
        members = {name: told[name] for name in ("zone", "host", "read", "events", "problem")}
        return cls.model_validate({**shared_with(cls, record), **members, "links": links})


class EngagementPage(Shape):
    """A page of a member's own calendars, newest first."""

    items: list[EngagementShape]
    next: str | None = Field(description="Where the next page is; null on the last.", examples=[None])


class SpanShape(Shape):
    """A stretch of time, UTC."""

    start: datetime = Field(examples=["2027-02-20T19:00:00Z"])
    end: datetime = Field(examples=["2027-02-20T21:30:00Z"])


class BusyShape(Shape):
    """When a calendar's owner is busy, in order."""

    first: date
    last: date
    items: list[SpanShape]


class FreeNightShape(Shape):
    """An evening the scenario leaves free, and who of the members is free then: ids."""

    evening: date = Field(examples=["2027-02-20"])
    start: datetime = Field(description="Of the evening's own time; 18:00 where its rule names none.")
    end: datetime = Field(description="Its end; 02:00 where its rule names none.")
    free: list[str] = Field(examples=[["aa11bb22cc33dd44ee55"]])
    busy: list[str] = Field(description="Who would come along but is busy.")
    unread: list[str] = Field(description="Of the free: no calendar of theirs tells of this day.")
    enough: bool = Field(description="Whether so many are free as are needed.")

    @classmethod
    def of(cls, asked: EveningAsked) -> FreeNightShape:
        """Return an evening as it is shown."""
        return cls(
            evening=asked.evening, start=asked.time.start, end=asked.time.end, free=list(asked.free),
            busy=list(asked.busy), unread=list(asked.unread), enough=asked.enough,
        )  # fmt: skip


class FreeNightsShape(Shape):
    """The evenings of a season, in order."""

    items: list[FreeNightShape]
