"""Jobs: long work to follow and to cancel."""

from __future__ import annotations

from fastapi import APIRouter, Response

from ..auth import needs
from ..deps import Cursor, Limit, TheServices
from ..shapes import JobPage, JobShape, answers, next_page, refusals
from ..starting import RETRY_AFTER_S
from ..storage import JobRecord, Role

router = APIRouter(tags=["jobs"])


@router.get("/clubs/{club}/jobs", response_model=JobPage, dependencies=[needs(Role.READER)],
            responses=refusals(401, 404))  # fmt: skip
def list_jobs(services: TheServices, club: str, cursor: Cursor = None, limit: Limit = 50) -> JobPage:
    """List a club's jobs, newest first."""
    page = services.storage.jobs.page(club, cursor, limit)
    items = [JobShape.of(record) for record in page.items]
    return JobPage(items=items, next=next_page(f"/clubs/{club}/jobs", page.cursor, limit))


@router.get("/jobs/{job}", response_model=JobShape, dependencies=[needs(Role.READER)],
            responses=refusals(401, 404))  # fmt: skip
def read_job(services: TheServices, job: str, response: Response) -> JobShape:
    """Follow a job: its stage, the fraction done, the best plan so far. Ask again after Retry-After."""
    return _shown(services.storage.jobs.get(job), response)


@router.get("/jobs/{job}/answer", response_class=Response, dependencies=[needs(Role.READER)],
            responses={**answers(200, "application/json"), **refusals(401, 404)})  # fmt: skip
def read_answer(services: TheServices, job: str) -> Response:
    """Read what a job found, where it was a question; there once the job is done."""
    return Response(services.storage.jobs.answer(job), media_type="application/json")


@router.post("/jobs/{job}/cancel", status_code=202, response_model=JobShape,
             dependencies=[needs(Role.MEMBER)], responses=refusals(401, 403, 404, 409))  # fmt: skip
def cancel_job(services: TheServices, job: str, response: Response) -> JobShape:
    """Cancel a job. One that waits ends at once, one at work within a second; nothing of it is kept."""
    return _shown(services.jobs.cancel(job), response)


def _shown(record: JobRecord, response: Response) -> JobShape:
    if not record.state.ended:
        response.headers["Retry-After"] = RETRY_AFTER_S
    return JobShape.of(record)
