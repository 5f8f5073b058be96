"""How far a job has come, and where its end leads to."""

from __future__ import annotations

from contextlib import suppress
from types import MappingProxyType

from fastapi import APIRouter, Request, Response

from ..auth import TheBearer, needs
from ..deps import TheServices
from ..errors import AlreadyEnded
from ..kinds import all_kinds
from ..page import led_to, page
from ..storage import JobRecord, JobState, Role, Work
from .asked import QUESTIONS

router = APIRouter(include_in_schema=False)

WORDS = MappingProxyType({
    Work.PLAN: "Planning the year",
    Work.REPLAN: "Planning the rest of the year anew",
    Work.ODDS: "Working out the odds",
    Work.PUBLISH: "Writing the calendar",
    Work.PUSH: "Writing into the other calendar",
})  # fmt: skip
PLANS = Work.PLAN, Work.REPLAN
LOOK_AGAIN_S = 10
"""How often a browser without scripts loads the page again; who listens to it is not hurried. [s]"""


@router.get("/progress/{job}", dependencies=[needs(Role.READER)])
def show_work(request: Request, services: TheServices, bearer: TheBearer, job: str) -> Response:
    """Show how far a job has come; lead on once it is done."""
    record = services.storage.jobs.get(job)
    if record.work in QUESTIONS:  # their answers have a page, which tells how far it is as well
        return led_to(f"/answer/{job}")
    if record.state is JobState.DONE:
        return led_to(_end_of(record))
    scenario = services.storage.scenarios.get(record.scenario)
    return page(
        request, "work.html", job=record, scenario=scenario, words=WORDS[record.work], again_s=LOOK_AGAIN_S,
        advice=advice_of(record), plans=record.work in PLANS,
        begun=scenario.club if record.work is Work.PLAN else None,
        may_cancel=bearer.role.covers(Role.MEMBER), may_plan=bearer.role.covers(Role.PLANNER),
    )  # fmt: skip


@router.post("/progress/{job}/cancel", dependencies=[needs(Role.MEMBER)])
def cancel_work(services: TheServices, job: str) -> Response:
    """Ask a job to stop, and show what becomes of it; one that has ended leads on as ever."""
    with suppress(AlreadyEnded):
        services.jobs.cancel(job)
    return led_to(f"/progress/{job}")


def _end_of(job: JobRecord) -> str:
    """Return the page of what a job was done for: what a re-plan changed, the calendar, or the year."""
    if job.work is Work.REPLAN and job.plan is not None:
        return f"/changes/{job.plan}"
    return f"/{'calendar' if job.work is Work.PUBLISH else 'year'}/{job.scenario}"


def advice_of(job: JobRecord) -> str:
    """Return what to do about the problem a job ended with."""
    problem = job.problem or {}
    return next((one.advice_on(problem) for one in all_kinds() if one.type == problem.get("type")), "")
