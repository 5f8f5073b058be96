"""One target: what it is, when and how it is to be seen, its odds, what the log says, why not otherwise."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query, Request, Response

from scheduler.answer_words import SETTLED, WORKED_OUT, cautions_of, stands, ways_given
from scheduler.answers import what_of
from scheduler.domain import Standby, Target, TargetOdds, Unplaced, Visit, WhyNot, WhyThen
from scheduler.domain.target import full_name
from scheduler.evening_words import figures_words, sight_words, through_words

from ..auth import TheBearer, needs
from ..deps import Services, TheServices
from ..errors import NoSuch
from ..page import led_to, long_day_words, page
from ..shapes import WhyWish
from ..storage import JobRecord, Role, Work
from .answered import Why, answer_of, points, signed
from .asked import MOST_LISTED, why_asked
from .names import named, near
from .standing import Standing, standing_of

router = APIRouter(include_in_schema=False)

PRIORITIES = ("would be nice", "welcome", "wanted", "wanted much", "the reason for the year")

Name = Annotated[str, Query(max_length=200)]
Version = Annotated[str | None, Query(pattern="^[0-9a-f]{20}$")]


HELPERS: Mapping[str, Any] = {
    "points": points, "signed": signed, "stands": stands, "ways_given": ways_given,
    "cautions_of": cautions_of, "through_words": through_words,
    "sight_words": sight_words, "settled": SETTLED, "worked_out": WORKED_OUT,
}  # fmt: skip
"""How templates tell of answers."""


@router.get("/target/{scenario}", dependencies=[needs(Role.READER)])
def show_target(
    request: Request, services: TheServices, bearer: TheBearer, scenario: str, name: Name = "",
    plan: Version = None,
) -> Response:  # fmt: skip
    """Show a target by its name on the wish-list, from a scenario's newest plan or an older one."""
    standing = standing_of(services, scenario, plan)
    if standing is None:
        return led_to(f"/year/{scenario}")
    target = named(standing.plan.targets, name)
    if target is None:
        return _unknown(request, standing, name, may_plan=bearer.role.covers(Role.PLANNER))
    if target.name != name:
        return led_to(address_of(standing, target.name))
    may_ask = bearer.role.covers(Role.MEMBER)
    told = told_of(standing, target, _answers(services, standing, target.name))
    return page(request, "target.html", twilit=standing.twilit, standing=standing, told=told, may_ask=may_ask,
                **HELPERS)  # fmt: skip


@router.post("/target/{scenario}", dependencies=[needs(Role.MEMBER)])
def ask_why(
    services: TheServices, scenario: str, plan: Annotated[str, Form(pattern="^[0-9a-f]{20}$")],
    name: Annotated[str, Form(max_length=200)], evening: Annotated[date | None, Form()] = None,
) -> Response:  # fmt: skip
    """Ask what another night would cost, or what would give a visit, and lead to the answer."""
    standing = standing_of(services, scenario, plan)
    if standing is None:
        raise NoSuch("plan", plan)
    target = named(standing.plan.targets, name)
    if target is None:
        raise NoSuch("target", name)
    visits = [visit.evening for visit in standing.plan.visits if visit.target == target.name]
    if evening is not None and evening not in visits:
        raise NoSuch("visit", evening.isoformat())
    job = why_asked(services, plan, WhyWish.model_validate({
        "target": target.name, "evening": evening and evening.isoformat(),
    }))  # fmt: skip
    return led_to(f"/answer/{job.id}")


@dataclass(frozen=True, slots=True)
class Answers:
    """What has been asked about a target of a plan.

    Attributes
    ----------
    then : Why visits are on their evenings, by evening.
    lacking : Why visits are missing.
    at_work : Jobs that are still at it, by the evening asked about; None where visits are missing.
    """

    then: Mapping[date, WhyThen]
    lacking: WhyNot | None
    at_work: Mapping[date | None, JobRecord]


@dataclass(frozen=True, slots=True)
class Placed:
    """A visit as it is shown.

    Attributes
    ----------
    clear_odds : Of its night. [0..1]
    announced, past : Whether it was announced, so that it stands; whether its night is over.
    """

    visit: Visit
    clear_odds: float | None
    announced: bool
    past: bool
    answer: WhyThen | None
    job: JobRecord | None


@dataclass(frozen=True, slots=True)
class Told:
    """What a page tells of a target.

    Attributes
    ----------
    facts : What it is and what is wanted of it, as pairs of a word and its value.
    log : What became of it by the log, by evening.
    made : Visits made by the log.
    shows, shows_well : On how many free nights it shows, and at four fifths of its best or better; None where
        the plan does not tell.
    """

    target: Target
    title: str
    what: str
    facts: tuple[tuple[str, str], ...]
    visits: tuple[Placed, ...]
    standbys: tuple[Standby, ...]
    odds: TargetOdds | None
    log: tuple[tuple[date, str], ...]
    made: int
    shows: int | None
    shows_well: int | None
    unplaced: Unplaced | None
    lacking: WhyNot | None
    job: JobRecord | None

    @property
    def done(self) -> bool:
        """Whether every visit wanted has been made, by the log."""
        return self.made >= self.target.visits


def told_of(standing: Standing, target: Target, answers: Answers) -> Told:
    """Return what is told of a target of a plan."""
    plan, name = standing.plan, target.name
    odds = {night.evening: night.clear_odds for night in plan.nights}
    visits = tuple(
        Placed(visit, odds.get(visit.evening), visit.evening in plan.announced,
               visit.evening < standing.today, answers.then.get(visit.evening),
               answers.at_work.get(visit.evening))
        for visit in plan.visits if visit.target == name
    )  # fmt: skip
    standbys = tuple(one for one in plan.standbys if one.target == name and one.evening >= standing.today)
    showing = next((one for one in plan.showing if one.target == name), None)
    return Told(
        target, full_name(name, target.also_known_as), what_of(target), _facts(target, visits), visits,
        standbys, next((one for one in plan.odds.targets if one.target == name), None) if plan.odds else None,
        _log(standing, name), sum(name in one.seen for one in standing.log),
        sum(showing.shown_nights) if showing else None, sum(showing.good_nights) if showing else None,
        next((one for one in plan.unplaced if one.target == name), None),
        answers.lacking, answers.at_work.get(None),
    )  # fmt: skip


def address_of(standing: Standing, name: str) -> str:
    """Return the address of a target's page, of the plan that is shown."""
    asked = {"name": name}
    if standing.record.id != standing.newest.id:
        asked["plan"] = standing.record.id
    return f"/target/{standing.scenario.id}?{urlencode(asked)}"


def _facts(target: Target, visits: Sequence[Placed]) -> tuple[tuple[str, str], ...]:
    """Return what a target is and what is wanted of it; what nobody knows or asks is left out."""
    where = target.constellation or (visits[0].visit.sight.constellation if visits else None)
    wanted = f"{'1 visit' if target.visits == 1 else f'{target.visits} visits'} of {target.minutes} min"
    if target.visits > 1:
        wanted += f", at least {target.spacing_days} days apart"
        if target.longest_spacing_days:
            wanted += f" and at most {target.longest_spacing_days}"
    ends = (("from", target.earliest), ("until", target.latest))
    dates = [f"{word} {long_day_words(on)}" for word, on in ends if on]
    facts = (
        ("Constellation", where if not target.moves or not where else f"{where}, at its first visit"),
        ("Brightness and size", figures_words(target)),
        ("Priority", f"{target.priority} of 5: {PRIORITIES[target.priority - 1]}"),
        ("Wanted", wanted),
        ("Evenings", " ".join(dates)),
        ("Lowest altitude", f"{target.lowest_altitude_deg:g}°"),
        ("With", target.instrument),
        ("For", target.observer),
    )
    return tuple((name, value) for name, value in facts if value)


def _log(standing: Standing, name: str) -> tuple[tuple[date, str], ...]:
    """Return what the log says of a target, by evening."""
    ways = (("seen", "seen"), ("seen_poorly", "seen poorly, still wanted"), ("not_seen", "tried, not seen"))
    return tuple(
        (one.evening, words) for one in standing.log for field, words in ways if name in getattr(one, field)
    )


def _answers(services: Services, standing: Standing, name: str) -> Answers:
    """Return what has been asked about a target of the plan shown; of several answers, the newest."""
    then: dict[date, WhyThen] = {}
    lacking: WhyNot | None = None
    at_work: dict[date | None, JobRecord] = {}
    for job in services.storage.jobs.of_scenario(standing.scenario.id, [Work.WHY], MOST_LISTED):
        if (job.wish.get("plan"), job.wish.get("target")) != (standing.record.id, name):
            continue
        asked = job.wish.get("evening")
        if not job.state.ended and not job.cancelling:
            at_work.setdefault(date.fromisoformat(asked) if asked else None, job)
        answer = answer_of(services.storage, job) if job.answered else None
        if isinstance(answer, Why):
            lacking = lacking or answer.lacking
            if answer.then:
                then.setdefault(answer.then.evening, answer.then)
    return Answers(then, lacking, at_work)


def _unknown(request: Request, standing: Standing, name: str, *, may_plan: bool) -> Response:
    """Show that the plan knows no such target, and which names are near."""
    return page(request, "unknown_target.html", status=404, twilit=standing.twilit, standing=standing,
                name=name, near=near(standing.plan.targets, name), may_plan=may_plan)  # fmt: skip
