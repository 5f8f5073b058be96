"""Jobs: long work to follow and to cancel."""

from __future__ import annotations

from fastapi import APIRouter, Response

from ..deps import TheServices
from ..shapes import JobShape, refusals
from ..storage import JobRecord

router = APIRouter(tags=["jobs"])

RETRY_AFTER_S = "1"


@router.get("/jobs/{job}", response_model=JobShape, responses=refusals(404))
def read_job(services: TheServices, job: str, response: Response) -> JobShape:
    """Follow a job: its stage, the fraction done, the best plan so far. Ask again after Retry-After."""
    return _shown(services.storage.jobs.get(job), response)


@router.post("/jobs/{job}/cancel", status_code=202, response_model=JobShape, responses=refusals(404, 409))
def cancel_job(services: TheServices, job: str, response: Response) -> JobShape:
    """Cancel a job. One that waits ends at once, one at work soon after; nothing of it is kept."""
    return _shown(services.jobs.cancel(job), response)


def _shown(record: JobRecord, response: Response) -> JobShape:
    if not record.state.ended:
        response.headers["Retry-After"] = RETRY_AFTER_S
    return JobShape.of(record)
