"""Asking the plan: what one more night is worth, what would be if, and what was asked before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response

from scheduler.domain import Scenario, SeasonPrices
from scheduler.domain.amendment import WEEKDAYS
from scheduler.errors import InvalidValue

from ..amending import WEEKDAYS as SHORT
from ..amending import amendment_of
from ..auth import Bearer, TheBearer, needs
from ..deps import Services, TheServices
from ..kept import read_kept
from ..page import led_to, page
from ..shapes import WhatIfWish
from ..storage import JobRecord, Role, Work
from .answered import answer_of, best_month, months_of, points
from .asked import Asked, asked_of, prices_asked, what_if_asked
from .standing import standing_of
from .what_if_form import SKIES_SHOWN, AsItIs, Filled, offered, read_form

router = APIRouter(include_in_schema=False)


@router.get("/ask/{scenario}", dependencies=[needs(Role.READER)])
def show_asking(
    request: Request, services: TheServices, bearer: TheBearer, scenario: str,
    target: Annotated[str, Query(max_length=200)] = "",
) -> Response:  # fmt: skip
    """Show what can be asked of a scenario and what has been; `target` is filled into the form."""
    return _asking(request, services, bearer, scenario, Filled(target=target), {})


@router.post("/ask/{scenario}/prices", dependencies=[needs(Role.MEMBER)])
def ask_prices(services: TheServices, scenario: str) -> Response:
    """Ask what one more night is worth and lead to the answer."""
    return led_to(f"/answer/{prices_asked(services, scenario).id}")


@router.post("/ask/{scenario}/what-if", dependencies=[needs(Role.MEMBER)])
def ask_what_if(
    request: Request, services: TheServices, bearer: TheBearer, scenario: str,
    filled: Annotated[Filled, Form()],
) -> Response:  # fmt: skip
    """Ask what a change would do and lead to the answer; show the form again where it cannot be asked."""
    now = read_kept(services, scenario)
    wish, faults = read_form(filled, now)
    if wish is not None:
        faults = _unmade(wish, now)
    if wish is None or faults:
        return _asking(request, services, bearer, scenario, filled, faults)
    return led_to(f"/answer/{what_if_asked(services, scenario, wish).id}")


def _unmade(wish: WhatIfWish, now: Scenario) -> dict[str, str]:
    """Return why a change cannot be made to a scenario as it is; nothing where it can."""
    try:
        changed = amendment_of(wish.model_dump(mode="json")).applied(now)
    except InvalidValue as fault:
        return {fault.field if fault.field in Filled.model_fields else "": f"Expected {fault.expected}."}
    return {} if changed != now else {"": "It is so already: this would change nothing."}


def _asking(
    request: Request, services: Services, bearer: Bearer, scenario: str, filled: Filled,
    faults: Mapping[str, str],
) -> Response:  # fmt: skip
    standing, asked = standing_of(services, scenario), asked_of(services, scenario)
    as_planned = standing is not None and not standing.behind
    now: AsItIs = standing.plan if standing and as_planned else read_kept(services, scenario)
    priced = next((one for one in asked if one.job.work is Work.PRICES and one.job.answered), None)
    prices = answer_of(services.storage, priced.job) if priced else None
    return page(
        request, "ask.html", status=422 if faults else 200, twilit=standing.twilit if standing else (),
        scenario=services.storage.scenarios.get(scenario), may_ask=bearer.role.covers(Role.MEMBER),
        asked=asked, zone=now.site.local, priced=priced, at_work=_pricing(asked, priced),
        prices=prices_shown(prices) if isinstance(prices, SeasonPrices) else None,
        offered=offered(now), filled=filled, faults=faults,
        weekdays=zip(SHORT, WEEKDAYS, strict=True), skies=SKIES_SHOWN, points=points,
    )  # fmt: skip


def prices_shown(prices: SeasonPrices) -> Mapping[str, object]:
    """Return what the template of prices shows."""
    return {"months": months_of(prices), "best": best_month(prices), "night_a_week": prices.night_a_week}


def _pricing(asked: Sequence[Asked], newest: Asked | None) -> JobRecord | None:
    """Return the job that is pricing the nights anew, if one is."""
    jobs = (one.job for one in asked if one.job.work is Work.PRICES and not one.job.state.ended)
    return next((job for job in jobs if newest is None or job.number > newest.job.number), None)
