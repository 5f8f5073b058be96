"""Jobs started by routes: what all of them answer, and what is checked before the work begins."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, time
from typing import Any

from fastapi import Response

from scheduler.domain import Amendment

from .deps import Services
from .shapes import Described, JobShape, answers, refusals
from .shapes.plans import WEEKDAYS
from .storage import NewJob

RETRY_AFTER_S = "1"
STARTED: Described = {
    **answers(202, Location="Where to follow the job.", Retry_After="Seconds to wait before asking."),
    **refusals(400, 401, 403, 404, 413, 415, 429),
}
_SAME: tuple[str, ...] = (
    "nights_per_week", "nights_per_month", "lowest_altitude_deg", "sky_brightness",
)  # fmt: skip


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


def amendment_of(wish: Mapping[str, Any]) -> Amendment:
    """Return the amendment a what-if asks for, from what its job keeps; raise `InvalidValue` if it is none.

    Examples
    --------
    >>> amendment_of({"weekdays": ["thu"], "finish": "01:00:00"}).words
    'Thursdays free too, out until 01:00'
    """
    told: dict[str, Any] = {name: wish.get(name) for name in _SAME}
    told |= {name: time.fromisoformat(wish[name]) for name in ("start", "finish") if wish.get(name)}
    return Amendment(
        **told,
        weekdays=tuple(WEEKDAYS.index(day) for day in wish.get("weekdays", ())),
        targets=tuple(wish.get("targets", ())),
        evenings=tuple(date.fromisoformat(day) for day in wish.get("evenings", ())),
    )  # fmt: skip
