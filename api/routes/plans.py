"""Plans: asked for as jobs, read as JSON or CSV. Reading one runs no solver and no sky."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Query, Response

from ..auth import needs
from ..conditional import IfNoneMatch, answer_if_new, is_known
from ..deps import Cursor, IdempotencyKey, JsonOnly, Lasting, Limit, TheServices
from ..errors import NoSuch
from ..ports import CHANGES_CSV, MOON_CSV, NIGHTS_CSV, ODDS_CSV, PLAN_JSON, SCHEDULE_CSV, UNPLACED_CSV
from ..shapes import (
    ETAG,
    IF_NEW,
    JobShape,
    PlanPage,
    PlanShape,
    PlanWish,
    answers,
    next_page,
    refusals,
)
from ..starting import STARTED, plan_started, shown
from ..storage import Role

router = APIRouter(tags=["plans"])

_TABLES = SCHEDULE_CSV, NIGHTS_CSV, UNPLACED_CSV, CHANGES_CSV, MOON_CSV, ODDS_CSV
_JSON = {**answers(200, "application/json", ETag=ETAG, Link="Its CSV files."), **IF_NEW, **refusals(401, 404)}
_CSV = {**answers(200, "text/csv", ETag=ETAG), **IF_NEW, **refusals(401, 404)}
_READER, _PLANNER = needs(Role.READER), needs(Role.PLANNER)
_FILE = [_READER, Lasting]

Since = Annotated[
    str,
    Query(pattern="^[0-9a-f]{20}$", description="The earlier plan, of the same scenario.",
          examples=["77c0de1f2a3b4c5d6e7f"]),
]  # fmt: skip


@router.post("/scenarios/{scenario}/plans", status_code=202, response_model=JobShape,
             dependencies=[_PLANNER, JsonOnly], responses=STARTED)  # fmt: skip
def start_plan(
    services: TheServices, scenario: str, response: Response, wish: PlanWish | None = None,
    idempotency_key: IdempotencyKey = None,
) -> JobShape:  # fmt: skip
    """Plan the scenario as it stands now, from nothing or `after` an earlier plan.

    Follow the job until its links hold a `plan`.
    """
    return shown(plan_started(services, scenario, wish or PlanWish(), idempotency_key), response)


@router.get("/scenarios/{scenario}/plans", response_model=PlanPage, dependencies=[_READER],
            responses=refusals(401, 404))  # fmt: skip
def list_plans(services: TheServices, scenario: str, cursor: Cursor = None, limit: Limit = 50) -> PlanPage:
    """List a scenario's plans, newest first."""
    page = services.storage.plans.page(scenario, cursor, limit)
    items = [PlanShape.of(record) for record in page.items]
    return PlanPage(items=items, next=next_page(f"/scenarios/{scenario}/plans", page.cursor, limit))


@router.get("/plans/{plan}", response_class=Response, dependencies=_FILE, responses=_JSON)
def read_plan(services: TheServices, plan: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read a whole plan, its objective and its bound.

    It holds nights, visits, standbys, unplaced targets with reasons, odds, the Moon's diary, and the changes
    from the plan before.
    """
    files = ", ".join(f'</plans/{plan}/{name}>; rel="alternate"; type="text/csv"'
                      for name in _TABLES)  # fmt: skip
    return _kept(services, plan, PLAN_JSON, "application/json", if_none_match, {"Link": files})


@router.get("/plans/{plan}/schedule.csv", response_class=Response, dependencies=_FILE, responses=_CSV)
def read_schedule(services: TheServices, plan: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the yearly schedule, one line a visit or a standby."""
    return _csv(services, plan, SCHEDULE_CSV, if_none_match)


@router.get("/plans/{plan}/nights.csv", response_class=Response, dependencies=_FILE, responses=_CSV)
def read_nights(services: TheServices, plan: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the nights, one line each."""
    return _csv(services, plan, NIGHTS_CSV, if_none_match)


@router.get("/plans/{plan}/unplaced.csv", response_class=Response, dependencies=_FILE, responses=_CSV)
def read_unplaced(services: TheServices, plan: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the targets with fewer visits than wanted, and why."""
    return _csv(services, plan, UNPLACED_CSV, if_none_match)


@router.get("/plans/{plan}/moon.csv", response_class=Response, dependencies=_FILE, responses=_CSV)
def read_moon_diary(services: TheServices, plan: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the Moon's diary, one line for each night of the season: phase, rise, set, moonless darkness."""
    return _csv(services, plan, MOON_CSV, if_none_match)


@router.get("/plans/{plan}/odds.csv", response_class=Response, dependencies=_FILE, responses=_CSV)
def read_odds(services: TheServices, plan: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the completion odds, one line a target, with their standard errors and last good evenings."""
    return _csv(services, plan, ODDS_CSV, if_none_match)


@router.get("/plans/{plan}/changes.csv", response_class=Response, dependencies=_FILE, responses=_CSV)
def read_changes(services: TheServices, plan: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch what is different from the plan before, one line a change with its reason."""
    return _csv(services, plan, CHANGES_CSV, if_none_match)


@router.get("/plans/{plan}/changes", response_class=Response, dependencies=_FILE, responses=_JSON)
def read_differences(
    services: TheServices, plan: str, since: Since, if_none_match: IfNoneMatch = None
) -> Response:
    """Read what is different from any earlier plan of the scenario, with reasons from the one before."""
    later, earlier = services.storage.plans.get(plan), services.storage.plans.get(since)
    if earlier.scenario != later.scenario:
        raise NoSuch("plan", since)
    files = (services.storage.plans.file(one, PLAN_JSON) for one in (since, plan))
    first, second = files
    tag = f'"{first.digest[:32]}-{second.digest[:32]}"'
    shown = services.door.differences_json(first.text, second.text)
    return answer_if_new(if_none_match, tag, shown, "application/json")


def _csv(services: TheServices, plan: str, name: str, if_none_match: str | None) -> Response:
    saved_as = {"Content-Disposition": f'attachment; filename="{name}"'}
    return _kept(services, plan, name, "text/csv", if_none_match, saved_as)


def _kept(
    services: TheServices, plan: str, name: str, media_type: str, if_none_match: str | None,
    headers: Mapping[str, str],
) -> Response:  # fmt: skip
    """Answer with a file; its text is not even read for who has it already."""
    tag = f'"{services.storage.plans.digest(plan, name)}"'
    text = "" if is_known(if_none_match, tag) else services.storage.plans.file(plan, name).text
    return answer_if_new(if_none_match, tag, text, media_type, headers)
