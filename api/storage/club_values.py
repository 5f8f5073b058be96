"""The one way to say each thing in a club's file: times, days, files, names and numbers."""

from __future__ import annotations

import base64
import binascii
import re
from datetime import UTC, date, datetime
from typing import Annotated, Any, TypeAlias

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema

from .database import LARGEST

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
FileName: TypeAlias = Annotated[str, Field(max_length=100), BeforeValidator(_words)]
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
