"""Calendars, the nights they tell of, and feeds, over the wire."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Annotated

from pydantic import ConfigDict, Field, StrictBool, model_validator
from pydantic_core import PydanticCustomError

from ..storage import CalendarRecord, EntryRecord, EntryState, FeedRecord, Shows
from .base import A_NUMBER, Id, Name, Shape, shared_with


class CalendarWish(Shape):
    """How a scenario's calendar tells of its plans."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"follows": True, "announce_weeks": 2}]})
    follows: StrictBool = Field(description="Whether every re-plan is published by itself.")
    announce_weeks: Annotated[int, Field(ge=0, le=60), A_NUMBER] = Field(
        description="Nights within so many weeks are announced: re-plans let them stand. 0 announces none."
    )


class CalendarShape(Shape):
    """Which plan a scenario's calendar shows, and how it tells of it."""

    id: str = Field(examples=["c0ffee00112233445566"])
    scenario: str = Field(examples=["3f9a0c52d1e84b7766aa"])
    plan: str = Field(examples=["77c0de1f2a3b4c5d6e7f"])
    follows: bool = Field(description="Whether every re-plan is published by itself.", examples=[False])
    announce_weeks: int = Field(description="Nights within so many weeks are announced.", examples=[2])
    revision: int = Field(description="Counts its changes from 1.", examples=[1])
    changed: datetime
    links: dict[str, str] = Field(examples=[{"plan": "/plans/77c0de1f2a3b4c5d6e7f"}])

    @classmethod
    def of(cls, record: CalendarRecord) -> CalendarShape:
        """Return `record` as it is shown."""
        here = f"/scenarios/{record.scenario}/calendar"
        links = {"self": here, "nights": f"{here}/nights", "plan": f"/plans/{record.plan}"}
        return cls(**shared_with(cls, record), links=links)


class CalendarNightShape(Shape):
    """A night as members' calendars have it."""

    evening: date
    uid: str = Field(
        description="The event's name for ever.", examples=["0b6d3c4e-8f2a-4d1b-9c3e-5a7f1e2d3c4b"]
    )
    state: EntryState
    sequence: int = Field(description="Counts its changes from 0.", examples=[1])
    title: str = Field(examples=["Night out: M 42, M 33 and 4 more"])
    start: datetime = Field(description="Meeting at the site.")
    end: datetime = Field(description="Packed.")
    place: str = Field(examples=["Far Carn"])
    observers: list[str] = Field(description="Who comes along.", examples=[["Jory"]])
    clear_odds: float = Field(ge=0, le=1, examples=[0.27])
    announced: datetime | None = Field(description="Since when it stands; null while provisional.")
    amends: list[str] = Field(
        description="What changed since it was announced.", examples=[["M 48 moved to 30 Jan: made room"]]
    )
    outcome: str | None = Field(description="How it went, by the log.", examples=[None])
    changed: datetime

    @classmethod
    def of(cls, record: EntryRecord) -> CalendarNightShape:
        """Return `record` as it is shown."""
        told = {name: value for name, value in record.told.items() if name in cls.model_fields}
        amends = [words for amend in record.amends for words in amend["words"]]
        return cls(**(shared_with(cls, record) | told | {"amends": amends}))


class CalendarNights(Shape):
    """The nights a scenario's calendar tells of, withdrawn ones too, by evening."""

    items: list[CalendarNightShape]

    @classmethod
    def of(cls, records: Sequence[EntryRecord]) -> CalendarNights:
        """Return `records` as they are shown."""
        return cls(items=[CalendarNightShape.of(one) for one in records])


class FeedWish(Shape):
    """What a feed is to show: nights of a club, an observer or a scenario, or a scenario's sky dates."""

    model_config = ConfigDict(json_schema_extra={
        "examples": [{"shows": "observer", "observer": "Jory"},
                     {"shows": "sky", "scenario": "3f9a0c52d1e84b7766aa"}, {"shows": "club"}],
        "oneOf": [
            {"properties": {"shows": {"const": "club"}, "scenario": {"type": "null"},
                            "observer": {"type": "null"}}},
            {"properties": {"shows": {"const": "observer"}, "scenario": {"type": "null"},
                            "observer": {"type": "string"}}, "required": ["observer"]},
            {"properties": {"shows": {"enum": ["scenario", "sky"]}, "scenario": {"type": "string"},
                            "observer": {"type": "null"}}, "required": ["scenario"]},
        ],
    })  # fmt: skip
    shows: Shows
    scenario: Id | None = Field(None, description="Where it shows one.")
    observer: Name | None = Field(None, description="Where it shows one: the name, as scenarios have it.")

    @model_validator(mode="after")
    def _one_of_them(self) -> FeedWish:
        needed = {Shows.CLUB: None, Shows.OBSERVER: "observer"}.get(self.shows, "scenario")
        given = {name for name in ("scenario", "observer") if getattr(self, name) is not None}
        if given != ({needed} if needed else set()):
            told = f"`{needed}`, and nothing else" if needed else "neither `scenario` nor `observer`"
            raise PydanticCustomError("feed", "a feed that shows {shows} names {told}",
                                      {"shows": "the sky" if self.shows is Shows.SKY else f"a {self.shows}",
                                       "told": told})  # fmt: skip
        return self


class FeedShape(Shape):
    """A feed, and where it is read."""

    id: str = Field(examples=["feed0011223344556677"])
    club: str = Field(examples=["5b0e6d1f2a3c49887766"])
    shows: Shows
    scenario: str | None = Field(examples=[None])
    observer: str | None = Field(examples=["Jory"])
    address: str = Field(
        description="A secret: whoever has it may read the feed.",
        examples=["https://plans.example.org/calendars/u3Xk2b9sQm4v7Lr1TzYd0cWnEpG.ics"],
    )
    created: datetime
    changed: datetime = Field(description="When its address was last made anew.")
    links: dict[str, str] = Field(examples=[{"self": "/feeds/feed0011223344556677"}])

    @classmethod
    def of(cls, record: FeedRecord, address: str) -> FeedShape:
        """Return `record` as it is shown."""
        here = f"/feeds/{record.id}"
        links = {"self": here, "rotate": f"{here}/rotate"}
        return cls(**shared_with(cls, record), address=address, links=links)


class FeedPage(Shape):
    """A page of feeds, newest first."""

    items: list[FeedShape]
    next: str | None = Field(description="Where the next page is; null on the last.", examples=[None])
