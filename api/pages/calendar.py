"""A scenario's calendar: which version it shows, and the addresses members subscribe to."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from scheduler.errors import InvalidValue

from ..auth import needs
from ..deps import Services, TheServices, base_of, is_of_this_machine
from ..errors import NoSuch
from ..feeding import address_of
from ..page import led_to, page
from ..seasons import today_at
from ..storage import CalendarRecord, FeedRecord, NewFeed, NewJob, Role, Shows, Work
from .standing import standing_of

router = APIRouter(include_in_schema=False)

MOST_FEEDS, MOST_WEEKS = 200, 60
OF_THIS, OF_CLUB, OF_SKY = Shows.SCENARIO, Shows.CLUB, Shows.SKY
_PLANNER = [needs(Role.PLANNER)]


@router.get("/calendar/{scenario}", dependencies=_PLANNER)
def show_calendar(request: Request, services: TheServices, scenario: str) -> Response:
    """Show what members' calendars are told of a scenario, and the addresses they subscribe to."""
    standing = standing_of(services, scenario)
    if standing is None:
        return led_to(f"/year/{scenario}")
    calendar, base = _calendar(services, scenario), base_of(services, request)
    shown = services.storage.plans.get(calendar.plan) if calendar else None
    return page(
        request, "calendar.html", twilit=standing.twilit, standing=standing, calendar=calendar, shown=shown,
        most_weeks=MOST_WEEKS, only_here=is_of_this_machine(base),
        feeds=[(one, address_of(base, one)) for one in _feeds(services, standing.scenario.club, scenario)],
    )  # fmt: skip


@router.post("/calendar/{scenario}", dependencies=_PLANNER)
def settle_calendar(
    services: TheServices, scenario: str, announce_weeks: Annotated[str, Form(max_length=9)] = "0",
    follows: Annotated[str, Form(max_length=9)] = "",
) -> Response:  # fmt: skip
    """Decide whether re-plans are published by themselves, and how far ahead nights are announced."""
    weeks = int(announce_weeks) if announce_weeks.isascii() and announce_weeks.isdecimal() else -1
    if not 0 <= weeks <= MOST_WEEKS:
        raise InvalidValue("announce_weeks", announce_weeks, f"a whole number from 0 to {MOST_WEEKS} [weeks]")
    files, _ = services.storage.scenarios.files(scenario)
    today = today_at(files.scenario_toml, services.storage.now())
    services.storage.calendars.settle(scenario, bool(follows), weeks, today, None)
    return led_to(f"/calendar/{scenario}")


@router.post("/calendar/{scenario}/publish", dependencies=_PLANNER)
def publish_newest(services: TheServices, scenario: str) -> Response:
    """Let the calendar show the newest plan, and lead to the work."""
    newest = services.storage.plans.newest(scenario)
    if newest is None:
        raise NoSuch("plan", scenario)
    job = services.jobs.start(NewJob(scenario, Work.PUBLISH, {"plan": newest.id}))
    return led_to(f"/progress/{job.id}")


@router.post("/calendar/{scenario}/address", dependencies=_PLANNER)
def make_address(
    services: TheServices, scenario: str, shows: Annotated[str, Form(max_length=9)] = OF_THIS.value
) -> Response:
    """Make an address to subscribe to: of this scenario's nights, the whole club's, or the sky's dates."""
    club = services.storage.scenarios.get(scenario).club
    wanted = next((one for one in (OF_THIS, OF_CLUB, OF_SKY) if one.value == shows), OF_THIS)
    services.storage.feeds.add(club, NewFeed(wanted, None if wanted is OF_CLUB else scenario))
    return led_to(f"/calendar/{scenario}")


@router.post("/calendar/{scenario}/revoke", dependencies=_PLANNER)
def revoke_address(
    services: TheServices, scenario: str, feed: Annotated[str, Form(max_length=40)]
) -> Response:
    """Revoke an address: it opens nothing any more."""
    club = services.storage.scenarios.get(scenario).club
    if feed not in {one.id for one in _feeds(services, club, scenario)}:
        raise NoSuch("feed", feed)
    services.storage.feeds.delete(feed)
    return led_to(f"/calendar/{scenario}")


def _calendar(services: Services, scenario: str) -> CalendarRecord | None:
    try:
        return services.storage.calendars.of(scenario)
    except NoSuch:
        return None


def _feeds(services: Services, club: str, scenario: str) -> list[FeedRecord]:
    """Return the feeds that show a scenario's nights or sky, the whole club's among them."""
    found = services.storage.feeds.page(club, None, MOST_FEEDS).items
    return [one for one in found if one.shows is OF_CLUB or one.scenario == scenario]
