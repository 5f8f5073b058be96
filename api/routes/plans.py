"""Plans: asked for as jobs, read as JSON or CSV. Reading one runs no solver and no sky."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Header, Response

from ..conditional import IfNoneMatch, answer_if_new
from ..deps import Cursor, JsonOnly, Limit, TheServices
from ..ports import CHANGES_CSV, MOON_CSV, NIGHTS_CSV, ODDS_CSV, PLAN_JSON, SCHEDULE_CSV, UNPLACED_CSV
from ..shapes import ETAG, IF_NEW, JobShape, PlanPage, PlanShape, PlanWish, answers, next_page, refusals
from ..storage import NewJob

router = APIRouter(tags=["plans"])

RETRY_AFTER_S = "1"
_TABLES = SCHEDULE_CSV, NIGHTS_CSV, UNPLACED_CSV, CHANGES_CSV, MOON_CSV, ODDS_CSV
_JSON = {**answers(200, "application/json", ETag=ETAG, Link="Its CSV files."), **IF_NEW, **refusals(404)}
_CSV = {**answers(200, "text/csv", ETag=ETAG), **IF_NEW, **refusals(404)}

IdempotencyKey = Annotated[
    str | None,
    Header(min_length=1, max_length=200, description="Yours to choose, fresh for each request: sent again "
           "with the same request, it returns the job of the first.", examples=["b5c8e1d2-first-try"]),
]  # fmt: skip


@router.post(
    "/scenarios/{scenario}/plans", status_code=202, response_model=JobShape, dependencies=[JsonOnly],
    response_description="A job has been started.",
    responses={
        **answers(202, Location="Where to follow the job.", Retry_After="Seconds to wait before asking."),
        **refusals(400, 404, 413, 415, 429),
    },
)  # fmt: skip
def start_plan(
    services: TheServices, scenario: str, response: Response, wish: PlanWish | None = None,
    idempotency_key: IdempotencyKey = None,
) -> JobShape:  # fmt: skip
    """Plan the scenario as it stands now. Follow the job until its links hold a `plan`."""
    asked = wish or PlanWish()
    seconds = min(asked.seconds, float(services.settings.plan_seconds))
    job = services.jobs.start(NewJob(scenario, asked.seed, seconds, idempotency_key))
    response.headers["Location"] = f"/jobs/{job.id}"
    response.headers["Retry-After"] = RETRY_AFTER_S
    return JobShape.of(job)


@router.get("/scenarios/{scenario}/plans", response_model=PlanPage, responses=refusals(404))
def list_plans(services: TheServices, scenario: str, cursor: Cursor = None, limit: Limit = 50) -> PlanPage:
    """List a scenario's plans, newest first."""
    page = services.storage.plans.page(scenario, cursor, limit)
    items = [PlanShape.of(record) for record in page.items]
    return PlanPage(items=items, next=next_page(f"/scenarios/{scenario}/plans", page.cursor, limit))


@router.get("/plans/{plan}", response_class=Response, responses=_JSON)
def read_plan(services: TheServices, plan: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read a whole plan: nights, visits, standbys, unplaced targets with reasons, objective and bound."""
    files = ", ".join(f'</plans/{plan}/{name}>; rel="alternate"; type="text/csv"'
                      for name in _TABLES)  # fmt: skip
    kept = services.storage.plans.file(plan, PLAN_JSON)
    return answer_if_new(if_none_match, f'"{kept.digest}"', kept.text, "application/json", {"Link": files})


@router.get("/plans/{plan}/schedule.csv", response_class=Response, responses=_CSV)
def read_schedule(services: TheServices, plan: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the yearly schedule, one line a visit."""
    return _csv(services, plan, SCHEDULE_CSV, if_none_match)


@router.get("/plans/{plan}/nights.csv", response_class=Response, responses=_CSV)
def read_nights(services: TheServices, plan: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the nights, one line each."""
    return _csv(services, plan, NIGHTS_CSV, if_none_match)


@router.get("/plans/{plan}/unplaced.csv", response_class=Response, responses=_CSV)
def read_unplaced(services: TheServices, plan: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the targets with fewer visits than wanted, and why."""
    return _csv(services, plan, UNPLACED_CSV, if_none_match)


@router.get("/plans/{plan}/moon.csv", response_class=Response, responses=_CSV)
def read_moon_diary(services: TheServices, plan: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the Moon's diary, one line for each night of the season: phase, rise, set, moonless darkness."""
    return _csv(services, plan, MOON_CSV, if_none_match)


@router.get("/plans/{plan}/odds.csv", response_class=Response, responses=_CSV)
def read_odds(services: TheServices, plan: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the completion odds, one line a target, with their standard errors and last good evenings."""
    return _csv(services, plan, ODDS_CSV, if_none_match)


@router.get("/plans/{plan}/changes.csv", response_class=Response, responses=_CSV)
def read_changes(services: TheServices, plan: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch what is different from the plan before, one line a change; none for a first plan."""
    return _csv(services, plan, CHANGES_CSV, if_none_match)


def _csv(services: TheServices, plan: str, name: str, if_none_match: str | None) -> Response:
    kept = services.storage.plans.file(plan, name)
    saved_as = {"Content-Disposition": f'attachment; filename="{name}"'}
    return answer_if_new(if_none_match, f'"{kept.digest}"', kept.text, "text/csv", saved_as)
