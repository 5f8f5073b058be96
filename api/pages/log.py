"""Logging a night: on a phone, with one hand, in red, without a network; then the plan is made anew."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request, Response
from fastapi.responses import JSONResponse

from scheduler.domain import Standby, Visit, Went
from scheduler.errors import DuskwrightError, InvalidValue, ScenarioFaults

from ..auth import Bearer, TheBearer, needs
from ..deps import Services, TheServices
from ..errors import KeyReused, LoggedMeanwhile, NoSuch
from ..headers import wants_page
from ..log_csv import outcomes_csv
from ..logged import added_to_log
from ..page import led_to, page
from ..shapes import PlanWish
from ..starting import plan_started
from ..storage import NEWEST, OutcomeRecord, Role, Sent
from .draft import Draft, draft_of, draft_sent, line_of, words_of
from .silent import count_as_past, silent_of
from .standing import Standing, plan_of, standing_of

router = APIRouter(include_in_schema=False)

MOST_FOUND = 12
MOST_FIELDS = 5000
LABELS = {
    "evening": "Evening", "outcome": "How the night was", "usable_min": "Usable minutes",
    "sky_brightness": "Sky brightness", "notes": "Notes", "seen": "Seen", "seen_poorly": "Poorly",
    "not_seen": "Not seen",
}  # fmt: skip
"""What the form calls the columns of the log."""


async def _sent_fields(request: Request) -> list[tuple[str, str]]:
    form = await request.form(max_fields=MOST_FIELDS, max_files=0)
    return [(name, value) for name, value in form.multi_items() if isinstance(value, str)]


SentFields = Annotated[list[tuple[str, str]], Depends(_sent_fields)]


@dataclass(frozen=True, slots=True)
class LogNight:
    """A night to be logged.

    Attributes
    ----------
    programme, standbys : Of the plan as it stood on that evening.
    line : The line of the log that stands for it; None where there is none.
    opens : When there is something to log: at the noon of its evening, local.
    """

    standing: Standing
    evening: date
    programme: tuple[Visit, ...]
    standbys: tuple[Standby, ...]
    line: OutcomeRecord | None
    opens: datetime

    @property
    def early(self) -> bool:
        """Whether the night is still to come."""
        return self.evening > self.standing.today

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the programme, in its order, each once."""
        return tuple(dict.fromkeys(visit.target for visit in self.programme))


@router.get("/log/{scenario}/{evening}", dependencies=[needs(Role.MEMBER)])
def show_log(
    request: Request, services: TheServices, bearer: TheBearer, scenario: str, evening: str,
    kept: Annotated[bool, Query()] = False, unplanned: Annotated[bool, Query()] = False,
) -> Response:  # fmt: skip
    """Show the form of a night, filled in with what the log has of it."""
    night = _night(services, scenario, evening)
    if night is None:
        return led_to(f"/year/{scenario}")
    return _form(request, bearer, night, draft_of(night.line), kept=kept, unplanned=unplanned)


@router.post("/log/{scenario}/{evening}", dependencies=[needs(Role.MEMBER)])
def save_log(
    request: Request, services: TheServices, bearer: TheBearer, scenario: str, evening: str,
    sent: SentFields,
) -> Response:  # fmt: skip
    """Keep a line of the log, once however often it comes; then, where it is wanted, plan anew.

    Browsers that send a form are led on; the pages' own queue is answered in JSON.
    """
    night = _night(services, scenario, evening)
    if night is None:
        raise NoSuch("night", evening)
    draft, told = draft_sent(sent), dict(sent)
    by_form = wants_page(request.scope["headers"])
    if told.get("then") == "find":
        return _form(request, bearer, night, draft, find=told.get("find", ""))
    try:
        line = _added(services, night, draft)
    except (InvalidValue, ScenarioFaults) as wrong:
        if not by_form:
            raise
        return _form(request, bearer, night, draft, status=422, faults=_faults_in(wrong))
    except (LoggedMeanwhile, KeyReused):
        if not by_form:
            raise
        now = _night(services, scenario, evening) or night
        over = now.line.line if now.line else 0
        return _form(request, bearer, now, draft.with_fresh_key(over), status=409, meanwhile=True)
    onward = f"/log/{scenario}/{night.evening}?kept=1"
    if told.get("then") == "plan" and bearer.role.covers(Role.PLANNER):
        _count_since(services, scenario, told.get("since", ""))
        onward = _planned_on(services, scenario, line) or f"{onward}&unplanned=1"
    return led_to(onward) if by_form else JSONResponse({"line": line.line, "next": onward}, 201)


def _added(services: Services, night: LogNight, draft: Draft) -> OutcomeRecord:
    if night.early:
        expected = "an evening that has come: there is nothing to log yet"
        raise InvalidValue(LABELS["evening"], night.evening.isoformat(), expected)
    try:
        line = line_of(draft, night.evening, night.names)
    except InvalidValue as wrong:
        raise InvalidValue(LABELS.get(wrong.field, wrong.field), wrong.value, wrong.expected) from None
    scenario = night.standing.scenario.id
    (kept,) = added_to_log(services, scenario, outcomes_csv([line]), Sent(draft.key, draft.over))
    return kept


def _count_since(services: Services, scenario: str, since: str) -> None:
    """Count silent nights since the one that was logged as past, up to the last the form named.

    The line is kept by then: nothing that goes wrong here may look as if it were not.
    """
    with suppress(DuskwrightError, ValueError):
        count_as_past(services, scenario, date.fromisoformat(since))


def _planned_on(services: Services, scenario: str, line: OutcomeRecord) -> str | None:
    """Start the re-plan of a line, once however often the line comes; None where it cannot be now.

    The line is kept by then, so that nothing that goes wrong here may look as if it were not.
    """
    key = f"log-{scenario}-{line.line}"
    try:
        return f"/progress/{plan_started(services, scenario, PlanWish(after=NEWEST), key).id}"
    except DuskwrightError:
        return None


def _faults_in(wrong: DuskwrightError) -> list[tuple[str, str]]:
    """Return which fields are wrong, and how."""
    if isinstance(wrong, ScenarioFaults):
        return [(fault.column or "", f"{fault.read}: expected {fault.expected}") for fault in wrong.faults]
    assert isinstance(wrong, InvalidValue)
    return [(wrong.field, str(wrong))]


def _night(services: Services, scenario: str, evening: str) -> LogNight | None:
    """Return the night of an evening; None where the scenario has no plan yet.

    Raises
    ------
    NoSuch
        That is no evening of the season.
    """
    standing = standing_of(services, scenario)
    if standing is None:
        return None
    season = standing.plan.season
    try:
        day = date.fromisoformat(evening)
    except ValueError:
        raise NoSuch("night", evening) from None
    if evening != day.isoformat() or day not in season.evenings:
        raise NoSuch("night", evening)
    opens = datetime.combine(day, time(12), standing.plan.site.local)
    plan = plan_of(services, standing, day)
    visits, standbys = (plan.visits, plan.standbys) if plan else ((), ())
    lines = [one for one in services.storage.outcomes.lines(scenario) if one.evening == day]
    return LogNight(
        standing, day,
        tuple(sorted((one for one in visits if one.evening == day), key=lambda one: one.order)),
        tuple(sorted((one for one in standbys if one.evening == day), key=lambda one: one.order)),
        lines[-1] if lines else None, opens,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Row:
    """A target on the form: its name, its time, and how it went."""

    name: str
    at: datetime | None
    mark: str


def _form(
    request: Request, bearer: Bearer, night: LogNight, draft: Draft, *, status: int = 200,
    find: str | None = None, **shown: Any,
) -> Response:  # fmt: skip
    standing, plan = night.standing, night.standing.plan

    def rows(entries: Sequence[tuple[str, datetime | None]]) -> list[_Row]:
        return [_Row(name, at, draft.marks.get(name, "")) for name, at in entries]

    programme = {visit.target: visit.time.start for visit in reversed(night.programme)}
    standbys = {one.target: one.best for one in night.standbys if one.target not in programme}
    others = [name for name in draft.marks if name not in programme and name not in standbys]
    rest = [one.name for one in plan.targets if one.name not in {*programme, *standbys, *others}]
    found = [] if not find else _found(find, rest)
    return page(
        request, "log.html", status=status, twilit=standing.twilit,
        scenario=standing.scenario, evening=night.evening, night=night, draft=draft, went=list(Went),
        programme=rows([(name, programme[name]) for name in night.names]), standbys=rows([*standbys.items()]),
        others=rows([(name, None) for name in (*others, *found)]), zone=plan.site.local,
        zone_name=plan.site.zone, rest=[name for name in rest if name not in found],
        since=[one for one in silent_of(standing) if one > night.evening],
        find=find, found=found,
        told=words_of(night.line) if night.line else "",
        may_plan=bearer.role.covers(Role.PLANNER),
        **{"kept": False, "unplanned": False, "meanwhile": False, "faults": [], **shown},
    )  # fmt: skip


def _found(find: str, names: Sequence[str]) -> list[str]:
    """Return the names that hold every word of a search, at most `MOST_FOUND`.

    Examples
    --------
    >>> _found("ngc 70", ["M 42", "NGC 7009", "NGC 253"])
    ['NGC 7009']
    """
    words = find.casefold().split()
    return [name for name in names if all(word in name.casefold() for word in words)][:MOST_FOUND]
