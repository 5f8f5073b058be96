"""The shape of a club's file: what stands in it, and the one way to say each thing."""

from __future__ import annotations

import base64
import binascii
import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    FiniteFloat,
    WithJsonSchema,
)

from .database import LARGEST
from .results import JobState, Work
from .told import EntryState, Shows

_HALVES = re.compile("[\ud800-\udfff]")
_DEEPEST = 100
"""How far lists and objects may lie in each other; what lies deeper could be kept, but not shown."""


def _moment(value: object) -> datetime:
    try:
        moment = datetime.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None or moment.isoformat() != value or moment.utcoffset():
        raise ValueError('a UTC time as in "2026-09-12T20:00:00+00:00"')
    return moment.replace(tzinfo=UTC)


def _day(value: object) -> date:
    try:
        day = date.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        day = None
    if day is None or day.isoformat() != value:
        raise ValueError('a date as in "2026-09-12"')
    return day


def _file(value: object) -> bytes:
    """Return the bytes of a file as `file_shown` shows it, and of no other way to show it."""
    try:
        match value:
            case {"text": str(text)}:
                content = text.encode()
            case {"base64": str(digits)}:
                content = base64.b64decode(digits, validate=True)
            case _:
                raise ValueError("neither")
        if file_shown(content) != value:
            raise ValueError("the other way")
    except (UnicodeEncodeError, binascii.Error, ValueError):
        told = 'a file: {"text": ...}, or {"base64": ...} where it is no UTF-8 text without NUL'
        raise ValueError(told) from None
    return content


def file_shown(content: bytes) -> dict[str, str]:
    """Return a file as it stands in a club's file.

    Examples
    --------
    >>> file_shown(b"M 13"), file_shown(b"M 13" + bytes(1))
    ({'text': 'M 13'}, {'base64': 'TSAxMwA='})
    """
    try:
        if 0 not in content:
            return {"text": content.decode()}
    except UnicodeDecodeError:
        pass
    return {"base64": base64.b64encode(content).decode("ascii")}


def _words(value: object) -> object:
    if isinstance(value, str) and (_HALVES.search(value) or "\0" in value):
        raise ValueError("a text without NUL and without halves of surrogate pairs")
    return value


def _called(value: object) -> object:
    if isinstance(value, str) and (not value.strip() or not value.isprintable()):
        raise ValueError("a name, printable and not blank")
    return value


def _can_be_shown(value: Any, room: int = _DEEPEST) -> Any:
    if not room:
        raise ValueError(f"lists and objects at most {_DEEPEST} deep")
    if isinstance(value, dict):
        for name, one in value.items():
            _words(name)
            _can_be_shown(one, room - 1)
    elif isinstance(value, list):
        for one in value:
            _can_be_shown(one, room - 1)
    return _words(value)


Id: TypeAlias = Annotated[str, Field(pattern="^[0-9a-f]{20}$")]
Uid: TypeAlias = Annotated[str, Field(pattern="^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$")]
Secret: TypeAlias = Annotated[str, Field(pattern="^[A-Za-z0-9_-]{27}$")]
Words: TypeAlias = Annotated[str, BeforeValidator(_words)]
Name: TypeAlias = Annotated[str, Field(max_length=200), BeforeValidator(_words)]
Called: TypeAlias = Annotated[Name, AfterValidator(_called)]
Short: TypeAlias = Annotated[str, Field(max_length=20), BeforeValidator(_words)]
Count: TypeAlias = Annotated[int, Field(ge=0, le=LARGEST)]
Ordinal: TypeAlias = Annotated[int, Field(ge=1, le=LARGEST)]
Moment: TypeAlias = Annotated[datetime, BeforeValidator(_moment)]
Day: TypeAlias = Annotated[date, BeforeValidator(_day)]
File: TypeAlias = Annotated[
    bytes,
    BeforeValidator(_file),
    WithJsonSchema({"oneOf": [
        {"type": "object", "properties": {name: {"type": "string"}}, "required": [name],
         "additionalProperties": False}
        for name in ("text", "base64")
    ]}),
]  # fmt: skip
Fraction: TypeAlias = Annotated[float, Field(ge=0, le=1)]
Json: TypeAlias = Annotated[dict[str, Any], BeforeValidator(_can_be_shown)]


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
    logged: Moment


class PlanFilePart(Part):
    """A file of a plan."""

    name: Annotated[str, Field(max_length=100), BeforeValidator(_words)]
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
    version: Literal[2]
    left_out: Words
    club: ClubPart
    members: list[SharedPart]
    sites: list[SharedPart]
    telescopes: list[SharedPart]
    scenarios: list[ScenarioPart]
    feeds: list[FeedPart]
    jobs: list[JobPart]
