"""Clubs over the wire: their keys, members, sites and telescopes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime
from typing import Annotated, Any, Self

from pydantic import AfterValidator, Field, JsonValue
from pydantic_core import PydanticCustomError

from ..storage import ClubRecord, KeyRecord, Noun, Role, SharedRecord
from .base import Moment, Name, Shape, shared_with, storable


def _kept_as_it_is(settings: dict[str, JsonValue]) -> dict[str, JsonValue]:
    if "name" in settings:
        raise PydanticCustomError("settings", "the name stands beside the settings, not in them")
    for value in _values_in(settings):
        if isinstance(value, str):
            storable(value)
        elif isinstance(value, float) and not math.isfinite(value):
            raise PydanticCustomError("settings", "a number is finite")
        elif isinstance(value, int) and abs(value) > LARGEST:
            raise PydanticCustomError("settings", "a whole number has at most 18 digits")
    return settings


def _values_in(value: JsonValue) -> Iterator[JsonValue]:
    if isinstance(value, dict):
        for key, one in value.items():
            yield key
            yield from _values_in(one)
    elif isinstance(value, list):
        for one in value:
            yield from _values_in(one)
    else:
        yield value


LARGEST = 10**18
COLLECTIONS = {Noun.MEMBER: "members", Noun.SITE: "sites", Noun.TELESCOPE: "telescopes"}


class ClubWish(Shape):
    """What a club is called."""

    name: Name = Field(examples=["Hendra Stargazers"])


class ClubShape(Shape):
    """A kept club."""

    id: str = Field(examples=["5b0e6d1f2a3c49887766"])
    name: str = Field(examples=["Hendra Stargazers"])
    revision: int = Field(description="Counts the changes from 1.", examples=[1])
    created: datetime
    changed: datetime
    links: dict[str, str] = Field(examples=[{"self": "/clubs/5b0e6d1f2a3c49887766"}])

    @classmethod
    def of(cls, record: ClubRecord) -> ClubShape:
        """Return `record` as it is shown."""
        here = f"/clubs/{record.id}"
        things = ("scenarios", *COLLECTIONS.values(), "keys", "jobs", "export")
        links = {"self": here, **{thing: f"{here}/{thing}" for thing in things}}
        return cls(**shared_with(cls, record), links=links)


class ClubPage(Shape):
    """A page of clubs, newest first."""

    items: list[ClubShape]
    next: str | None = Field(description="Where the next page is; null on the last.", examples=[None])


class KeyWish(Shape):
    """A key to be made."""

    role: Role = Field(description="Each role may do all that those before it may.", examples=["member"])
    name: Name = Field(description="Whose it is, or what for.", examples=["for the club's tablet"])
    expires: Moment | None = Field(
        None, description="Until when it counts; for ever where null.", examples=["2199-12-31T00:00:00Z"]
    )


class KeyShape(Shape):
    """A kept key; its secret is not kept."""

    id: str = Field(examples=["0f1e2d3c4b5a69788796"])
    club: str | None = Field(description="Its club; null for the whole service.")
    role: Role = Field(examples=["member"])
    name: str = Field(examples=["for the club's tablet"])
    created: datetime
    expires: datetime | None
    revoked: datetime | None
    links: dict[str, str] = Field(examples=[{"self": "/keys/0f1e2d3c4b5a69788796"}])

    @classmethod
    def of(cls, record: KeyRecord, **more: Any) -> Self:
        """Return `record` as it is shown."""
        return cls(**shared_with(KeyShape, record), links={"self": f"/keys/{record.id}"}, **more)


class MadeKeyShape(KeyShape):
    """A key just made."""

    token: str = Field(
        description="What its bearer sends. Told this once only.", examples=["0f1e2d3c4b5a69788796.SECRET"]
    )


class KeyPage(Shape):
    """A page of keys, newest first."""

    items: list[KeyShape]
    next: str | None = Field(description="Where the next page is; null on the last.", examples=[None])


class SharedWish(Shape):
    """A member, site or telescope, in the words of scenario.toml."""

    name: Name = Field(examples=["Jory"])
    settings: Annotated[dict[str, JsonValue], AfterValidator(_kept_as_it_is)] = Field(
        {}, description="The keys of its table in scenario.toml: [[observers]], [[sites]] or [[telescopes]]."
    )


class SharedShape(Shape):
    """A kept member, site or telescope."""

    id: str = Field(examples=["aa11bb22cc33dd44ee55"])
    club: str = Field(examples=["5b0e6d1f2a3c49887766"])
    name: str = Field(examples=["Jory"])
    settings: dict[str, JsonValue] = Field(examples=[{"age": 27, "weekdays": "Wed, Sat"}])
    revision: int = Field(description="Counts the changes from 1.", examples=[1])
    created: datetime
    changed: datetime
    links: dict[str, str]

    @classmethod
    def of(cls, record: SharedRecord, noun: Noun) -> SharedShape:
        """Return `record` as it is shown."""
        links = {"self": f"/{COLLECTIONS[noun]}/{record.id}", "club": f"/clubs/{record.club}"}
        return cls(**shared_with(cls, record), links=links)


class SharedPage(Shape):
    """A page of members, sites or telescopes, newest first."""

    items: list[SharedShape]
    next: str | None = Field(description="Where the next page is; null on the last.", examples=[None])
