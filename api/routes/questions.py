"""Questions about plans and scenarios, answered by working out again: each is a job with an answer."""

from __future__ import annotations

from fastapi import APIRouter, Response

from ..auth import needs
from ..deps import IdempotencyKey, JsonOnly, TheServices
from ..shapes import JobShape, OddsWish, PricesWish, WhatIfWish, WhyWish
from ..starting import (
    STARTED,
    granted,
    prices_started,
    shown,
    started,
    what_if_started,
    why_started,
)
from ..storage import NewJob, Role, Work

router = APIRouter(tags=["questions"])

_MEMBER = needs(Role.MEMBER)


@router.post("/plans/{plan}/odds", status_code=202, response_model=JobShape,
             dependencies=[_MEMBER, JsonOnly], responses=STARTED)  # fmt: skip
def ask_odds(
    services: TheServices, plan: str, response: Response, wish: OddsWish | None = None,
    idempotency_key: IdempotencyKey = None,
) -> JobShape:  # fmt: skip
    """Ask for a plan's completion odds from more weather years, or others. The plan itself never changes."""
    asked = wish or OddsWish()
    scenario = services.storage.plans.get(plan).scenario
    told = {"plan": plan, "seed": asked.seed, **granted(services, years=asked.years)}
    return started(services, NewJob(scenario, Work.ODDS, told, idempotency_key), response)


@router.post("/plans/{plan}/reasons", status_code=202, response_model=JobShape,
             dependencies=[_MEMBER, JsonOnly], responses=STARTED)  # fmt: skip
def ask_why(
    services: TheServices, plan: str, wish: WhyWish, response: Response,
    idempotency_key: IdempotencyKey = None,
) -> JobShape:  # fmt: skip
    """Ask why a target is on its night, or on none, and what another night or a remedy would cost."""
    return shown(why_started(services, plan, wish, idempotency_key), response)


@router.post("/scenarios/{scenario}/prices", status_code=202, response_model=JobShape,
             dependencies=[_MEMBER, JsonOnly], responses=STARTED)  # fmt: skip
def ask_prices(
    services: TheServices, scenario: str, response: Response, wish: PricesWish | None = None,
    idempotency_key: IdempotencyKey = None,
) -> JobShape:  # fmt: skip
    """Ask where one more free night, clear hour or night out would be worth most, month by month."""
    return shown(prices_started(services, scenario, idempotency_key), response)


@router.post("/scenarios/{scenario}/what-ifs", status_code=202, response_model=JobShape,
             dependencies=[_MEMBER, JsonOnly], responses=STARTED)  # fmt: skip
def ask_what_if(
    services: TheServices, scenario: str, wish: WhatIfWish, response: Response,
    idempotency_key: IdempotencyKey = None,
) -> JobShape:  # fmt: skip
    """Ask what a change to the scenario would do to the targets finished, over the same weather years."""
    return shown(what_if_started(services, scenario, wish, idempotency_key), response)
