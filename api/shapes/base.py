"""What all shapes have in common, and how operations describe their answers."""

from __future__ import annotations

from http import HTTPStatus
from typing import Annotated, Any, TypeAlias

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError


class Shape(BaseModel):
    """A body; unknown members of a request are refused, so that a misspelt one is not silently ignored."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def storable(text: str) -> str:
    """Return a text every database can hold, or raise what makes it a fault of the request."""
    if "\0" in text or "\\u0000" in text or any("\ud800" <= sign <= "\udfff" for sign in text):
        raise PydanticCustomError("words", "a text holds no NUL and no half of a surrogate pair")
    return text


def printable(text: str) -> str:
    """Return a name, or raise what makes it a fault of the request."""
    if not text.strip() or not text.isprintable():
        raise PydanticCustomError("name", "a name is printable and not blank")
    return text


Words = Annotated[str, AfterValidator(storable)]
Name = Annotated[str, Field(max_length=200), AfterValidator(printable)]
Id = Annotated[str, Field(pattern="^[0-9a-f]{20}$", examples=["77c0de1f2a3b4c5d6e7f"])]


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
    "default": {"model": Problem, "description": "Any other problem."},
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
