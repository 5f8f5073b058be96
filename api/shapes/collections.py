"""Collections on calendar servers, and pushes into them, over the wire."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Annotated, Any

from pydantic import AfterValidator, ConfigDict, Field, JsonValue, StrictBool
from pydantic_core import PydanticCustomError

from ..caldav import Conflicts, Found, Outcome
from ..storage import CollectionRecord
from .base import STORABLE, Shape, shared_with, storable


def _username(text: str) -> str:
    if ":" in text or not text.isprintable():
        raise PydanticCustomError("username", "a username is printable and has no colon")
    return text


Address = Annotated[
    str,
    Field(
        max_length=2000,
        pattern=r"^https?://(\[[0-9a-fA-F:.]+\]|[A-Za-z0-9.-]+)(:[0-9]{1,5})?(/[A-Za-z0-9._~!$&'()*+,;=:@%/-]*)?$",
        description="Of the calendar itself, as its server shows it for calendar programs; https, but for "
        "servers of this machine.",
    ),
]  # fmt: skip
Username = Annotated[
    str, AfterValidator(_username),
    Field(max_length=200, pattern=r"^[^:\x00-\x1f]+$"),
]  # fmt: skip
Password = Annotated[
    str, AfterValidator(storable),
    Field(min_length=1, max_length=1000, json_schema_extra=STORABLE),
]  # fmt: skip
_EXAMPLE: dict[str, JsonValue] = {
    "address": "https://calendar.example.org/stargazers/nights/", "username": "stargazers",
    "password": "an app password", "conflicts": "report",
}  # fmt: skip


class CollectionWish(Shape):
    """A calendar on somebody's server that a feed is to be pushed into."""

    model_config = ConfigDict(json_schema_extra={"examples": [_EXAMPLE]})
    address: Address
    username: Username
    password: Password = Field(description="Kept sealed, and never told again.")
    conflicts: Conflicts = Field(
        Conflicts.REPORT, description="What becomes of events that were changed or deleted there by hand."
    )


class CollectionChange(Shape):
    """Another address, login or way with changes by hand."""

    model_config = ConfigDict(json_schema_extra={"examples": [{**_EXAMPLE, "password": None}]})
    address: Address
    username: Username
    password: Password | None = Field(None, description="The kept one where null.")
    conflicts: Conflicts = Conflicts.REPORT


class CollectionShape(Shape):
    """A collection; its password is never told."""

    id: str = Field(examples=["ca1e0011223344556677"])
    feed: str = Field(examples=["feed0011223344556677"])
    address: str = Field(examples=[_EXAMPLE["address"]])
    username: str = Field(examples=[_EXAMPLE["username"]])
    conflicts: Conflicts
    revision: int = Field(description="Counts its changes from 1.", examples=[1])
    created: datetime
    changed: datetime
    links: dict[str, str] = Field(examples=[{"push": "/collections/ca1e0011223344556677/push"}])

    @classmethod
    def of(cls, record: CollectionRecord) -> CollectionShape:
        """Return `record` as it is shown."""
        here = f"/collections/{record.id}"
        links = {
            "self": here, "feed": f"/feeds/{record.feed}", "push": f"{here}/push",
            "last_push": f"{here}/last-push",
        }  # fmt: skip
        return cls(**shared_with(cls, record), links=links)


class CollectionPage(Shape):
    """A page of collections, newest first."""

    items: list[CollectionShape]
    next: str | None = Field(description="Where the next page is; null on the last.", examples=[None])


class PushWish(Shape):
    """What a push is to do."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"withdraw": False}]})
    withdraw: StrictBool = Field(
        False, strict=True, description="Take away all that was put there, but what was changed by hand."
    )


class ConflictShape(Shape):
    """An event that was not as it had been put there."""

    uid: str = Field(examples=["0b6d3c4e-8f2a-4d1b-9c3e-5a7f1e2d3c4b"])
    evening: date | None
    found: Found
    outcome: Outcome


class PushShape(Shape):
    """What a push came to."""

    when: datetime
    created: int = Field(examples=[2])
    updated: int = Field(examples=[1])
    deleted: int = Field(examples=[0])
    unchanged: int = Field(description="Not written at all.", examples=[24])
    kept: int = Field(description="Kept as theirs, as told before.", examples=[0])
    conflicts: list[ConflictShape]
    problem: dict[str, Any] | None = Field(description="Why it came no further.", examples=[None])

    @classmethod
    def of(cls, told: Mapping[str, Any]) -> PushShape:
        """Return what a collection tells as it is shown."""
        return cls.model_validate(told)
