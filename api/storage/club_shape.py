"""The shape of a club's file: what stands in it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, FiniteFloat

from .club_values import (
    Called,
    Count,
    Day,
    File,
    FileName,
    Fraction,
    Id,
    Json,
    Moment,
    Name,
    Ordinal,
    Secret,
    Short,
    Uid,
    Words,
)
from .results import JobState, Work
from .told import EntryState, Shows


class Part(BaseModel):
    """A part of the file; every member must be there, and no other."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class Edited(Part):
    """What counts its changes."""

    id: Id
    revision: Ordinal
    created: Moment
    changed: Moment


def _like(part: type[Part]) -> Callable[[dict[str, Any]], dict[str, Any]]:
    """Return what lets an object pass as it stands, if it has this shape."""

    def checked(value: dict[str, Any]) -> dict[str, Any]:
        part.model_validate(value)
        return value

    return checked


class ClubPart(Edited):
    """The club itself."""

    name: Called


class SharedPart(Edited):
    """A member, site or telescope."""

    name: Called
    settings: Json


class RevisionPart(Part):
    """A scenario's files as they stood once."""

    revision: Ordinal
    scenario_toml: File
    wish_list_csv: File
    forecast_csv: File


class OutcomePart(Part):
    """A line of a log."""

    line: Ordinal
    evening: Day
    outcome: Short
    usable_min: Count | None
    seen: list[Words]
    seen_poorly: list[Words]
    not_seen: list[Words]
    notes: Words
    sky_brightness: FiniteFloat | None
    logged: Moment
    key: Name | None


class PlanFilePart(Part):
    """A file of a plan."""

    name: FileName
    text: Words
    digest: str


class PlanPart(Part):
    """A plan with its files."""

    id: Id
    revision: Ordinal
    outcomes: Count
    previous: Id | None
    version: Ordinal
    objective: FiniteFloat
    bound: FiniteFloat
    visits: Count
    unplaced: Count
    created: Moment
    files: list[PlanFilePart]


class AmendPart(Part):
    """What changed of a night since it was announced."""

    on: Words
    words: list[Words]


class ToldPart(Part):
    """A night as members are told of it."""

    start: Moment
    end: Moment
    title: Words
    place: Words
    observers: list[Words]
    categories: list[Words]
    lines: list[Words]
    care: list[Words]
    clear_odds: Fraction


class EntryPart(Part):
    """A night as members' calendars have it."""

    uid: Uid
    evening: Day
    told: Annotated[Json, AfterValidator(_like(ToldPart))]
    state: Literal[tuple(state.value for state in EntryState)]  # type: ignore[valid-type]
    sequence: Count
    created: Moment
    changed: Moment
    announced: Moment | None
    carried: bool
    amends: list[Annotated[Json, AfterValidator(_like(AmendPart))]]
    outcome: Short | None


class CalendarPart(Edited):
    """Which plan the scenario's calendar shows, how it tells of it, and its nights."""

    plan: Id
    follows: bool
    announce_weeks: Count
    entries: list[EntryPart]


class FeedPart(Edited):
    """What others subscribe to."""

    scenario: Id | None
    shows: Literal[tuple(shows.value for shows in Shows)]  # type: ignore[valid-type]
    observer: Called | None
    secret: Secret


class ScenarioPart(Edited):
    """A scenario with all that belongs to it."""

    name: Name
    title: Words
    targets: Count
    season_start: Day
    season_nights: Count
    uses: dict[str, list[Annotated[str, Field(pattern="^([0-9a-f]{20}|any|all|[1-9][0-9]?)$")]]]
    revisions: list[RevisionPart]
    outcomes: list[OutcomePart]
    plans: list[PlanPart]
    calendar: CalendarPart | None


class JobPart(Part):
    """A job that has ended."""

    id: Id
    scenario: Id
    revision: Ordinal
    outcomes: Count
    work: Literal[tuple(work.value for work in Work)]  # type: ignore[valid-type]
    wish: Json
    key: Name | None
    state: Literal[tuple(state.value for state in JobState if state.ended)]  # type: ignore[valid-type]
    cancelling: bool
    stage: Words
    fraction: Fraction
    objective: FiniteFloat | None
    bound: FiniteFloat | None
    plan: Id | None
    answer: Words | None
    problem: Json | None
    created: Moment
    started: Moment | None
    ended: Moment | None


class ClubFile(Part):
    """The whole file."""

    format: Literal["duskwright-club"]
    version: Literal[3]
    left_out: Words
    club: ClubPart
    members: list[SharedPart]
    sites: list[SharedPart]
    telescopes: list[SharedPart]
    scenarios: list[ScenarioPart]
    feeds: list[FeedPart]
    jobs: list[JobPart]
