"""Members' own calendars: when they are busy, and which nights that leaves a scenario.

A calendar comes in by upload or from an address; only times come out. Roles below member see neither.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Response

from ..auth import needs
from ..conditional import ExpectedRevisions, IfNoneMatch, answer_if_new
from ..deps import CalendarBody, CalendarOnly, Cursor, JsonOnly, Limit, TheServices, body_of
from ..engagements import engaged, fetched_again, uploaded
from ..kept import evenings_of
from ..shapes import (
    ETAG,
    IF_NEW,
    BusyShape,
    EngagementPage,
    EngagementShape,
    EngagementWish,
    FreeNightShape,
    FreeNightsShape,
    SpanShape,
    answers,
    next_page,
    refusals,
)
from ..shapes.base import NEED
from ..shapes.samples import CALENDAR_ICS
from ..storage import EngagementRecord, Role

router = APIRouter(tags=["engagements"])

_MEMBER = needs(Role.MEMBER)
_IDS = "^[0-9a-f]{20}(,[0-9a-f]{20}){0,49}$"


@router.post("/members/{member}/engagements", status_code=201, response_model=EngagementShape,
             dependencies=[_MEMBER, JsonOnly],
             responses={**answers(201, Location="Where it is kept.", ETag=ETAG),
                        **refusals(400, 401, 403, 404, 409, 413, 415, 502)})  # fmt: skip
def create_engagement(
    services: TheServices, member: str, wish: EngagementWish, response: Response
) -> EngagementShape:
    """Keep a member's own calendar. With an address it is fetched and read at once, else upload it next."""
    record = engaged(services, member, wish.name, wish.zone, wish.address)
    response.headers["Location"] = f"/engagements/{record.id}"
    return _shown(record, response)


@router.get("/members/{member}/engagements", response_model=EngagementPage, dependencies=[_MEMBER],
            responses=refusals(401, 403, 404))  # fmt: skip
def list_engagements(
    services: TheServices, member: str, cursor: Cursor = None, limit: Limit = 50
) -> EngagementPage:
    """List a member's own calendars, newest first."""
    found = services.storage.engagements.page(member, cursor, limit)
    following = next_page(f"/members/{member}/engagements", found.cursor, limit)
    return EngagementPage(items=[EngagementShape.of(one) for one in found.items], next=following)


@router.get("/engagements/{engagement}", response_model=EngagementShape, dependencies=[_MEMBER],
            responses={**answers(200, ETag=ETAG), **IF_NEW, **refusals(401, 403, 404)})  # fmt: skip
def read_engagement(services: TheServices, engagement: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read what is known of a calendar; its address is not told."""
    record = services.storage.engagements.get(engagement)
    shown = EngagementShape.of(record).model_dump_json()
    return answer_if_new(if_none_match, record.tag, shown, "application/json")


@router.put("/engagements/{engagement}/calendar.ics", response_model=EngagementShape,
            dependencies=[_MEMBER, CalendarOnly], openapi_extra=body_of("text/calendar", CALENDAR_ICS),
            responses={**answers(200, ETag=ETAG),
                       **refusals(400, 401, 403, 404, 412, 413, 415, 428)})  # fmt: skip
def upload_calendar(
    services: TheServices, engagement: str, expected: ExpectedRevisions, body: CalendarBody,
    response: Response,
) -> EngagementShape:  # fmt: skip
    """Upload the calendar (RFC 5545). Only when its owner is busy is kept of it. Needs If-Match."""
    return _shown(uploaded(services, engagement, body, expected), response)


@router.post("/engagements/{engagement}/refresh", response_model=EngagementShape, dependencies=[_MEMBER],
             responses={**answers(200, ETag=ETAG), **refusals(401, 403, 404, 409, 502)})  # fmt: skip
def refresh_engagement(services: TheServices, engagement: str, response: Response) -> EngagementShape:
    """Fetch the calendar again from its address; should that fail, what was known stays."""
    return _shown(fetched_again(services, engagement), response)


@router.get("/engagements/{engagement}/busy", response_model=BusyShape, dependencies=[_MEMBER],
            responses={**answers(200, ETag=ETAG), **IF_NEW, **refusals(401, 403, 404)})  # fmt: skip
def read_busy(services: TheServices, engagement: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read when the calendar's owner is busy: times, in UTC."""
    record, spans = services.storage.engagements.busy(engagement)
    items = [SpanShape(start=one.start, end=one.end) for one in spans]
    shown = BusyShape(first=record.first, last=record.last, items=items).model_dump_json()
    return answer_if_new(if_none_match, record.tag, shown, "application/json")


@router.delete("/engagements/{engagement}", status_code=204, dependencies=[_MEMBER],
               responses=refusals(401, 403, 404, 412, 428))  # fmt: skip
def delete_engagement(services: TheServices, engagement: str, expected: ExpectedRevisions) -> None:
    """Delete a calendar with all that is known of it. Needs If-Match."""
    services.storage.engagements.delete(engagement, expected)


@router.get("/scenarios/{scenario}/free-nights", response_model=FreeNightsShape, dependencies=[_MEMBER],
            responses=refusals(401, 403, 404))  # fmt: skip
def read_free_nights(
    services: TheServices, scenario: str,
    members: Annotated[str | None, Query(
        pattern=_IDS, description="Ids, with commas between; the members the scenario uses where left out.",
        examples=["aa11bb22cc33dd44ee55"],
    )] = None,
    need: Annotated[str | None, Query(
        pattern=NEED, description="How many must be free: any, all, or a number; as the scenario has it "
        "where left out.", examples=["all"],
    )] = None,
) -> FreeNightsShape:  # fmt: skip
    """Read who of some members is free on each evening the scenario leaves free, by their own calendars.

    To let them count in plans, send `need` to the scenario's `uses`.
    """
    asked = evenings_of(services, scenario, None if members is None else members.split(","), need)
    return FreeNightsShape(items=[FreeNightShape.of(one) for one in asked])


def _shown(record: EngagementRecord, response: Response) -> EngagementShape:
    response.headers["ETag"] = record.tag
    return EngagementShape.of(record)
