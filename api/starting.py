"""Jobs started by routes: what all of them answer, and what is checked before the work begins."""

from __future__ import annotations

from typing import Any

from fastapi import Response

from .amending import amendment_of
from .deps import Services
from .errors import NoSuch
from .kept import brought_up_to_date
from .shapes import Described, JobShape, PlanWish, WhatIfWish, WhyWish, answers, refusals
from .storage import NEWEST, JobRecord, NewJob, Work

RETRY_AFTER_S = "1"
STARTED: Described = {
    **answers(202, Location="Where to follow the job.", Retry_After="Seconds to wait before asking."),
    **refusals(400, 401, 403, 404, 413, 415, 429),
}


def started(services: Services, new: NewJob, response: Response) -> JobShape:
    """Start a job and tell where to follow it."""
    return shown(services.jobs.start(new), response)


def shown(job: JobRecord, response: Response) -> JobShape:
    """Tell where to follow a job that has been started."""
    response.headers["Location"] = f"/jobs/{job.id}"
    response.headers["Retry-After"] = RETRY_AFTER_S
    return JobShape.of(job)


def plan_started(services: Services, scenario: str, asked: PlanWish, key: str | None = None) -> JobRecord:
    """Start planning a scenario as it stands now, from nothing or after an earlier plan.

    Parameters
    ----------
    key : The caller's, fresh for each request: sent again with the same wish, it gives the same job.

    Raises
    ------
    NoSuch
        There is no such scenario, or no such plan of it to follow.
    TooManyJobs, KeyReused
        See `Jobs.start`.
    """
    after = _followed(services, scenario, asked.after)
    effort = granted(services, seconds=asked.seconds, years=asked.years)
    brought_up_to_date(services, scenario)
    work = Work.PLAN if after is None else Work.REPLAN
    told = {"seed": asked.seed, **effort, **({} if after is None else {"plan": after})}
    if asked.after == NEWEST:
        told["after"] = NEWEST
    return services.jobs.start(NewJob(scenario, work, told, key))


def why_started(services: Services, plan: str, asked: WhyWish, key: str | None = None) -> JobRecord:
    """Start explaining a target of a plan; raise `NoSuch` if there is no such plan."""
    scenario = services.storage.plans.get(plan).scenario
    told = {"plan": plan, **asked.model_dump(mode="json")}
    return services.jobs.start(NewJob(scenario, Work.WHY, told, key))


def prices_started(services: Services, scenario: str, key: str | None = None) -> JobRecord:
    """Start pricing the nights of a scenario as it stands now."""
    brought_up_to_date(services, scenario)
    return services.jobs.start(NewJob(scenario, Work.PRICES, {}, key))


def what_if_started(
    services: Services, scenario: str, asked: WhatIfWish, key: str | None = None
) -> JobRecord:
    """Start planning a scenario as it stands now and as it would be otherwise.

    Raises
    ------
    InvalidValue
        What is asked is no change that can be made.
    """
    told = asked.model_dump(mode="json")
    amendment_of(told)
    told |= granted(services, seconds=asked.seconds, years=asked.years)
    brought_up_to_date(services, scenario)
    return services.jobs.start(NewJob(scenario, Work.WHAT_IF, told, key))


def _followed(services: Services, scenario: str, after: str | None) -> str | None:
    """Return the id of the plan to follow, None where there is none yet to follow."""
    if after == NEWEST:
        newest = services.storage.plans.newest(scenario)
        return None if newest is None else newest.id
    if after is not None and services.storage.plans.get(after).scenario != scenario:
        raise NoSuch("plan", after)
    return after


def granted(services: Services, *, seconds: float | None = None, years: int | None = None) -> dict[str, Any]:
    """Return the effort asked for, cut to what the service grants."""
    settings = services.settings
    told: dict[str, Any] = {} if seconds is None else {"seconds": min(seconds, float(settings.plan_seconds))}
    return told | {"years": settings.plan_years if years is None else min(years, settings.most_years)}
