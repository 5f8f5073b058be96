"""Plans and jobs over the wire, and what one may ask of them."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal, get_args

from pydantic import ConfigDict, Field

from ..storage import JobRecord, JobState, PlanRecord, Work
from .base import A_NUMBER, Day, Hour, Id, Name, Number, Shape, shared_with

TABLES = ("schedule", "nights", "unplaced", "changes", "moon", "odds")
Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
WEEKDAYS: tuple[Weekday, ...] = get_args(Weekday)


Seed = Annotated[
    int,
    Field(ge=0, le=2**31 - 1, description="The same seed gives the same answer.", examples=[0]),
    A_NUMBER,
]
Effort = Annotated[
    float,
    Field(ge=0.1, le=86_400, allow_inf_nan=False, examples=[10],
          description="Effort of the search; the server may grant less. [s]"),
    A_NUMBER,
]  # fmt: skip
Years = Annotated[
    int,
    Field(ge=0, le=100_000, examples=[100],
          description="Weather years lived through; the server may grant less."),
    A_NUMBER,
]  # fmt: skip
Altitude = Annotated[float, Field(ge=0, le=85, allow_inf_nan=False), A_NUMBER]


class PlanWish(Shape):
    """How a scenario is to be planned."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"seed": 0, "seconds": 10, "years": 100}]})
    seed: Seed = 0
    seconds: Effort = 10.0
    years: Years | None = Field(
        None, description="Weather years for the odds; the server's habit where null."
    )
    after: Id | Literal["newest"] | None = Field(
        None,
        description="The plan it follows: what was announced stands, the rest moves only where that gains "
        "something, and every change is told. Null plans from nothing.",
        examples=["newest"],
    )


class OddsWish(Shape):
    """How surely a plan's odds are to be known."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"years": 500}]})
    seed: Seed = 0
    years: Years = 500


class WhyWish(Shape):
    """A target of a plan to be explained."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"target": "M 42"}]})
    target: Name = Field(examples=["M 13"])
    evening: Day | None = Field(
        None, description="Of the visit; the next one where null.", examples=["2027-03-05"]
    )


class PricesWish(Shape):
    """Where one more free night or clear hour is worth most; there is nothing to choose."""

    model_config = ConfigDict(json_schema_extra={"examples": [{}]})


class WhatIfWish(Shape):
    """What would be otherwise; what is null or empty stays as it is."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"weekdays": ["thu"], "finish": "23:30"}]})
    nights_per_week: Annotated[int, Field(ge=1, le=7), A_NUMBER] | None = Field(None, examples=[3])
    nights_per_month: Annotated[int, Field(ge=1, le=31), A_NUMBER] | None = Field(None, examples=[10])
    weekdays: list[Weekday] = Field([], max_length=7, description="Free as well.", examples=[["thu"]])
    start: Hour | None = Field(
        None, description="Evenings that start later start then. Local time.", examples=["19:30"]
    )
    finish: Hour | None = Field(
        None, description="Evenings that finish earlier finish then. Local time.", examples=["23:30"]
    )
    lowest_altitude_deg: Altitude | None = Field(None, examples=[20.0])
    targets: list[Name] = Field(
        [], max_length=2000, description="That altitude for these alone.", examples=[["M 13"]]
    )
    sky_brightness: Number | None = Field(None, description="[mag/arcsec2]", examples=[21.5])
    evenings: list[Day] = Field(
        [], max_length=400, description="That sky on these alone.", examples=[["2027-03-05"]]
    )
    seed: Seed = 0
    seconds: Effort = 5.0
    years: Years = 100


class ProgressShape(Shape):
    """How far a job has come."""

    stage: str = Field(examples=["assigning targets to nights"])
    fraction: float = Field(ge=0, le=1, examples=[0.4])
    objective: float | None = Field(description="Worth of the best plan so far.", examples=[61.5])
    bound: float | None = Field(description="No plan is worth more than this.", examples=[64.0])


class JobShape(Shape):
    """A job: long work on a scenario."""

    id: str = Field(examples=["9b1d7e03c4a2f5860011"])
    club: str = Field(examples=["5b0e6d1f2a3c49887766"])
    work: Work = Field(examples=["plan"])
    state: JobState = Field(examples=["at work"])
    cancelling: bool = Field(description="Whether it has been asked to stop.", examples=[False])
    progress: ProgressShape
    scenario: str = Field(examples=["3f9a0c52d1e84b7766aa"])
    revision: int = Field(description="The scenario's revision it works on.", examples=[1])
    outcomes: int = Field(description="How many lines of the log it knows.", examples=[0])
    wish: dict[str, Any] = Field(
        description="What was asked, as granted.", examples=[{"seed": 0, "seconds": 10.0}]
    )
    problem: dict[str, Any] | None = Field(description="Why it failed.", examples=[None])
    created: datetime
    started: datetime | None
    ended: datetime | None
    links: dict[str, str] = Field(
        description="`plan` or `answer` appears when the job is done.",
        examples=[{"self": "/jobs/9b1d7e03c4a2f5860011"}],
    )

    @classmethod
    def of(cls, record: JobRecord) -> JobShape:
        """Return `record` as it is shown."""
        links = {"self": f"/jobs/{record.id}", "scenario": f"/scenarios/{record.scenario}"}
        if not record.state.ended:
            links["cancel"] = f"/jobs/{record.id}/cancel"
        if record.plan is not None:
            links["plan"] = f"/plans/{record.plan}"
        if record.answered:
            links["answer"] = f"/jobs/{record.id}/answer"
        progress = ProgressShape(
            stage=record.stage, fraction=record.fraction, objective=record.objective, bound=record.bound
        )
        return cls(**shared_with(cls, record), progress=progress, links=links)


class PlanShape(Shape):
    """A kept plan, as lists show it; the plan itself is at its `self` link."""

    id: str = Field(examples=["77c0de1f2a3b4c5d6e7f"])
    scenario: str = Field(examples=["3f9a0c52d1e84b7766aa"])
    revision: int = Field(description="The scenario's revision it answers.", examples=[1])
    outcomes: int = Field(description="How many lines of the log it knows.", examples=[0])
    previous: str | None = Field(description="The plan it follows.", examples=[None])
    version: int = Field(description="Counts the scenario's plans from 1.", examples=[1])
    objective: float = Field(description="Its worth.", examples=[63.2])
    bound: float = Field(description="No plan is worth more than this.", examples=[64.0])
    visits: int = Field(examples=[58])
    unplaced: int = Field(description="Targets with fewer visits than wanted.", examples=[2])
    created: datetime
    links: dict[str, str] = Field(examples=[{"self": "/plans/77c0de1f2a3b4c5d6e7f"}])

    @classmethod
    def of(cls, record: PlanRecord) -> PlanShape:
        """Return `record` as it is shown."""
        here = f"/plans/{record.id}"
        links = {"self": here, "scenario": f"/scenarios/{record.scenario}"}
        links |= {f"{table}_csv": f"{here}/{table}.csv" for table in TABLES}
        return cls(**shared_with(cls, record), links=links)


class PlanPage(Shape):
    """A page of plans, newest first."""

    items: list[PlanShape]
    next: str | None = Field(description="Where the next page is; null on the last.", examples=[None])


class JobPage(Shape):
    """A page of jobs, newest first."""

    items: list[JobShape]
    next: str | None = Field(description="Where the next page is; null on the last.", examples=[None])
