"""Jobs started by routes: what all of them answer, and what is checked before the work begins."""

from __future__ import annotations

from typing import Any

from fastapi import Response

from .deps import Services
from .shapes import Described, JobShape, answers, refusals
from .storage import NewJob

RETRY_AFTER_S = "1"
STARTED: Described = {
    **answers(202, Location="Where to follow the job.", Retry_After="Seconds to wait before asking."),
    **refusals(400, 401, 403, 404, 413, 415, 429),
}


def started(services: Services, new: NewJob, response: Response) -> JobShape:
    """Start a job and tell where to follow it."""
    job = services.jobs.start(new)
    response.headers["Location"] = f"/jobs/{job.id}"
    response.headers["Retry-After"] = RETRY_AFTER_S
    return JobShape.of(job)


def granted(services: Services, *, seconds: float | None = None, years: int | None = None) -> dict[str, Any]:
    """Return the effort asked for, cut to what the service grants."""
    settings = services.settings
    told: dict[str, Any] = {} if seconds is None else {"seconds": min(seconds, float(settings.plan_seconds))}
    return told | {"years": settings.plan_years if years is None else min(years, settings.most_years)}
