"""The year: every free night and what is planned on it, and how far the wish-list has come."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from scheduler.domain import Plan

from ..auth import needs
from ..deps import TheServices
from ..page import led_to, page
from ..shapes import PlanWish
from ..starting import plan_started
from ..storage import NEWEST, Role
from .standing import Standing, standing_of

router = APIRouter(include_in_schema=False)

Version = Annotated[str | None, Query(pattern="^[0-9a-f]{20}$")]


@router.get("/year/{scenario}", dependencies=[needs(Role.READER)])
def show_year(request: Request, services: TheServices, scenario: str, plan: Version = None) -> Response:
    """Show a scenario's year by its newest plan, or by an older one."""
    standing = standing_of(services, scenario, plan)
    if standing is None:
        return _unplanned(request, services, scenario)
    return page(
        request, "year.html", dusk=standing.dusk, standing=standing, plan=standing.plan,
        progress=progress_of(standing),
    )  # fmt: skip


@router.post("/year/{scenario}/plan", dependencies=[needs(Role.PLANNER)])
def plan_it(services: TheServices, scenario: str) -> Response:
    """Plan a scenario, after its newest plan if there is one, and lead to the work."""
    job = plan_started(services, scenario, PlanWish(after=NEWEST))
    return led_to(f"/work/{job.id}")


@router.get("/next/{scenario}", dependencies=[needs(Role.READER)])
def lead_to_next_night(services: TheServices, scenario: str) -> Response:
    """Lead to the next night with a programme; to the year where there is none."""
    standing = standing_of(services, scenario)
    evening = standing.next_night if standing else None
    return led_to(f"/night/{scenario}/{evening}" if evening else f"/year/{scenario}")


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a wish-list has come.

    Attributes
    ----------
    wanted, done : Targets of the list, and those with every visit made by the log.
    planned : Targets with a visit still to come.
    at_risk : Their names, the least likely first.
    unplaced : Targets with fewer visits than wanted.
    expected, low, high : Done by the season's end in the mean, and from when to when in eight years of ten;
        None where no odds were worked out.
    """

    wanted: int
    done: int
    planned: int
    unplaced: int
    at_risk: tuple[str, ...]
    expected: float | None
    low: float | None
    high: float | None


def progress_of(standing: Standing) -> Progress:
    """Return how far the wish-list has come, by the log and the plan."""
    plan = standing.plan
    coming = {visit.target for visit in plan.visits if visit.evening >= standing.today}
    odds = plan.odds
    return Progress(
        len(plan.targets), len(done_in(plan)), len(coming), len(plan.unplaced),
        tuple(one.target for one in odds.at_risk) if odds else (),
        odds.expected if odds else None, odds.low if odds else None, odds.high if odds else None,
    )  # fmt: skip


def done_in(plan: Plan) -> frozenset[str]:
    """Return the targets whose every visit has been made, by the log."""
    seen = [sighting.target for sighting in plan.seen]
    return frozenset(one.name for one in plan.targets if seen.count(one.name) >= one.visits)


def _unplanned(request: Request, services: TheServices, scenario: str) -> Response:
    """Show a scenario that has no plan yet, with the job that may be making one."""
    record = services.storage.scenarios.get(scenario)
    jobs = services.storage.jobs.page(record.club, None, 50).items
    job = next((one for one in jobs if one.scenario == scenario and not one.state.ended), None)
    return page(request, "unplanned.html", scenario=record, job=job)
