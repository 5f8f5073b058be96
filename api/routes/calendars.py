"""What members' calendars show: which plan is published, how it is told, and its nights."""

from __future__ import annotations

from fastapi import APIRouter, Response

from ..auth import needs
from ..conditional import ExpectedRevisions, IfNoneMatch, answer_if_new
from ..deps import IdempotencyKey, JsonOnly, TheServices
from ..seasons import today_at
from ..shapes import (
    ETAG,
    IF_NEW,
    CalendarNights,
    CalendarShape,
    CalendarWish,
    JobShape,
    answers,
    refusals,
)
from ..starting import STARTED, started
from ..storage import NewJob, Role, Work

router = APIRouter(tags=["calendars"])

_READER, _PLANNER = needs(Role.READER), needs(Role.PLANNER)


@router.get("/scenarios/{scenario}/calendar", response_model=CalendarShape, dependencies=[_READER],
            responses={**answers(200, ETag=ETAG), **IF_NEW, **refusals(401, 404)})  # fmt: skip
def read_calendar(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read which plan the scenario's calendar shows; there is none before one has been published."""
    record = services.storage.calendars.of(scenario)
    shown = CalendarShape.of(record).model_dump_json()
    return answer_if_new(if_none_match, record.tag, shown, "application/json")


@router.put("/scenarios/{scenario}/calendar", response_model=CalendarShape,
            dependencies=[_PLANNER, JsonOnly],
            responses={**answers(200, ETag=ETAG),
                       **refusals(400, 401, 403, 404, 412, 413, 415, 428)})  # fmt: skip
def replace_calendar(
    services: TheServices, scenario: str, expected: ExpectedRevisions, wish: CalendarWish, response: Response
) -> CalendarShape:
    """Decide how a calendar tells of plans; nights near enough are announced at once. Needs If-Match.

    What is announced stands when the year is planned anew, unless an outcome or your own settings take it
    away: then the event says why. It stands in the scenario's availability, where you can take it back.
    """
    storage = services.storage
    files, _ = storage.scenarios.files(scenario)
    today = today_at(files.scenario_toml, storage.now())
    record = storage.calendars.settle(scenario, wish.follows, wish.announce_weeks, today, expected)
    response.headers["ETag"] = record.tag
    return CalendarShape.of(record)


@router.get("/scenarios/{scenario}/calendar/nights", response_model=CalendarNights, dependencies=[_READER],
            responses=refusals(401, 404))  # fmt: skip
def read_calendar_nights(services: TheServices, scenario: str) -> CalendarNights:
    """Read the nights a scenario's calendar tells of: past, coming, and withdrawn ones."""
    services.storage.calendars.of(scenario)
    return CalendarNights.of(services.storage.entries.of_calendar(scenario))


@router.post("/plans/{plan}/publish", status_code=202, response_model=JobShape,
             dependencies=[_PLANNER, JsonOnly], responses=STARTED)  # fmt: skip
def publish_plan(
    services: TheServices, plan: str, response: Response, idempotency_key: IdempotencyKey = None
) -> JobShape:
    """Let the scenario's calendar show this plan, a newer or an older one than it shows now."""
    scenario = services.storage.plans.get(plan).scenario
    return started(services, NewJob(scenario, Work.PUBLISH, {"plan": plan}, idempotency_key), response)
