"""What all shapes have in common, and how operations describe their answers."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time
from http import HTTPStatus
from typing import Annotated, Any, TypeAlias

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    WithJsonSchema,
)
from pydantic_core import PydanticCustomError


class Shape(BaseModel):
    """A body; unknown members of a request are refused, so that a misspelt one is not silently ignored."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def storable(text: str) -> str:
    """Return a text every database can hold, or raise what makes it a fault of the request."""
    if "\0" in text or any("\ud800" <= sign <= "\udfff" for sign in text):
        raise PydanticCustomError("words", "a text holds no NUL and no half of a surrogate pair")
    return text


def printable(text: str) -> str:
    """Return a name, or raise what makes it a fault of the request."""
    if not text.strip() or not text.isprintable():
        raise PydanticCustomError("name", "a name is printable and not blank")
    return text


def written_as(pattern: str, expected: str) -> BeforeValidator:
    """Return a check that a value is a text of this form, which the reader behind may take more loosely."""
    form = re.compile(pattern)

    def checked(value: object) -> object:
        if isinstance(value, int | float) or (isinstance(value, str) and not form.fullmatch(value)):
            raise PydanticCustomError("form", "expected {expected}", {"expected": expected})
        return value

    return BeforeValidator(checked)


def _a_number(value: object) -> object:
    """Return a number: texts and truths, which the reader behind would take for some, are none.

    It stands behind the bounds in an annotation; before them it would keep them out of the description.
    """
    if isinstance(value, str | bool):
        raise PydanticCustomError("number", "expected a number")
    return value


def _in_utc(moment: datetime) -> datetime:
    """Return an aware time in UTC, as it is kept, or raise what makes it a fault of the request."""
    try:
        return moment.astimezone(UTC)
    except OverflowError:
        raise PydanticCustomError("moment", "a time is within the years 1 to 9999 in UTC too") from None


A_NUMBER = BeforeValidator(_a_number)
DAY = written_as(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", "a date as in 2027-07-10")
HOUR = r"([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?"

PRINTABLE = {"format": "printable", "pattern": r"\S"}
"""What `printable` lets through, as far as a description can say it."""
STORABLE = {"pattern": r"^[^\u0000]*$"}

Words = Annotated[str, AfterValidator(storable), Field(json_schema_extra=STORABLE)]
Name = Annotated[str, Field(max_length=200, json_schema_extra=PRINTABLE), AfterValidator(printable)]
Day = Annotated[date, DAY]
Hour = Annotated[
    time, written_as(HOUR, "a local time as in 20:00"),
    WithJsonSchema({"type": "string", "pattern": f"^{HOUR}$"}),
]  # fmt: skip
Moment = Annotated[
    AwareDatetime,
    written_as(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T.*", "a time as in 2027-07-10T20:00:00Z"),
    AfterValidator(_in_utc),
]
Whole = Annotated[int, A_NUMBER]
Number = Annotated[float, Field(allow_inf_nan=False), A_NUMBER]
Id = Annotated[str, Field(pattern="^[0-9a-f]{20}$", examples=["77c0de1f2a3b4c5d6e7f"])]
NEED = "^(any|all|[1-9][0-9]?)$"
Need = Annotated[str, Field(pattern=NEED, examples=["any"])]


class Health(Shape):
    """That the service is well."""

    status: str = Field(examples=["ready"])


class ProblemEntry(BaseModel):
    """One fault of a request: where, and what is wrong with it."""

    model_config = ConfigDict(extra="allow")

    detail: str = Field(
        examples=["wish-list.csv, row 5, priority: read '9', expected a whole number from 1 to 5"]
    )
    pointer: str | None = Field(None, description="JSON Pointer into the request, as a fragment.",
                                examples=["#/wish_list_csv/5/priority"])  # fmt: skip


class Problem(BaseModel):
    """What went wrong, after RFC 9457; further members depend on the type."""

    model_config = ConfigDict(extra="allow")

    type: str = Field(
        description="Address of a page about this kind.", examples=["/problems/scenario-faults"]
    )
    title: str = Field(examples=["The scenario cannot be read"])
    status: int = Field(examples=[422])
    detail: str = Field(examples=["1 fault in the scenario"])
    request: str | None = Field(
        None, description="Names the request in the service's log.", examples=["0c1d2e3f4a5b6978"]
    )
    errors: list[ProblemEntry] | None = None


class ProblemKind(Shape):
    """A kind of problem, and what to do about it."""

    type: str = Field(examples=["/problems/stale"])
    title: str = Field(examples=["It has changed since you read it"])
    status: int = Field(examples=[412])
    advice: str = Field(examples=["Read it again and repeat your change on the new version."])


Described: TypeAlias = dict[int | str, dict[str, Any]]
ANY_REFUSAL: Described = {
    422: {"model": Problem, "description": "Everything wrong with the request, at once."},
}


def refusals(*statuses: int) -> Described:
    """Return the description of the problems an operation answers with."""
    return {status: {"model": Problem, "description": HTTPStatus(status).phrase} for status in statuses}


def answers(status: int, media_type: str | None = None, **headers: str) -> Described:
    """Return the description of a success, with its headers and their meaning."""
    kind = "object" if media_type == "application/json" else "string"
    text = {"content": {media_type: {"schema": {"type": kind}}}} if media_type else {}
    told = {
        name.replace("_", "-"): {"description": meaning, "schema": {"type": "string"}}
        for name, meaning in headers.items()
    }
    return {status: {**text, "headers": told}}


ETAG = "Version of what is returned."
IF_NEW: Described = {304: {"description": "You have the newest version already."}}


def next_page(path: str, cursor: int | None, limit: int) -> str | None:
    """Return the address of the page after `cursor`, None where there is none."""
    return None if cursor is None else f"{path}?cursor={cursor}&limit={limit}"


def shared_with(shape: type[Shape], record: object) -> dict[str, Any]:
    """Return the members `shape` has in common with `record`."""
    return {name: getattr(record, name) for name in shape.model_fields if hasattr(record, name)}
