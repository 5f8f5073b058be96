"""What routes ask for: the services of the running app, and the parts of a request they share.

What does not block is asked for in the event loop itself: a thread for each would cost more than the deed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any, cast
from urllib.parse import urlsplit

from fastapi import Depends, Header, Query, Request

from .asking import Asking
from .calendar_reading import CalendarReading
from .errors import WrongMediaType
from .feeding import Feeder
from .metrics import Metrics
from .ports import Door, Fetch, Jobs
from .recent import Recent
from .seal import Seal
from .settings import Settings, is_loopback
from .shelf import Shelf
from .storage import Storage


@dataclass(frozen=True, slots=True)
class Services:
    """What a running app works with; made at its start, closed at its end."""

    settings: Settings
    storage: Storage
    jobs: Jobs
    door: Door
    asking: Asking
    recent: Recent
    feeder: Feeder
    shelf: Shelf
    seal: Callable[[], Seal]
    fetch: Fetch
    reading: CalendarReading


async def _services(request: Request) -> Services:
    return cast(Services, request.app.state.services)


def metrics_of(request: Request) -> Metrics:
    """Return the counts of the running app."""
    return cast(Metrics, request.app.state.metrics)


async def _multipart_only(request: Request) -> None:
    _only(request, "multipart/form-data")


async def _json_only(request: Request) -> None:
    if "content-type" in request.headers or request.headers.get("content-length", "0") != "0":
        _only(request, "application/json")


def _only(request: Request, expected: str) -> None:
    read = request.headers.get("content-type", "")
    if read.partition(";")[0].strip().lower() != expected:
        raise WrongMediaType(read, expected)


async def _csv_only(request: Request) -> None:
    _only(request, "text/csv")


async def _toml_only(request: Request) -> None:
    _only(request, "application/toml")


async def _calendar_only(request: Request) -> None:
    _only(request, "text/calendar")


async def _body(request: Request) -> bytes:
    return await request.body()


def body_of(media_type: str, example: object = None, schema: str | None = None) -> dict[str, Any]:
    """Return how an operation describes a body it reads itself: a text, or of the `schema` of this name."""
    shape = {"type": "string"} if schema is None else {"$ref": f"#/components/schemas/{schema}"}
    content = {"schema": shape, **({} if example is None else {"example": example})}
    return {"requestBody": {"required": True, "content": {media_type: content}}}


async def _lasting(request: Request) -> None:
    request.state.lasting = True


def base_of(services: Services, request: Request) -> str:
    """Return where others reach the service: as it was told, else as this request has reached it."""
    return services.settings.address or f"{request.url.scheme}://{request.url.netloc}"


def is_of_this_machine(base: str) -> bool:
    """Tell whether an address of the service leads nowhere from another machine.

    Examples
    --------
    >>> [is_of_this_machine(base) for base in ("http://127.0.0.1:8075", "https://plans.example.org")]
    [True, False]
    """
    return is_loopback(urlsplit(base).hostname or "")


TheServices = Annotated[Services, Depends(_services)]
Lasting = Depends(_lasting)
"""For routes whose answer at an address never changes, or where 304 may come two seconds late."""
MultipartOnly = Depends(_multipart_only)
JsonOnly = Depends(_json_only)
CsvOnly = Depends(_csv_only)
TomlOnly = Depends(_toml_only)
CalendarOnly = Depends(_calendar_only)
CsvBody = Annotated[bytes, Depends(_body)]
TomlBody = CsvBody
JsonBody = CsvBody
CalendarBody = CsvBody

IdempotencyKey = Annotated[
    str | None,
    Header(min_length=1, max_length=200, description="Yours to choose, fresh for each request: sent again "
           "with the same request, it returns the job of the first.", examples=["b5c8e1d2-first-try"]),
]  # fmt: skip
Cursor = Annotated[
    int | None,
    Query(
        ge=1,
        le=2**62,
        examples=[41],
        description="Where the page starts: taken from `next` of the page before.",
    ),
]
Limit = Annotated[int, Query(ge=1, le=200, description="Most entries on the page.", examples=[50])]
