"""One night: what to look at in which order, where to point, through what, and what else the night needs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fastapi import APIRouter, Request, Response
from markupsafe import Markup

import scheduler
from scheduler.domain import FreeNight, Outcome, Plan, Span, Standby, Target, Visit
from scheduler.domain.target import full_name
from scheduler.evening_words import (
    CARE,
    DEW,
    TO_TAKE,
    changed_clock_words,
    company_words,
    drive_words,
    expect_words,
    guests_heading,
    guests_words,
    in_hand_words,
    night_words,
    out_words,
    programme_of,
    sentence,
    sky_words,
    standbys_heading,
    through_words,
    what_of,
    why_words,
)
from scheduler.notices import TAKE_CARE
from scheduler.practice import Briefing, Reminder, briefing_of

from ..auth import TheBearer, needs
from ..deps import TheServices
from ..errors import NoSuch
from ..headers import wants_page
from ..page import led_to, page
from ..storage import Role
from .silent import NOT_TOLD, is_counted_as_past, is_silent
from .standing import Standing, plan_of, standing_of

router = APIRouter(include_in_schema=False)

SHORT_LINES = 22
"""Looks take three lines of a printed sheet, standbys two; so many leave room for larger letters."""


@router.get("/night/{scenario}/{evening}", dependencies=[needs(Role.READER)])
def show_night(
    request: Request, services: TheServices, bearer: TheBearer, scenario: str, evening: date
) -> Response:
    """Show a free night, or one that is over; printed it is one sheet for most nights."""
    standing = standing_of(services, scenario)
    if standing is None:
        return led_to(f"/year/{scenario}")
    plan = plan_of(services, standing, evening)
    outcome = next((one for one in standing.log if one.evening == evening), None)
    if plan is None and outcome is None:
        return _not_free(request, bearer, standing, evening)
    plan, now = plan or standing.plan, services.storage.now()
    past = evening < standing.today and not is_silent(standing, evening)
    if outcome is not None and is_counted_as_past(outcome):
        outcome = None
    begun = outcome is not None or has_begun(standing, evening, now)
    return page(
        request, "night.html", twilit=standing.twilit, standing=standing, evening=evening, outcome=outcome,
        sheet=sheet_of(plan, evening, outcome, now), sky=Markup(scheduler.sky_strip(plan, evening)),
        zone=plan.site.local, zone_name=plan.site.zone, headings=(TO_TAKE, DEW, CARE),
        beside=_beside(standing, evening), untold=NOT_TOLD if past and outcome is None else "",
        may_log=begun and bearer.role.covers(Role.MEMBER),
    )  # fmt: skip


def _not_free(request: Request, bearer: TheBearer, standing: Standing, evening: date) -> Response:
    """Tell readers that an evening is not free; programs, that there is no such night."""
    if not wants_page(request.scope["headers"]):
        raise NoSuch("night", evening.isoformat())
    come = evening in standing.plan.season.evenings and evening <= standing.today
    return page(
        request, "not_free.html", status=404, twilit=standing.twilit, standing=standing, evening=evening,
        may_log=come and bearer.role.covers(Role.MEMBER),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Look:
    """A target on the sheet: a visit at its time, or a standby in its window.

    Attributes
    ----------
    number : Its place, from 1.
    name, called, what : As the plan names it; by all its names; what it is.
    time : From when to when.
    best : Of a standby, when it shows best.
    where, way : Direction and height; how to find it from there.
    through, because : What to look through, and why.
    expect, why, beside : What to expect; what else is true of the evening; how it compares with others.
    went : By the log: "seen", "seen poorly", "not seen", or nothing.
    state : "on" while it is on, "past" afterwards, "" before; of a standby always "".
    """

    number: int
    name: str
    called: str
    what: str
    time: Span
    best: datetime | None
    where: str
    way: str
    through: str
    because: str
    expect: str
    why: str
    beside: str
    went: str
    state: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """A night as its page and its printed sheet show it.

    Attributes
    ----------
    sort, site : What sort of night it is, and where.
    facts : When one is out, who comes along, when to leave home and when one is back, how clocks change.
    moon, dark : The Moon; when it is darkest, and the odds of a clear sky.
    note : What a night without a programme is good for.
    programme : Looks and reminders by time.
    looks : Those of the programme alone.
    """

    sort: str
    site: str
    facts: tuple[str, ...]
    moon: str
    dark: str
    note: str
    programme: tuple[Look | Reminder, ...]
    looks: tuple[Look, ...]
    standbys_heading: str
    standbys: tuple[Look, ...]
    guests_heading: str
    guests: str
    kit: tuple[str, ...]
    dew: str
    cautions: tuple[str, ...]

    @property
    def short(self) -> bool:
        """Whether its sheet has room for larger letters."""
        return 3 * len(self.looks) + 2 * len(self.standbys) <= SHORT_LINES

    @property
    def on(self) -> Look | None:
        """The look that is on now."""
        return next((one for one in self.looks if one.state == "on"), None)

    @property
    def following(self) -> Look | None:
        """The look that comes next."""
        return next((one for one in self.looks if not one.state), None)


def sheet_of(plan: Plan, evening: date, outcome: Outcome | None, now: datetime) -> Sheet | None:
    """Return a night's sheet by a plan; None where the evening is not free in it.

    Parameters
    ----------
    outcome : How it went, where the log tells.
    now : Says what is on.
    """
    free = next((one for one in plan.nights if one.evening == evening), None)
    if free is None:
        return None
    visits = sorted((v for v in plan.visits if v.evening == evening), key=lambda one: one.order)
    standbys = sorted((s for s in plan.standbys if s.evening == evening), key=lambda one: one.order)
    briefing = briefing_of(plan, evening) if visits or standbys else None
    targets = {target.name: target for target in plan.targets}
    went = _went(outcome)
    shown = {visit.order: _look(visit, targets[visit.target], went, now) for visit in visits}
    rows = programme_of(plan, evening, briefing) if briefing else ()
    moon, dark = sky_words(plan, free)
    return Sheet(
        sort=night_words(free, planned=bool(visits)), site=plan.site_of(evening).name,
        facts=tuple(_facts(plan, free, briefing)), moon=sentence(moon), dark=sentence(dark),
        note="" if visits else in_hand_words(free),
        programme=tuple(one if isinstance(one, Reminder) else shown[one.order] for one in rows),
        looks=tuple(shown.values()), standbys_heading=standbys_heading(planned=bool(visits)),
        standbys=tuple(_look(one, targets[one.target], went, now) for one in standbys),
        guests_heading=guests_heading(free), guests=guests_words(briefing) if briefing else "",
        kit=briefing.kit if briefing else (), dew=briefing.dew if briefing else "",
        cautions=briefing.cautions if briefing else (TAKE_CARE,),
    )  # fmt: skip


def _facts(plan: Plan, free: FreeNight, briefing: Briefing | None) -> Iterator[str]:
    yield sentence(out_words(plan, briefing.outing if briefing else free.free))
    if company := company_words(plan, free):
        yield sentence(company)
    if briefing and (drives := drive_words(plan, briefing)):
        yield sentence(drives)
    if change := changed_clock_words(plan, free):
        yield change


def _look(one: Visit | Standby, target: Target, went: dict[str, str], now: datetime) -> Look:
    visited = isinstance(one, Visit)
    time = one.time if isinstance(one, Visit) else one.window
    why, beside = why_words(one.why)
    where, _, way = one.pointing.words.partition(". ")
    return Look(
        one.order, target.name, full_name(target.name, target.also_known_as), what_of(target), time,
        one.best if isinstance(one, Standby) else None, sentence(where), way,
        sentence(through_words(one.view)), sentence(one.view.why), sentence(expect_words(target, one.sight)),
        sentence(why), sentence(beside), went.get(target.name, ""), _state(time, now) if visited else "",
    )  # fmt: skip


def _state(time: Span, now: datetime) -> str:
    if now >= time.end:
        return "past"
    return "on" if now >= time.start else ""


def _went(outcome: Outcome | None) -> dict[str, str]:
    """Return how each target of a night went, by the log."""
    if outcome is None:
        return {}
    told = ("seen", outcome.seen), ("seen poorly", outcome.seen_poorly), ("not seen", outcome.not_seen)
    return {name: words for words, names in told for name in names}


def _beside(standing: Standing, evening: date) -> tuple[date | None, date | None]:
    """Return the planned or logged nights before and after an evening."""
    known: Sequence[date] = sorted({*standing.planned, *(one.evening for one in standing.log)})
    before = [one for one in known if one < evening]
    return (before[-1] if before else None), next((one for one in known if one > evening), None)


def has_begun(standing: Standing, evening: date, now: datetime) -> bool:
    """Tell whether a night may be logged: from its dusk on."""
    if evening != standing.today:
        return evening < standing.today
    twilit = standing.twilit
    return not twilit or now >= twilit[0].start - timedelta(minutes=30)
