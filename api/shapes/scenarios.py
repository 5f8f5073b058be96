"""Scenarios over the wire, and their parts."""

from __future__ import annotations

from datetime import date, datetime

from pydantic import ConfigDict, Field

from scheduler.domain.outcome import BRIGHTEST_SKY, DARKEST_SKY

from ..storage import OutcomeRecord, ScenarioRecord
from .base import Day, Id, Name, Need, Number, Shape, Whole, Words, shared_with


class ScenarioShape(Shape):
    """A kept scenario."""

    id: str = Field(examples=["3f9a0c52d1e84b7766aa"])
    name: str = Field(examples=["winter-year"])
    title: str = Field(examples=["A winter year from the allotment"])
    revision: int = Field(description="Counts the changes from 1.", examples=[1])
    club: str = Field(examples=["5b0e6d1f2a3c49887766"])
    targets: int = Field(description="Entries of the wish-list.", examples=[60])
    season_start: date = Field(description="First evening of the season.", examples=["2026-09-01"])
    season_nights: int = Field(description="Nights of the season.", examples=[365])
    created: datetime
    changed: datetime
    links: dict[str, str] = Field(examples=[{
        "self": "/scenarios/3f9a0c52d1e84b7766aa",
        "scenario_toml": "/scenarios/3f9a0c52d1e84b7766aa/scenario.toml",
        "wish_list_csv": "/scenarios/3f9a0c52d1e84b7766aa/wish-list.csv",
        "plans": "/scenarios/3f9a0c52d1e84b7766aa/plans",
    }])  # fmt: skip

    @classmethod
    def of(cls, record: ScenarioRecord) -> ScenarioShape:
        """Return `record` as it is shown."""
        here = f"/scenarios/{record.id}"
        names = ("scenario.toml", "wish-list.csv", "forecast.csv", "outcomes.csv", "outcomes", "targets",
                 "availability", "uses", "plans", "calendar")  # fmt: skip
        links = {name.replace(".", "_").replace("-", "_"): f"{here}/{name}" for name in names}
        links |= {"self": here, "club": f"/clubs/{record.club}"}
        return cls(**shared_with(cls, record), links=links)


class ScenarioPage(Shape):
    """A page of scenarios, newest first."""

    items: list[ScenarioShape]
    next: str | None = Field(description="Where the next page is; null on the last.", examples=[None])


class UsesShape(Shape):
    """What of its club a scenario takes over, whenever it is planned: ids."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"members": ["aa11bb22cc33dd44ee55"]}]})
    home: Id | None = Field(None, description="The site one starts from; its own where null.")
    members: list[Id] = Field([], max_length=50, examples=[["aa11bb22cc33dd44ee55"]])
    sites: list[Id] = Field([], max_length=50, description="Sites away.")
    telescopes: list[Id] = Field([], max_length=50)
    need: Need | None = Field(
        None, description="How many of the members must be free by their own calendars: any, all, or a "
        "number. On evenings they are busy, or too few are free, they do not come along. Calendars do not "
        "count where null.", examples=["any"],
    )  # fmt: skip


class EveningsShape(Shape):
    """On these weekdays one is free from `start` to `finish`."""

    weekdays: str | list[str] = Field("Mon to Sun", examples=["Fri, Sat"])
    start: str | None = Field(
        None, description="Local time; as soon as it is dark where null.", examples=["20:00"]
    )
    finish: str | None = Field(
        None, description="Local time; as long as it is dark where null.", examples=["01:00"]
    )


class AvailabilityShape(Shape):
    """When one is free, in the words of scenario.toml.

    A date is written as in 2027-07-10, a range as in 2027-07-10..2027-07-24, both ends included.
    """

    model_config = ConfigDict(json_schema_extra={"examples": [{
        "evenings": [{"weekdays": "Fri, Sat", "start": "20:00"}], "away": ["2027-02-26..2027-02-28"],
        "nights_per_week": 2,
    }]})  # fmt: skip
    evenings: list[EveningsShape] = Field([], max_length=50)
    extra: list[str] = Field([], max_length=400, description="Free although no rule says so.",
                             examples=[["2027-08-12"]])  # fmt: skip
    away: list[str] = Field(
        [], max_length=400, description="Not free.", examples=[["2027-07-10..2027-07-24"]]
    )
    announced: list[str] = Field(
        [], max_length=400, description="Told to others: their programme stands in a re-plan."
    )
    nights_per_week: Whole | None = Field(None, examples=[3])
    nights_per_month: Whole | None = Field(None, examples=[8])
    trips_per_month: Whole | None = Field(None, examples=[1])
    trips_per_season: Whole | None = Field(None, examples=[4])


class OutcomeWish(Shape):
    """How a night went. Lines are only added; a later one for the same evening corrects an earlier one."""

    model_config = ConfigDict(json_schema_extra={"examples": [
        {"evening": "2027-02-20", "outcome": "part-clear", "usable_min": 90, "seen": ["M 42"]}
    ]})  # fmt: skip
    evening: Day = Field(examples=["2027-02-20"])
    outcome: str = Field(
        description="clear, part-clear, clouded out or could not go", examples=["part-clear"]
    )
    usable_min: Whole | None = Field(
        None, description="Clear minutes, where somebody counted.", examples=[90]
    )
    seen: list[Name] = Field([], max_length=2000, description="Names of the wish-list.", examples=[["M 13"]])
    seen_poorly: list[Name] = Field([], max_length=2000, description="Still wanted.")
    not_seen: list[Name] = Field([], max_length=2000, description="Tried, and still wanted.")
    notes: Words = Field("", max_length=10_000)
    sky_brightness: Number | None = Field(
        None, ge=BRIGHTEST_SKY, le=DARKEST_SKY,
        examples=[21.3],
        description="Measured near the zenith, mag/arcsec2. It is kept; plans do not use it.",
    )  # fmt: skip


class OutcomeShape(OutcomeWish):
    """A line of the log."""

    line: int = Field(description="Counts the lines from 1.", examples=[1])
    logged: datetime

    @classmethod
    def of(cls, record: OutcomeRecord) -> OutcomeShape:
        """Return `record` as it is shown."""
        lists = {name: list(getattr(record, name)) for name in ("seen", "seen_poorly", "not_seen")}
        return cls(**shared_with(cls, record) | lists)


class OutcomeList(Shape):
    """A scenario's log, or the lines just added to it."""

    items: list[OutcomeShape]
