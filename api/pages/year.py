"""The year: every free night and what is planned on it, and how far the wish-list has come."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response
from markupsafe import Markup

import scheduler
from scheduler.domain import Plan

from ..auth import MaybeBearer, TheBearer, needs
from ..deps import TheServices
from ..page import led_to, page
from ..shapes import PlanWish
from ..starting import plan_started
from ..storage import NEWEST, Role
from .silent import count_as_past, silent_of, unlogged_of
from .standing import Standing, standing_of

router = APIRouter(include_in_schema=False)

WIDE, NARROW = 1000.0, 344.0
"""How wide pictures are drawn for a desk and for a phone. [units]"""

PART = 300
"""Targets shown at a time: more would make a page of over half a megabyte."""

First = Annotated[int, Query(ge=1, le=100_000)]
Version = Annotated[str | None, Query(pattern="^[0-9a-f]{20}$")]


@router.get("/year/{scenario}", dependencies=[needs(Role.READER)])
def show_year(
    request: Request, services: TheServices, bearer: MaybeBearer, scenario: str, plan: Version = None
) -> Response:
    """Show a scenario's year by its newest plan, or by an older one."""
    standing = standing_of(services, scenario, plan)
    may_plan = bearer is not None and bearer.role.covers(Role.PLANNER)
    if standing is None:
        return _unplanned(request, services, scenario, may_plan=may_plan)
    may_log = bearer is not None and bearer.role.covers(Role.MEMBER)
    rows = _rows(standing)
    wide, narrow = _drawn(standing, scheduler.year_picture, _leading(standing, may_log=may_log))
    return page(
        request, "year.html", twilit=standing.twilit, standing=standing, plan=standing.plan,
        may_plan=may_plan, progress=progress_of(standing), rows=rows, next=_next(standing, rows), wide=wide,
        narrow=narrow, unlogged=unlogged_of(standing), silent=silent_of(standing), may_log=may_log,
    )  # fmt: skip


@router.get("/wishes/{scenario}", dependencies=[needs(Role.READER)])
def show_wishes(
    request: Request, services: TheServices, bearer: TheBearer, scenario: str, plan: Version = None,
    first: First = 1,
) -> Response:  # fmt: skip
    """Show a scenario's targets, each with its season, its visits and its odds; a long list in parts."""
    standing = standing_of(services, scenario, plan)
    if standing is None:
        return led_to(f"/year/{scenario}")
    wide, narrow = _drawn(
        standing, partial(scheduler.targets_picture, part=slice(first - 1, first - 1 + PART)),
        lambda name: f"/target/{scenario}?{urlencode({'name': name})}",
    )  # fmt: skip
    many = len(standing.plan.targets)
    return page(
        request, "wishes.html", twilit=standing.twilit, standing=standing, plan=standing.plan,
        may_plan=bearer.role.covers(Role.PLANNER),
        progress=progress_of(standing), wide=wide, narrow=narrow, first=first,
        parts=[(begin, min(begin + PART - 1, many)) for begin in range(1, many + 1, PART)],
    )  # fmt: skip


def _drawn(
    standing: Standing, draw: Callable[..., str], links: Callable[[Any], str | None]
) -> tuple[Markup, ...]:
    """Return a picture as drawn for a desk and for a phone; what it quotes was escaped as it was drawn."""
    return tuple(
        Markup(draw(standing.plan, width=width, links=links, today=standing.today))
        for width in (WIDE, NARROW)
    )


@router.post("/year/{scenario}/plan", dependencies=[needs(Role.PLANNER)])
def plan_it(services: TheServices, scenario: str) -> Response:
    """Plan a scenario, after its newest plan if there is one, and lead to the work."""
    job = plan_started(services, scenario, PlanWish(after=NEWEST))
    return led_to(f"/progress/{job.id}")


@router.post("/year/{scenario}/past", dependencies=[needs(Role.PLANNER)])
def plan_from_tonight(services: TheServices, scenario: str) -> Response:
    """Count free nights up to yesterday as past, where the log says nothing of them, and plan anew."""
    count_as_past(services, scenario)
    return plan_it(services, scenario)


@router.get("/next/{scenario}", dependencies=[needs(Role.READER)])
def lead_to_next_night(services: TheServices, scenario: str) -> Response:
    """Lead to the next night with a programme; to the year where there is none."""
    standing = standing_of(services, scenario)
    evening = standing.next_night if standing else None
    return led_to(f"/night/{scenario}/{evening}" if evening else f"/year/{scenario}")


def _leading(standing: Standing, *, may_log: bool) -> Callable[[date], str | None]:
    """Return where a night leads: to its page, or to its line in the log where the plan has it no more."""
    scenario, known = standing.scenario.id, {night.evening for night in standing.plan.nights}

    def leading(evening: date) -> str | None:
        if evening in known:
            return f"/night/{scenario}/{evening}"
        return f"/log/{scenario}/{evening}" if may_log else None

    return leading


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a wish-list has come.

    Attributes
    ----------
    wanted, done : Targets of the list, and those with every visit made by the log.
    planned : Targets with a visit still to come.
    unlogged : Others that have a visit on a night that is past and of which the log says nothing.
    homeless : Others that had one on a night the log tells of, and were not done: to be planned anew.
    unplaced : Targets with fewer visits than wanted.
    at_risk : Names of targets that may well not be done, the least likely first.
    expected, low, high : Done by the season's end in the mean, and from when to when in eight years of ten;
        None where no odds were worked out.
    """

    wanted: int
    done: int
    planned: int
    unlogged: int
    homeless: int
    unplaced: int
    at_risk: tuple[str, ...]
    expected: float | None
    low: float | None
    high: float | None


def progress_of(standing: Standing) -> Progress:
    """Return how far the wish-list has come, by the log and the plan."""
    plan = standing.plan
    logged = {one.evening for one in standing.log}
    open_visits = [visit for visit in plan.visits if visit.evening not in logged]
    coming = {visit.target for visit in open_visits if visit.evening >= standing.today}
    done, unplaced = done_in(plan), {one.target for one in plan.unplaced}
    unlogged = {visit.target for visit in open_visits} - coming - done - unplaced
    homeless = {visit.target for visit in plan.visits} - coming - done - unplaced - unlogged
    odds = plan.odds
    return Progress(
        len(plan.targets), len(done), len(coming), len(unlogged), len(homeless),
        len(plan.unplaced),
        tuple(one.target for one in odds.at_risk) if odds else (),
        odds.expected if odds else None, odds.low if odds else None, odds.high if odds else None,
    )  # fmt: skip


def done_in(plan: Plan) -> frozenset[str]:
    """Return the targets whose every visit has been made, by the log."""
    seen = Counter(sighting.target for sighting in plan.seen)
    return frozenset(one.name for one in plan.targets if seen[one.name] >= one.visits)


@dataclass(frozen=True, slots=True)
class Row:
    """A planned night in words."""

    evening: date
    told: str
    targets: str


def _rows(standing: Standing) -> list[Row]:
    """Return the nights with a programme, by date."""
    targets: dict[date, list[str]] = {}
    for visit in sorted(standing.plan.visits, key=lambda one: (one.evening, one.order)):
        targets.setdefault(visit.evening, []).append(visit.target)
    told = scheduler.summaries_of(standing.plan)
    nights = [night.evening for night in standing.plan.nights if night.evening in targets]
    return [Row(evening, told[evening], ", ".join(targets[evening])) for evening in nights]


def _next(standing: Standing, rows: Iterable[Row]) -> Row | None:
    """Return the next night with a programme."""
    return next((row for row in rows if row.evening == standing.next_night), None)


def _unplanned(request: Request, services: TheServices, scenario: str, *, may_plan: bool) -> Response:
    """Show a scenario that has no plan yet, with the job that may be making one."""
    record = services.storage.scenarios.get(scenario)
    jobs = services.storage.jobs.page(record.club, None, 50).items
    job = next((one for one in jobs if one.scenario == scenario and not one.state.ended), None)
    return page(request, "unplanned.html", scenario=record, job=job, may_plan=may_plan)
