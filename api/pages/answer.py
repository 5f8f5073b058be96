"""An answer: how far its work has come, then what was found out; what went wrong, and the remedy."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from typing import Any

from fastapi import APIRouter, Request, Response

from scheduler.answer_words import cautions_of, sure_changes
from scheduler.domain import SeasonPrices, WhatIf
from scheduler.domain.target import full_name

from ..auth import TheBearer, needs
from ..deps import Services, TheServices
from ..errors import AlreadyEnded
from ..page import led_to, page
from ..storage import JobRecord, Role, Work
from .answered import Answer, Why, answer_of, difference_words, is_sure, nights_words
from .ask import prices_shown
from .asked import QUESTIONS, asked_again, question_words, what_if_asked, wish_of
from .standing import standing_of
from .target import HELPERS
from .what_if_form import MOST_YEARS
from .work import advice_of

router = APIRouter(include_in_schema=False)

SURER = 4
"""So many times the years halve the standard error."""
TAKES: Mapping[Work, str] = {
    Work.WHY: "It takes some seconds to a minute.",
    Work.PRICES: "It takes some seconds to a minute.",
    Work.WHAT_IF: "It takes some minutes: both years are planned and lived through.",
}


@router.get("/answer/{job}", dependencies=[needs(Role.READER)])
def show_answer(request: Request, services: TheServices, bearer: TheBearer, job: str) -> Response:
    """Show what a job was asked, how far it has come, and its answer once it is there."""
    record = services.storage.jobs.get(job)
    if record.work not in QUESTIONS:
        return led_to(f"/progress/{job}")
    scenario = services.storage.scenarios.get(record.scenario)
    standing = standing_of(services, scenario.id)
    answer = answer_of(services.storage, record) if record.answered else None
    lines = len(services.storage.outcomes.lines(scenario.id))
    return page(
        request, "answer.html", twilit=standing.twilit if standing else (), job=record, scenario=scenario,
        question=question_words(record), may_ask=bearer.role.covers(Role.MEMBER), takes=TAKES[record.work],
        behind=(record.revision, record.outcomes) != (scenario.revision, lines), advice=advice_of(record),
        problem={"title": "It failed", "detail": "", "errors": []} | dict(record.problem or {}),
        sort=type(answer).__name__, **_shown(services, record, answer), **HELPERS,
    )  # fmt: skip


@router.post("/answer/{job}/cancel", dependencies=[needs(Role.MEMBER)])
def cancel(services: TheServices, job: str) -> Response:
    """Stop working on a question."""
    record = services.storage.jobs.get(job)
    if record.work not in QUESTIONS:
        return led_to(f"/progress/{job}")
    with suppress(AlreadyEnded):  # the answer came first, and is shown
        services.jobs.cancel(job)
    return led_to(f"/answer/{job}")


@router.post("/answer/{job}/again", dependencies=[needs(Role.MEMBER)])
def ask_again(services: TheServices, job: str) -> Response:
    """Ask the same about the scenario as it stands now, and lead to the answer."""
    record = services.storage.jobs.get(job)
    if record.work not in QUESTIONS:
        return led_to(f"/progress/{job}")
    return led_to(f"/answer/{asked_again(services, record).id}")


@router.post("/answer/{job}/surer", dependencies=[needs(Role.MEMBER)])
def ask_surer(services: TheServices, job: str) -> Response:
    """Ask a what-if again over more years, which halves the error, and lead to the answer."""
    record = services.storage.jobs.get(job)
    if record.work is not Work.WHAT_IF:
        return led_to(f"/answer/{job}")
    wish = wish_of(record).model_copy(update={"years": _surer(services, record)})
    return led_to(f"/answer/{what_if_asked(services, record.scenario, wish).id}")


def _shown(services: Services, job: JobRecord, answer: Answer | None) -> dict[str, Any]:
    """Return what the template of an answer shows."""
    if isinstance(answer, SeasonPrices):
        return {"prices": prices_shown(answer)}
    if isinstance(answer, WhatIf):
        gain, lose = sure_changes(answer)
        return {
            "answer": answer, "difference": difference_words(answer), "nights": nights_words(answer),
            "gain": gain, "lose": lose, "cautions": cautions_of(answer.change), "sure": is_sure(answer),
            "surer_years": _surer(services, job),
        }  # fmt: skip
    if isinstance(answer, Why):
        plan = services.shelf.plan(str(job.wish["plan"]))
        target = next((one for one in plan.targets if one.name == job.wish["target"]), None)
        return {
            "answer": answer, "zone": plan.site.local, "site": plan.site,
            "title": full_name(target.name, target.also_known_as) if target else job.wish["target"],
        }  # fmt: skip
    return {}


def _surer(services: Services, job: JobRecord) -> int:
    return min(SURER * int(job.wish["years"]), services.settings.most_years, MOST_YEARS)
